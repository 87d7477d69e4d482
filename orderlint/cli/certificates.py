"""Certificates of proofs: written beside a review, and checked again without a solver.

Files and exit status. Never a proof itself.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from orderlint.cli.exit_status import BELOW, FINDINGS
from orderlint.cli.inputs import digest_of, policy_from, read_input, rulebook_under, shown_name
from orderlint.cli.outputs import write
from orderlint.finding import Refused

if TYPE_CHECKING:
    from orderlint.proof import Proof
    from orderlint.rulebook.rule import Rulebook
    from orderlint.set_review import Reviewed

LARGEST = 16 * 1024 * 1024
"""Bytes of a certificate that is read."""
BUILT_IN = "built-in"
"""What stands for the digest of the policy where there is no file of one."""


def rulebook_with_digest(policy: str | None) -> tuple[Rulebook, str]:
    """The rulebook for order sets, and the SHA-256 of the policy's bytes as they were read.

    Raises Refused where the policy does not read.
    """
    if policy is None:
        return rulebook_under(None, "order-set"), BUILT_IN
    data = read_input(policy)
    return policy_from(data, policy), digest_of(data)


def _digests(of_set: str, of_policy: str) -> dict[str, str]:
    """The digests of what proofs rest on: set, policy and rulebook."""
    from orderlint.rulebook.files import digest  # noqa: PLC0415 - cold start

    return {"set": of_set, "policy": of_policy, "rulebook": digest()}


def certificate_of(reviewed: Reviewed, of_set: str, of_policy: str) -> str:
    """The certificate of a reviewed set, ending in a line feed.

    It is bound to the SHA-256 of the bytes that were reviewed, never of a file read again.
    """
    import json  # noqa: PLC0415 - cold start

    from orderlint.proof import certificate  # noqa: PLC0415 - cold start

    digests = _digests(of_set, of_policy)
    made = certificate(reviewed.order_set, reviewed.rulebook, reviewed.proofs, digests)
    return json.dumps(made, indent=1) + "\n"


def recheck(certificate: str, file: str, policy: str | None) -> int:
    """The exit status: whether the proofs of a set hold, by the evaluator alone. Raises Refused."""
    held = _held(certificate, file, policy)
    results = Counter(proof.result.value for proof in held)
    unasked = results["at-signing"] + results["inactive"]
    proved, asked = results["proved"] + results["vacuous"], results.total() - unasked
    partly = sum(1 for p in held if p.at_signing and p.result.value in {"proved", "vacuous"})
    said = f"{proved} of {asked} rules are proved of every order from {shown_name(file)}"
    rest = f", {partly} of them in part: the rest of those is judged at signing" if partly else ""
    said = f"{said}{rest}."
    others = [f"{results[r]} {r}" for r in ("broken", "undetermined", "not-proved") if results[r]]
    if others:
        said += f" Of the rest the certificate vouches for nothing: {', '.join(others)}."
    write(f"{shown_name(certificate)}: the certificate holds: {said}\n", None, None)
    return BELOW if proved == asked else FINDINGS


def _held(certificate: str, file: str, policy: str | None) -> tuple[Proof, ...]:
    """What became of each rule. Raises Refused where the certificate does not vouch for it."""
    from orderlint import proof  # noqa: PLC0415 - cold start
    from orderlint.order_set.read import read_order_set  # noqa: PLC0415 - cold start
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    rulebook, of_policy = rulebook_with_digest(policy)
    given = _given(certificate)
    data = read_input(file)
    order_set = read_order_set(read(data, shown_name(file), "order-set"), rulebook.derived)
    digests = _digests(digest_of(data), of_policy)
    try:
        return proof.recheck(given, order_set, rulebook, digests)
    except proof.CertificateRefused as reason:
        raise Refused(f"The certificate is refused: {reason}.", shown_name(certificate)) from None


def _given(certificate: str) -> dict[str, Any]:
    """What a file says as a certificate. Raises Refused where it is none."""
    import json  # noqa: PLC0415 - cold start

    try:
        given = json.loads(read_input(certificate, LARGEST), object_pairs_hook=_once)
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, dict):
        raise Refused("This is no certificate.", shown_name(certificate))
    return given


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of which no key is there twice, as only one of the two would be checked."""
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key is there twice")
    return found
