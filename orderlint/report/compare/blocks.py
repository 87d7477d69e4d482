"""Makes blocks of the comparison of two orders, or of two order sets for their author.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.behaviour import behaviour_of
from orderlint.order_set.model import OrderSet, preset_order
from orderlint.report import blocks as b
from orderlint.report.compare import set_words, words
from orderlint.report.order import blocks as of_order
from orderlint.report.order import words as order_words
from orderlint.report.order.checked import standing_words, unchecked_weight, unchecked_words
from orderlint.report.order.segment_words import list_missing
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.review.blocks import for_author
from orderlint.report.review.words import document_words
from orderlint.report.words import (
    FOR_CHANGE,
    LEVELS_FOR_AUTHOR,
    counted,
    digest_words,
    instant_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets
    from orderlint.finding import Finding
    from orderlint.proof.set_difference import DifferingOrder

NEAREST = "The nearest such order to the presets:"
_NOT_LEAST = "Whether another is nearer to the presets was not settled within the limits."
_EARLIER, _LATER = "earlier", "later"


def title(found: ComparedOrders) -> str:
    """The title of the page of two orders."""
    return f"{words.verdict_words(found)[0]}: {found.after.file}"


def blocks(
    found: ComparedOrders, at: int, digests: tuple[str, str] | None = None
) -> Iterator[b.Block]:
    """The report on two orders.

    `at` is the instant of checking, in milliseconds since 1970 UTC, `digests` are the SHA-256 of
    the bytes of the first and the second, if they are to be shown.
    """
    yield from _opening(found)
    yield from map(of_order.finding_block, found.assessment.findings)
    yield from _changes(found)
    yield from of_order.suppressed_section(found.assessment.suppressed)
    # Only a policy that leaves out a value can keep a rule on changes from being asked.
    if found.assessment.inactive:
        yield of_order.not_asked_section(found.assessment.inactive)
    lines = (_checked(found, at), words.COVERS, *digest_lines(found, digests))
    yield b.list_section(order_words.CHECKED, lines, "small")
    yield of_order.CAUTION_BLOCK
    yield of_order.SIGNATURES


def digest_lines(
    found: ComparedOrders | ComparedSets, digests: tuple[str, str] | None
) -> Iterator[str]:
    """The digest of each file, if they are to be named."""
    files = (found.before.file, found.after.file)
    for name, digest in zip(files, digests or (), strict=False):
        yield f"{name}: {digest_words(digest)}"


def _opening(found: ComparedOrders) -> Iterator[b.Block]:
    """The warning if either may be running, which orders they are, the verdict, both pictures."""
    yield from of_order.running_warning(_may_be_running(found))
    before, after = map(order_words.document_words, (found.before, found.after))
    yield b.Paragraphs((f"Before: {before}", f"Now: {after}"), "document", hang=2)
    change, now = found.assessment, found.after.assessment
    notes = (
        *order_words.not_checked_words(found.not_checked),
        words.verdict_words(found)[1],
        *words.own_words(found),
        *unchecked_weight((*change.unchecked, *now.unchecked)),
        *order_words.suppressed_weight((*change.suppressed, *now.suppressed)),
    )
    yield of_order.verdict_block(found.verdict, found.not_checked, notes)
    old, new = (
        diagram_of(each.behaviour, each.order.leaves) for each in (found.before, found.after)
    )
    yield b.Pictures((("Before", old), ("Now", new)), "compare")


def _may_be_running(found: ComparedOrders) -> bool:
    """True if a point is open while either order may be running."""
    if words.is_active(found):
        both = (found.assessment, found.after.assessment)
        return any(each.findings or each.unchecked for each in both)
    return order_words.may_be_running(found.after)


def _changes(found: ComparedOrders) -> Iterator[b.Block]:
    """What is changed, its effect, and what could not be checked."""
    yield b.list_section(
        "What is changed",
        words.change_words(found),
        without="No setting is changed.",
    )
    yield b.list_section(
        "Facts of signing", map(words.setting_words, found.signed), without="They are the same."
    )
    yield b.list_section(
        "What the controller would do otherwise, by ICP", words.behaviour_lines(found)
    )
    before, after = map(words.own_verdict, (found.before, found.after))
    yield b.list_section(words.BY_ITSELF, (f"Before: {before}", f"Now: {after}"))
    groups = order_words.in_order(found.after.assessment.findings)
    yield from of_order.finding_sections(groups, of_order.finding_block)
    unchecked = (*found.assessment.unchecked, *found.after.assessment.unchecked)
    yield b.list_section(
        order_words.UNCHECKED,
        unchecked_words(unchecked, found.leaves),
        without="Every rule that was asked of the change and of the second order could be checked.",
    )


def _checked(found: ComparedOrders, at: int) -> str:
    """What was compared, and by what; `at` is in milliseconds since 1970 UTC."""
    rules = counted(found.assessment.rules, "rule")
    return (
        f"{found.before.file} and {found.after.file} as orders, setting by setting, by {rules} on "
        f"changes, and each by {found.after.assessment.rules} rules on orders, under "
        f"“{found.after.policy}”, as of {instant_words(at)}."
        f"{standing_words(found.after)}"
    )


def set_title(found: ComparedSets) -> str:
    """The title of the page of two order sets."""
    return f"{_relation(found)}: {found.after.file}"


def set_blocks(
    found: ComparedSets, at: int, digests: tuple[str, str] | None = None
) -> Iterator[b.Block]:
    """The report on two order sets; `at` and `digests` are as in `blocks`."""
    before, after = map(document_words, (found.before, found.after))
    yield b.Paragraphs((f"Earlier: {before}", f"Later: {after}"), "document", hang=2)
    _, sentence = set_words.relation_words(found)
    said = (
        sentence,
        set_words.newly_words(found),
        *set_words.apart_words(found),
        *set_words.headlines(found),
    )
    yield b.ReportSection(_relation(found), (b.Paragraphs(said),))
    texts, verdict = found.not_checked, found.assessment.verdict
    notes = (
        *order_words.not_checked_words(texts),
        *order_words.suppressed_weight(found.assessment.suppressed),
    )
    yield of_order.verdict_block(verdict, texts, notes, FOR_CHANGE, "Verdict on what is new")
    for number, finding in enumerate(found.assessment.findings, 1):
        yield _set_finding(finding, found, f"new{number}")
    yield from _gone_and_new(found)
    yield b.list_section(
        "What is offered otherwise",
        map(set_words.option_change_words, found.option_changes),
        without="Nothing.",
    )
    also = set_words.covered_words(found)
    yield b.list_section("Broken as well by a new order", also, without="No other rule.")
    stood = set_words.broken_before_words(found)
    if stood:
        yield b.list_section("Broken by a new order, and by earlier orders too", [stood])
    yield b.list_section("Left open by a new order", _left(found), without="No rule.")
    yield from of_order.suppressed_section(found.assessment.suppressed)
    checked = set_words.checked_words(found, f", as of {instant_words(at)}")
    yield b.list_section("What was compared", (checked, *digest_lines(found, digests)), "small")
    yield b.ReportSection("", (b.paragraph(set_words.COVERS),), "small")
    yield of_order.CAUTION_BLOCK


def _relation(found: ComparedSets) -> str:
    """How the later set relates to the earlier: stricter, looser, equal, both or not settled."""
    return f"The later set is: {set_words.relation_words(found)[0]}"


def _set_finding(finding: Finding, found: ComparedSets, name: str) -> b.ReportSection:
    """A finding; where a new order breaks a rule, with that order and its pictures."""
    title = order_words.finding_heading(finding) if finding.path else "The sets as a whole"
    item = next((item for item in found.newly_broken if item.set_finding is finding), None)
    if item is None:
        return for_author(of_order.finding_block(finding, title))
    example = item.broken.example
    body = (
        b.paragraph(finding.says),
        b.paragraph(set_words.before_words(item.broken)),
        *_order(example, _EARLIER),
        *_drawn(example, found.after, found.rulebook.outflow, name),
    )
    return for_author(of_order.finding_block(finding, title, body))


def _gone_and_new(found: ComparedSets) -> Iterator[b.ReportSection]:
    """An order that only the earlier set yields, and one that only the later does."""
    none = "There is none." if found.comparison.relation != "open" else "None is known."
    for which, other, example, order_set, name in (
        (_EARLIER, _LATER, found.comparison.gone, found.before, "gone"),
        (_LATER, _EARLIER, found.comparison.new, found.after, "new"),
    ):
        body: tuple[b.Block, ...] = (b.paragraph(none),)
        if example is not None:
            drawn = _drawn(example, order_set, found.rulebook.outflow, name)
            body = (*_order(example, other), *drawn)
        yield b.ReportSection(f"An order that only the {which} set yields", body)


def _order(example: DifferingOrder, other: str) -> Iterator[b.Block]:
    """An order of one set alone: its picks, and where the other set differs."""
    yield b.paragraph(NEAREST)
    yield b.Items(tuple(set_words.example_picks(example)) or ("all as it is preset",), deeper=2)
    unsettled = () if example.is_least else (_NOT_LEAST,)
    yield b.Paragraphs((*set_words.differing_words(example, other), *unsettled), hang=2)


def _drawn(
    example: DifferingOrder, order_set: OrderSet, outflow: str | None, name: str
) -> Iterator[b.Pictures]:
    """The pictures of an order and of the presets of its set, if they differ."""
    plain, made = (
        diagram_of(behaviour_of(leaves, outflow), leaves)
        for leaves in (preset_order(order_set).leaves, example.leaves)
    )
    if plain != made:
        yield b.Pictures((("The presets", plain), ("The order", made)), name)


def _left(found: ComparedSets) -> Iterator[str]:
    for item in found.assessment.unchecked:
        left = next(each for each in found.comparison.broken if each.rule == item.rule)
        missing, before = (
            list_missing(item.missing, left.example.leaves),
            set_words.before_words(left),
        )
        yield f"{LEVELS_FOR_AUTHOR[item.level]}: {item.rule}, for lack of {missing}. {before}"
    if found.left_open:
        yield f"By earlier orders as well, for the same lack: {', '.join(found.left_open)}."
