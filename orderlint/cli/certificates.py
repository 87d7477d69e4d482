"""Writes certificates of proofs, and checks them again without a solver.

Files and exit status. Never a proof itself.
"""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any

from orderlint.api.policies import policy_digest
from orderlint.api.sources import Content, set_in
from orderlint.cli import inputs
from orderlint.cli.exit_status import BELOW, FINDINGS
from orderlint.cli.output_files import write
from orderlint.finding import Refused
from orderlint.order_set.read import read_order_set
from orderlint.proof import certificates
from orderlint.report.words import name_of
from orderlint.rulebook.rules_folder import digest

if TYPE_CHECKING:
    from orderlint import Result, SitePolicy
    from orderlint.proof.prover import Proof
    from orderlint.set_review import Reviewed

LARGEST = 16 * 1024 * 1024
"""Bytes of a certificate that is read."""
MOST_PARTS = 750_000
"""Lists, objects and what stands in them: as many as a certificate of LARGEST bytes has."""


def _digests(of_set: Content, policy: SitePolicy | None) -> dict[str, str]:
    """The SHA-256 of what the proofs depend on, as it was read: set, policy and rulebook."""
    return {"set": of_set.digest, "policy": policy_digest(policy), "rulebook": digest()}


def certificate_of(result: Result[Reviewed], policy: SitePolicy | None) -> str:
    """The certificate of a reviewed set, ending in a line feed.

    It is bound to the SHA-256 of the bytes that were reviewed, never of a file read again.
    """

    reviewed, digests = result.found, _digests(result.contents[0], policy)
    made = certificates.certificate(reviewed.order_set, reviewed.rulebook, reviewed.proofs, digests)
    return json.dumps(made, indent=1) + "\n"


def recheck_set(certificate: str, file: str, policy: str | None, concept_map: str | None) -> int:
    """The exit status: whether the proofs of a set hold, by the evaluator alone. Raises Refused."""
    given = _given(certificate)
    held = _held(given, certificate, file, policy, concept_map)
    results = Counter(item.result.value for item in held)
    unasked = results["at-signing"] + results["inactive"]
    proved, asked = results["proved"] + results["vacuous"], results.total() - unasked
    partly = sum(1 for p in held if p.at_signing and p.result.value in {"proved", "vacuous"})
    said = f"{proved} of {asked} rules are proved of every order from {inputs.shown_name(file)}"
    rest = f", {partly} of them in part: the rest of those is judged at signing" if partly else ""
    said = f"{said}{rest}."
    others = [f"{results[r]} {r}" for r in ("broken", "undetermined", "not-proved") if results[r]]
    if others:
        said += f" Of the rest the certificate vouches for nothing: {', '.join(others)}."
    if texts := given["not_checked"]:
        names = ", ".join(dict.fromkeys(name_of(item["path"]) for item in texts))
        said += f" Texts of the set that no proof covers: {names}."
    write(f"{inputs.shown_name(certificate)}: the certificate holds: {said}\n", None, None)
    return BELOW if proved == asked else FINDINGS


def _held(
    given: dict[str, Any], certificate: str, file: str, policy: str | None, concept_map: str | None
) -> tuple[Proof, ...]:
    """What became of each rule. Raises Refused where the certificate does not vouch for it."""
    site = inputs.read_site_policy(policy)
    rulebook = inputs.load_rulebook("order-set", site)
    content = inputs.read_content(file)
    order_set = read_order_set(set_in(content, inputs.read_codes(concept_map)), rulebook.derived)
    digests = _digests(content, site)
    try:
        return certificates.recheck(given, order_set, rulebook, digests)
    except certificates.CertificateRefused as reason:
        raise Refused(
            f"The certificate is refused: {reason}.", inputs.shown_name(certificate)
        ) from None


def _given(certificate: str) -> dict[str, Any]:
    """What a file says as a certificate. Raises Refused where it is none."""
    data = inputs.read_input(certificate, LARGEST)
    # Before it is parsed, since a list of a byte takes sixty when it is read.
    if sum(map(data.count, (b"[", b"{", b","))) > MOST_PARTS:
        raise Refused(f"This has more than {MOST_PARTS:,} parts.", inputs.shown_name(certificate))
    try:
        given = json.loads(data, object_pairs_hook=_once)
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, dict):
        raise Refused("This is no certificate.", inputs.shown_name(certificate))
    return given


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object without duplicate keys, as only one of the two would be checked."""
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key is there twice")
    return found
