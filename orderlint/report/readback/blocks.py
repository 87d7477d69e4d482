"""The report on settings seen beside an order as blocks, with the check sheet to keep.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Verdict
from orderlint.report import text
from orderlint.report.blocks import (
    Columns,
    Pictures,
    Section,
    VerdictBlock,
    listed,
    paragraph,
)
from orderlint.report.order import blocks as of_order
from orderlint.report.order import words as order_words
from orderlint.report.picture.diagram import scene_of
from orderlint.report.readback import words
from orderlint.report.readback.sheet import VOID, sheet_of
from orderlint.report.verdicts import LABELS
from orderlint.report.words import FREE_TEXT, LEVELS, NOT_IN_TABLE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.finding import Finding, Inactive, Suppressed
    from orderlint.readback import ReadBack
    from orderlint.report.blocks import Block

ORDERED = "As ordered"
AS_SEEN = "With what was seen in place of what is ordered"
SHEET = "Check sheet, to keep. A blank is for whoever looks."


def as_text(result: ReadBack, digest: str, at: int, *, width: int) -> str:
    """The whole report, ending in a line feed; `width` in columns.

    `digest` is that of the order's bytes, `at` the instant of comparing, in ms since 1970 UTC.
    """
    return text.render(blocks(result, digest, at), width=width)


def as_page(result: ReadBack, digest: str, at: int) -> str:
    """The same as a page."""
    from orderlint.report.html import page  # noqa: PLC0415 - cold start

    label, _ = words.verdict_words(result)
    return page(f"{label}: {result.ordered.file}", [blocks(result, digest, at)])


def blocks(result: ReadBack, digest: str, at: int) -> Iterator[Block]:
    """The report; `digest` and `at` as in as_text."""
    yield from _opening(result)
    yield from map(of_order.finding_block, result.assessment.findings)
    yield from _compared(result)
    yield from of_order.suppressed(every_suppressed(result))
    yield of_order.not_asked(every_inactive(result))
    yield of_order.checked(checked(result, at))
    yield paragraph(SHEET, "sheet")
    items = sheet_of(result, digest, at)
    groups = dict.fromkeys(item.group for item in items)
    yield Columns(
        tuple(listed(name, (item.words for item in items if item.group == name)) for name in groups)
    )
    yield Section("", (paragraph(VOID),))
    yield of_order.CAUTION_BLOCK


def _opening(result: ReadBack) -> Iterator[Block]:
    """What not to do if it may be running, what is compared, the verdict, and both pictures."""
    yield from of_order.running(_may_be_running(result))
    yield paragraph(order_words.document_words(result.ordered), "document")
    yield paragraph(words.seen_words(result), "document")
    _, sentence = words.verdict_words(result)
    hidden = order_words.suppressed_weight(every_suppressed(result))
    yield VerdictBlock(result.verdict, (sentence, *hidden))
    ordered, as_set = (
        scene_of(part.behaviour, part.order.leaves) for part in (result.ordered, result.as_set)
    )
    yield Pictures(((ORDERED, ordered), (AS_SEEN, as_set)), "readback")


def _may_be_running(result: ReadBack) -> bool:
    """Whether there is something to settle while staff may have the order running."""
    status = result.ordered.order.leaves["status"]
    if status.value == "active":
        return result.verdict is not Verdict.CLEAR
    return not status.known and result.verdict is Verdict.DO_NOT_START


def _compared(result: ReadBack) -> Iterator[Block]:
    """The comparison, what the differences would do, and what is said of order and settings."""
    rows = [words.row_words(row) for row in words.compared_rows(result)]
    yield listed(
        "What is ordered and what was seen",
        [*rows, *words.twice_words(result)],
        without="Nothing is ordered, and nothing was seen.",
    )
    changes = [said for change in result.effects for said in words.change_words(change, result)]
    yield listed(
        "What the differences would do",
        [*changes, NOT_IN_TABLE] if changes else [],
        without="No difference was found.",
    )
    label = LABELS[result.ordered.assessment.verdict]
    said = f"Verdict on the order, whatever was seen: {label}."
    yield listed("The order itself", [said, *map(_short, result.ordered.assessment.findings)])
    yield listed(
        "The settings seen, if they were ordered",
        map(_short, result.only_as_set),
        without="They would draw no finding that the order does not draw.",
    )
    yield listed(order_words.UNCHECKED, _unchecked(result), without=order_words.ALL_CHECKED)


def every_suppressed(result: ReadBack) -> tuple[Suppressed, ...]:
    """What the policy suppresses, once where the settings seen draw what the order draws."""
    parts = (result, result.ordered, result.as_set)
    every = (item for part in parts for item in part.assessment.suppressed)
    return tuple({(item.finding.rule, item.finding.says): item for item in every}.values())


def every_inactive(result: ReadBack) -> tuple[Inactive, ...]:
    """The rules that the policy leaves out; they are the same for both that are verified."""
    return (*result.assessment.inactive, *result.ordered.assessment.inactive)


def checked(result: ReadBack, at: int) -> str:
    """What was compared, and by what; `at` is the instant of comparing, in ms since 1970 UTC."""
    verified = result.ordered
    return (
        f"{verified.file} as an order and {words.source_words(result)} as settings seen, setting "
        f"by setting and each by {verified.assessment.rules} rules, under “{verified.policy}”, "
        f"as of {words.compared_words(result, at)}."
        f"{order_words.policy_words(verified)} {FREE_TEXT}"
    )


def _short(finding: Finding) -> str:
    title = order_words.heading(finding)
    return f"{LEVELS[finding.level]}: {title}: {finding.says} Rule: {finding.rule}"


def _unchecked(result: ReadBack) -> Iterator[str]:
    parts = (("", result), ("The order: ", result.ordered), ("The settings seen: ", result.as_set))
    for whose, part in parts:
        for rule in part.assessment.unchecked:
            missing = ", ".join(rule.missing)
            yield f"{whose}{LEVELS[rule.level]}: {rule.rule}, for lack of {missing}."
