"""What other programs call, one function a verb: `orderlint.verify` and the like.

Each joins source, rulebook and the module that answers. Never a check of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeAlias, get_args

from orderlint import verification
from orderlint.api.instants import instant_or_now, milliseconds_of
from orderlint.api.policies import Policy, rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import DifferentKindsError, as_set, content_of, order_in, set_in
from orderlint.finding import Refused
from orderlint.language.budget import USUAL, Watched
from orderlint.reading import FHIR, KINDS, Document, kind_words

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.sources import Codes, Content, Source
    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets
    from orderlint.message import Message
    from orderlint.readback import ReadBack
    from orderlint.rulebook.rule import Rulebook
    from orderlint.set_review import Reviewed
    from orderlint.shift_plan import Plan
    from orderlint.verification import Verified

    Compared: TypeAlias = Result[ComparedOrders] | Result[ComparedSets]

Person: TypeAlias = Literal["prescriber", "pharmacy", "second nurse", "transcriber", "author"]
LONGEST = 168
"""Hours of one plan."""
COMPARABLE = ("order", "order-set", FHIR)
"""The kinds of document of which two can be compared."""


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


def ask(  # noqa: PLR0913 - one parameter an option
    source: Source,
    *,
    whom: Person | None = None,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[Message]:
    """Word the call about one order to one of those that its findings ask.

    `whom` is the person; if None, whoever can answer the heaviest finding. The other parameters,
    and what is raised, are those of orderlint.verify.
    Verdict and findings are of the order, whoever is asked. ValueError for an unknown `whom`.

    >>> result = ask("document: order\\nformat: 1\\n", whom="pharmacy")
    >>> len(result.found.points) <= 3
    True
    """
    if whom is not None and whom not in get_args(Person):
        raise ValueError(f"whom is {whom!r}, none of {', '.join(get_args(Person))}")
    from orderlint.message import message_to  # noqa: PLC0415 - not with another verb

    instant = instant_or_now(at)
    content, rulebook = content_of(source, name), rulebook_for("order", policy)
    verified = verify_content(content, instant, rulebook, concept_map)
    found, assessed = message_to(whom, verified), verified.assessment
    return Result("ask", assessed.verdict, assessed, found, (content,), instant)


def plan(  # noqa: PLR0913 - a parameter a fact
    source: Source,
    *,
    start: datetime,
    hours: int = 24,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[Plan]:
    """Plan some hours of an order: a timetable, volumes, bags and figures.

    `start` is when the plan begins, a datetime with an offset from UTC, in 1970 or later; `hours`
    how long it is, from 1 to LONGEST. The other parameters are those of orderlint.verify. Verdict
    and findings are of the order. `render("ics")` of the result is a calendar.

    Raises Refused where the source is no readable order, ValueError for a `start`, `at` or `hours`
    that cannot be.

    >>> from datetime import datetime
    >>> from pathlib import Path
    >>> start = datetime.fromisoformat("2026-03-02T15:00:00-06:00")
    >>> result = plan(Path("examples/clean.yaml"), start=start, hours=12, at=start)
    >>> result.found.events[0].kind
    'icp check'
    """
    from orderlint.shift_plan import plan_of  # noqa: PLC0415 - not with another verb

    instant, begins = instant_or_now(at), milliseconds_of(start, "start")
    offset = start.utcoffset()
    if begins < 0 or offset is None:  # older offsets had seconds, which no calendar shows
        raise ValueError(f"start is {start.isoformat()}; a plan starts in 1970 or later")
    if not 1 <= hours <= LONGEST:
        raise ValueError(f"hours is {hours}; a plan is 1 to {LONGEST} hours long")
    rulebook = rulebook_for("order", policy)
    content = content_of(source, name)
    verified = verify_content(content, instant, rulebook, concept_map)
    seconds = int(offset.total_seconds())
    found = plan_of(verified, begins, hours, seconds, rulebook.values["csf_rate"])
    assessed = verified.assessment
    return Result("plan", assessed.verdict, assessed, found, (content,), instant)


def read_back(  # noqa: PLR0913 - one parameter an option
    order: Source,
    seen: Source,
    *,
    names: tuple[str | None, str | None] = (None, None),
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[ReadBack]:
    """Compare the settings seen at controller and pole with an order.

    `order` and `seen` are sources, and `names` what to call them, as in orderlint.verify, which has
    the other parameters too. `findings` are those of the comparison alone; the verdict is the
    heaviest of it, of the order, and of the order as it is set.

    Raises Refused where `order` is no readable order or `seen` no readable settings seen.

    >>> from datetime import datetime
    >>> from pathlib import Path
    >>> at = datetime.fromisoformat("2026-03-02T14:30:00-06:00")
    >>> seen = Path("examples/seen-as-ordered.yaml")
    >>> read_back(Path("examples/clean.yaml"), seen, at=at).findings
    ()
    """
    from orderlint import readback  # noqa: PLC0415 - not with another verb
    from orderlint.readback.observed import read_seen  # noqa: PLC0415

    instant = instant_or_now(at)
    rulebook = rulebook_for("read-back", policy)
    contents = content_of(order, names[0]), content_of(seen, names[1])
    ordered = order_in(contents[0].read_one_of("order", FHIR), concept_map)
    seen_there = read_seen(contents[1].read("settings-seen"))
    found = readback.read_back(ordered, seen_there, instant, rulebook)
    return Result("read back", found.verdict, found.assessment, found, contents, instant)


def review(  # noqa: PLR0913 - one parameter an option
    source: Source,
    *,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
    effort: int = USUAL,
    watched: Watched = iter,
) -> Result[Reviewed]:
    """Prove each rule over every order that can be signed from an order set, or break it.

    The other parameters, and what is raised, are those of orderlint.verify. `effort` is how many
    million steps of the solver are taken at most; what is then not proved is said to be so.
    `watched` yields the rules that it is given again, as they are proved.

    >>> from pathlib import Path
    >>> result = review(Path("examples/set-irrigation-adult.yaml"))
    >>> result.found.proofs[0].result.value
    'proved'
    """
    from orderlint.order_set.read import read_order_set  # noqa: PLC0415 - not with orders
    from orderlint.proof.prover import limits_of  # noqa: PLC0415 - the solver is slow to load
    from orderlint.set_review import review_set  # noqa: PLC0415

    instant = instant_or_now(at)
    rulebook = rulebook_for("order-set", policy)
    content = content_of(source, name)
    order_set = read_order_set(set_in(content, concept_map), rulebook.derived)
    found = review_set(order_set, instant, rulebook, limits_of(effort), watched)
    return Result("review", found.assessment.verdict, found.assessment, found, (content,), instant)


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
