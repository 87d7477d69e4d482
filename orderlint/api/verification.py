"""`orderlint.verify`: findings on one written order. Joins source, rulebook and verification."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint import verification
from orderlint.api.documents import order_in
from orderlint.api.instants import instant_or_now
from orderlint.api.policies import rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import content_of
from orderlint.reading import FHIR

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.documents import Codes
    from orderlint.api.policies import Policy
    from orderlint.api.sources import Content, Source
    from orderlint.rulebook.rule import Rulebook
    from orderlint.verification import Verified


def verify(
    source: Source,
    *,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[Verified]:
    """Check one order.

    `source` is the order: text or bytes are its content, YAML or JSON; a path is a file; a mapping
    is the document itself, of text, int, bool, Decimal, date, datetime, mappings and lists. It may
    be a Bundle of FHIR that holds one order. `name` is what places in the report call it. `at` is
    the instant of checking, now if None. `policy` is what load_policy returned, or the source of a
    site policy; the built-in one if None. `concept_map` is what load_concept_map returned, or the
    source of a ConceptMap of FHIR, where an order in a Bundle has a site's codes.

    Raises Refused where the source is no readable order, ValueError for an `at` without an offset
    from UTC.

    >>> from datetime import UTC, datetime
    >>> result = verify("document: order\\nformat: 1\\n", at=datetime(2026, 3, 2, 12, tzinfo=UTC))
    >>> result.verdict == "do-not-start"
    True
    >>> result.findings[0].place.file
    '<text>'
    """
    instant = instant_or_now(at)
    rulebook = rulebook_for("order", policy)
    content = content_of(source, name)
    found = verify_content(content, instant, rulebook, concept_map)
    return Result("verify", found.assessment.verdict, found.assessment, found, (content,), instant)


def verify_content(
    content: Content, at: int, rulebook: Rulebook, concept_map: Codes = None
) -> Verified:
    """The order in `content` checked as of `at`, milliseconds since 1970 UTC. Raises Refused."""
    document = content.read_one_of("order", "draft", FHIR)
    if document.kind == "draft":
        return verification.verify_draft(document, at, rulebook)
    return verification.verify_order(order_in(document, concept_map), at, rulebook)
