"""Certificates of proofs: written beside a review, and checked again without a solver.

Files and exit status. Never a proof itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.cli.inputs import digest_of, read_input, shown_name
from orderlint.cli.outcome import BELOW, FINDINGS, USAGE
from orderlint.cli.outputs import complain, write
from orderlint.finding import Refused

if TYPE_CHECKING:
    from orderlint.review import Reviewed
    from orderlint.rulebook.rule import Rulebook

LARGEST = 16 * 1024 * 1024
"""Bytes of a certificate that is read."""


def _digests(file: str, policy: str | None) -> dict[str, str]:
    """The SHA-256 of what the proofs rest on: set, policy and rulebook."""
    from orderlint.rulebook.load import digest  # noqa: PLC0415 - cold start

    own = "built-in" if policy is None else digest_of(read_input(policy))
    return {
        "set": digest_of(read_input(file)),
        "policy": own,
        "rulebook": digest(),
    }


def certificate_of(reviewed: Reviewed, file: str, policy: str | None) -> str:
    """The certificate of a reviewed set, ending in a line feed."""
    import json  # noqa: PLC0415 - cold start

    from orderlint.proof import certificate  # noqa: PLC0415 - cold start

    digests = _digests(file, policy)
    made = certificate(reviewed.order_set, reviewed.rulebook, reviewed.proofs, digests)
    return json.dumps(made, indent=1) + "\n"


def recheck(certificate: str, file: str, policy: str | None, rulebook: Rulebook) -> int:
    """The exit status: whether the proofs of a set hold, by the evaluator alone."""
    name = shown_name(certificate)
    try:
        results = _results(certificate, file, policy, rulebook)
    except Refused as reason:
        complain(str(reason))
        return USAGE
    proved = sum(result in {"proved", "vacuous"} for result in results)
    asked = sum(result not in {"at-signing", "inactive"} for result in results)
    said = f"{proved} of {asked} rules are proved of every order from {shown_name(file)}."
    write(f"{name}: the certificate holds: {said}\n", None, None)
    return BELOW if proved == asked else FINDINGS


def _results(
    certificate: str, file: str, policy: str | None, rulebook: Rulebook
) -> tuple[str, ...]:
    """What became of each rule. Raises Refused where the certificate does not vouch for it."""
    import json  # noqa: PLC0415 - cold start

    from orderlint import proof  # noqa: PLC0415 - cold start
    from orderlint.order_set.read import read_order_set  # noqa: PLC0415 - cold start
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    data = read_input(certificate, LARGEST)
    document = read(read_input(file), shown_name(file), "order-set")
    order_set = read_order_set(document, rulebook.derived)
    try:
        given = json.loads(data)
        if not isinstance(given, dict):
            raise proof.CertificateRefused("it is no certificate")
        digests = _digests(file, policy)
        return tuple(proof.recheck(given, order_set, rulebook, digests).values())
    except proof.CertificateRefused as reason:
        raise Refused(f"The certificate is refused: {reason}.", shown_name(certificate)) from None
    except (ValueError, RecursionError):
        raise Refused("This is no certificate.", shown_name(certificate)) from None
