"""`orderlint.compare`: compares two orders or two order sets."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from orderlint.api.documents import as_set, order_in
from orderlint.api.instants import instant_or_now
from orderlint.api.policies import rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import DifferentKindsError, content_of
from orderlint.finding import Refused
from orderlint.language.budget import USUAL
from orderlint.reading import FHIR, KINDS, kind_words

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.documents import Codes
    from orderlint.api.policies import Policy
    from orderlint.api.sources import Content, Source
    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets
    from orderlint.language.budget import Watched
    from orderlint.reading import Document

    Compared: TypeAlias = Result[ComparedOrders] | Result[ComparedSets]

COMPARABLE = ("order", "order-set", FHIR)
"""The kinds of document of which two can be compared."""


def compare(  # noqa: PLR0913 - one parameter an option
    before: Source,
    after: Source,
    *,
    names: tuple[str | None, str | None] = (None, None),
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
    effort: int = USUAL,
    watched: Watched = iter,
) -> Compared:
    """Compare two orders, or two order sets.

    `before` and `after` are sources, and `names` what to call them, as in orderlint.verify, which
    has the other parameters too; but for `effort` and `watched`, which are those of
    orderlint.review, for two sets. The verdict on orders is the heaviest of the change and of the
    second order; that on sets is of the orders that only the second yields.

    Raises Refused where one is no readable order or order set, ValueError for one of each.

    >>> from pathlib import Path
    >>> result = compare(Path("examples/clean.yaml"), Path("examples/next-revision.yaml"))
    >>> [setting.path for setting in result.found.settings]
    ['pause.upper', 'treat_above', 'irrigation.rate']
    """
    instant = instant_or_now(at)
    contents = content_of(before, names[0]), content_of(after, names[1])
    first, second = (_read(content, concept_map) for content in contents)
    kinds = [document.kind for document in (first, second)]
    if kinds.count("order-set") == 1:
        raise DifferentKindsError(first, second)
    if "order-set" in kinds:
        sets = _sets(first, second, instant, policy, effort, watched)
        verdict = sets.assessment.verdict
        return Result("compare sets", verdict, sets.assessment, sets, contents, instant)
    orders = _orders(first, second, instant, policy, concept_map)
    return Result("compare orders", orders.verdict, orders.assessment, orders, contents, instant)


def _read(content: Content, codes: Codes) -> Document:
    document = as_set(content.read(), codes)
    if document.kind not in COMPARABLE:
        wanted = " or ".join(KINDS[kind] for kind in COMPARABLE if kind in KINDS)
        message = f"This is {kind_words(document)}; {wanted} is wanted here."
        head = document.root.get("document")
        raise Refused(message, head.place if head else document.root.place)
    return document


def _orders(
    before: Document, after: Document, at: int, policy: Policy, codes: Codes
) -> ComparedOrders:
    from orderlint.comparison.orders import compare_orders  # noqa: PLC0415 - not with sets

    first, second = (order_in(document, codes) for document in (before, after))
    return compare_orders(first, second, at, rulebook_for("change", policy))


def _sets(  # noqa: PLR0913, PLR0917 - what compare_sets takes
    before: Document, after: Document, at: int, policy: Policy, effort: int, watched: Watched
) -> ComparedSets:
    from orderlint.comparison.sets import compare_sets  # noqa: PLC0415 - the solver is slow to load
    from orderlint.order_set.read import read_order_set  # noqa: PLC0415
    from orderlint.proof.prover import limits_of  # noqa: PLC0415

    rulebook, limits = rulebook_for("order-set", policy), limits_of(effort)
    first, second = (read_order_set(document, rulebook.derived) for document in (before, after))
    return compare_sets(first, second, at, rulebook, limits, watched)
