"""Makes blocks of the comparison of two order sets, for their author.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.behaviour import behaviour_of
from orderlint.order_set.model import preset_order
from orderlint.report.blocks import (
    Items,
    Paragraphs,
    Pictures,
    ReportSection,
    VerdictBlock,
    list_section,
    paragraph,
)
from orderlint.report.compare import set_words as words
from orderlint.report.compare.blocks import digest_lines
from orderlint.report.order import blocks as of_order
from orderlint.report.order.table import list_missing
from orderlint.report.order.words import (
    as_far_as_read,
    finding_heading,
    not_checked_words,
    suppressed_weight,
)
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.review.blocks import for_author
from orderlint.report.review.words import document_words as set_words
from orderlint.report.verdicts import FOR_CHANGE
from orderlint.report.words import LEVELS_FOR_AUTHOR, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.sets import ComparedSets
    from orderlint.finding import Finding
    from orderlint.order_set.model import OrderSet
    from orderlint.proof.set_difference import DifferingOrder
    from orderlint.report.blocks import Block

NEAREST = "The nearest such order to the presets:"
_NOT_LEAST = "Whether another is nearer to the presets was not settled within the limits."
_EARLIER, _LATER = "earlier", "later"


def as_page(found: ComparedSets, digests: tuple[str, str], at: int) -> str:
    """The page of two order sets, whose bytes have these digests; `at` is as in `blocks`."""
    from orderlint.report.html import page  # noqa: PLC0415 - cold start

    return page(f"{_relation(found)}: {found.after.file}", [blocks(found, at, digests)])


def blocks(found: ComparedSets, at: int, digests: tuple[str, str] | None = None) -> Iterator[Block]:
    """The report; `at` is the instant of checking, in milliseconds since 1970 UTC."""
    before, after = map(set_words, (found.before, found.after))
    yield Paragraphs((f"Earlier: {before}", f"Later: {after}"), "document", hang=2)
    _, sentence = words.relation_words(found)
    said = (sentence, words.newly_words(found), *words.apart_words(found), *words.headlines(found))
    yield ReportSection(_relation(found), (Paragraphs(said),))
    texts, verdict = found.not_checked, found.assessment.verdict
    notes = (*not_checked_words(texts), *suppressed_weight(found.assessment.suppressed))
    beside = as_far_as_read(verdict, texts)
    yield VerdictBlock(verdict, notes, "Verdict on what is new", beside, FOR_CHANGE[verdict])
    for number, finding in enumerate(found.assessment.findings, 1):
        yield _finding(finding, found, f"new{number}")
    yield from _gone_and_new(found)
    yield list_section(
        "What is offered otherwise",
        map(words.option_change_words, found.option_changes),
        without="Nothing.",
    )
    also = words.covered_words(found)
    yield list_section("Broken as well by a new order", also, without="No other rule.")
    stood = words.broken_before_words(found)
    if stood:
        yield list_section("Broken by a new order, and by earlier orders too", [stood])
    yield list_section("Left open by a new order", _left(found), without="No rule.")
    yield from of_order.suppressed_section(found.assessment.suppressed)
    checked = words.checked_words(found, f", as of {instant_words(at)}")
    yield list_section("What was compared", (checked, *digest_lines(found, digests)), "small")
    yield ReportSection("", (paragraph(words.COVERS),), "small")
    yield of_order.CAUTION_BLOCK


def _relation(found: ComparedSets) -> str:
    """How the later set relates to the earlier: stricter, looser, equal, both or not settled."""
    return f"The later set is: {words.relation_words(found)[0]}"


def _finding(finding: Finding, found: ComparedSets, name: str) -> ReportSection:
    """A finding; where a new order breaks a rule, with that order and its pictures."""
    title = finding_heading(finding) if finding.path else "The sets as a whole"
    item = next((item for item in found.newly_broken if item.set_finding is finding), None)
    if item is None:
        return for_author(of_order.finding_block(finding, title))
    example = item.broken.example
    body = (
        paragraph(finding.says),
        paragraph(words.before_words(item.broken)),
        *_order(example, _EARLIER),
        *_drawn(example, found.after, found.rulebook.outflow, name),
    )
    return for_author(of_order.finding_block(finding, title, body))


def _gone_and_new(found: ComparedSets) -> Iterator[ReportSection]:
    """An order that only the earlier set yields, and one that only the later does."""
    none = "There is none." if found.comparison.relation != "open" else "None is known."
    for which, other, example, order_set, name in (
        (_EARLIER, _LATER, found.comparison.gone, found.before, "gone"),
        (_LATER, _EARLIER, found.comparison.new, found.after, "new"),
    ):
        body: tuple[Block, ...] = (paragraph(none),)
        if example is not None:
            drawn = _drawn(example, order_set, found.rulebook.outflow, name)
            body = (*_order(example, other), *drawn)
        yield ReportSection(f"An order that only the {which} set yields", body)


def _order(example: DifferingOrder, other: str) -> Iterator[Block]:
    """An order of one set alone: its picks, and where the other set differs."""
    yield paragraph(NEAREST)
    yield Items(tuple(words.example_picks(example)) or ("all as it is preset",), deeper=2)
    unsettled = () if example.is_least else (_NOT_LEAST,)
    yield Paragraphs((*words.differing_words(example, other), *unsettled), hang=2)


def _drawn(
    example: DifferingOrder, order_set: OrderSet, outflow: str | None, name: str
) -> Iterator[Pictures]:
    """The pictures of an order and of the presets of its set, if they differ."""
    plain, made = (
        diagram_of(behaviour_of(leaves, outflow), leaves)
        for leaves in (preset_order(order_set).leaves, example.leaves)
    )
    if plain != made:
        yield Pictures((("The presets", plain), ("The order", made)), name)


def _left(found: ComparedSets) -> Iterator[str]:
    for item in found.assessment.unchecked:
        left = next(each for each in found.comparison.broken if each.rule == item.rule)
        missing, before = list_missing(item.missing, left.example.leaves), words.before_words(left)
        yield f"{LEVELS_FOR_AUTHOR[item.level]}: {item.rule}, for lack of {missing}. {before}"
    if found.left_open:
        yield f"By earlier orders as well, for the same lack: {', '.join(found.left_open)}."
