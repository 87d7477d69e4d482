"""Makes blocks of a read-back, with the check sheet to keep.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Finding, Suppressed, Verdict
from orderlint.readback.dialogue import SET_ALONE
from orderlint.readback.differences import Outcome
from orderlint.report import blocks as b
from orderlint.report.order import blocks as of_order
from orderlint.report.order import words as order_words
from orderlint.report.order.checked import policy_words
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.readback import words
from orderlint.report.words import FREE_TEXT, LABELS, LEVELS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.readback import ReadBack

ORDERED = "As ordered"
AS_SEEN = "With what was seen in place of what is ordered"
UNSEEN = "seen-missing"
"""The rule that something ordered was not seen; beside single settings it is said in one line."""
SHEET = "Check sheet, to keep. A blank is for whoever looks."


def title(result: ReadBack) -> str:
    """The title of the page."""
    return f"{words.verdict_words(result)[0]}: {result.ordered.file}"


def blocks(result: ReadBack, digest: str, at: int) -> Iterator[b.Block]:
    """The report.

    `digest` is that of the order's bytes, `at` the instant of comparing, in ms since 1970 UTC.
    """
    if result.seen.file == SET_ALONE:
        yield from _of_some(result)
        return
    yield from _opening(result)
    findings = map(of_order.finding_block, result.assessment.findings)
    yield from _with_pictures(result, (*findings, *_compared(result)))
    yield b.Columns(
        (
            b.list_section(
                order_words.UNCHECKED, _unchecked(result), without=order_words.ALL_CHECKED
            ),
            *of_order.suppressed_section(every_suppressed(result)),
            # Those that the policy leaves out are the same for both that are verified.
            of_order.not_asked_section(
                (*result.assessment.inactive, *result.ordered.assessment.inactive)
            ),
            of_order.checked_section(_checked(result, at)),
        )
    )
    yield of_order.written_section(result.ordered.order.leaves)
    yield b.paragraph(SHEET, "sheet")
    items = words.sheet_of(result, digest, at)
    groups = dict.fromkeys(item.group for item in items)
    yield b.Columns(
        tuple(
            b.list_section(name, (item.words for item in items if item.group == name))
            for name in groups
        )
    )
    yield b.ReportSection("", (b.paragraph(words.VOID),))
    yield of_order.CAUTION_BLOCK


def _opening(result: ReadBack) -> Iterator[b.Block]:
    """The warning if it may be running, what is compared, the verdict, and both pictures."""
    yield from of_order.running_warning(_may_be_running(result))
    yield b.paragraph(order_words.document_words(result.ordered), "document")
    yield b.paragraph(words.seen_words(result), "document")
    _, sentence = words.verdict_words(result)
    hidden = order_words.suppressed_weight(every_suppressed(result))
    texts = result.ordered.not_checked
    notes = (*order_words.not_checked_words(texts), sentence, *hidden)
    yield of_order.verdict_block(result.verdict, texts, notes)


def _of_some(result: ReadBack) -> Iterator[b.Block]:
    """The report on a few settings given by themselves: these alone, and what nobody looked at."""
    yield from _opening(result)
    asked = (finding for finding in result.assessment.findings if finding.rule != UNSEEN)
    yield from map(of_order.finding_block, asked)
    given = [row for row in words.compared_rows(result) if row.outcome is not Outcome.MISSING]
    paths = {row.path for row in given}
    effects = [change for change in result.effects if change.path in paths]
    said = [line for change in effects for line in words.effect_words(change, result)]
    yield b.list_section("What is ordered and what was seen", [*map(words.row_words, given), *said])
    yield b.list_section("The order itself", _of_the_order(result))
    yield from of_order.suppressed_section(every_suppressed(result))
    yield b.paragraph(words.unseen_words(result))
    yield of_order.CAUTION_BLOCK


def _with_pictures(result: ReadBack, body: tuple[b.Block, ...]) -> Iterator[b.Block]:
    """The pictures of the order and of what was seen in its place, or one beside `body`."""
    ordered, as_set = (
        diagram_of(part.behaviour, part.order.leaves) for part in (result.ordered, result.as_set)
    )
    if ordered == as_set:
        yield b.WithPicture(b.Picture(ordered, "readback") if ordered else None, body)
        return
    yield b.Pictures(((ORDERED, ordered), (AS_SEEN, as_set)), "readback")
    yield from body


def _may_be_running(result: ReadBack) -> bool:
    """True if a point is open while the order may be running."""
    status = result.ordered.order.leaves["status"]
    if status.value == "active":
        return result.verdict is not Verdict.CLEAR
    return not status.known and result.verdict is Verdict.DO_NOT_START


def _compared(result: ReadBack) -> Iterator[b.Block]:
    """The comparison, what the differences would do, and what is said of order and settings."""
    compared = words.compared_rows(result)
    rows = [words.row_words(row) for row in compared if row.outcome is not Outcome.EQUAL]
    equal = [row for row in compared if row.outcome is Outcome.EQUAL]
    rows += [words.as_ordered_words(equal)] if equal else []
    yield b.list_section(
        "What is ordered and what was seen",
        [*rows, *words.twice_words(result)],
        without="Nothing is ordered, and nothing was seen.",
    )
    changes = [said for change in result.effects for said in words.effect_words(change, result)]
    yield b.Columns(
        (
            b.list_section(
                "What the differences would do", changes, without="No difference was found."
            ),
            b.list_section("The order itself", _of_the_order(result)),
            b.list_section(
                "The settings seen, if they were ordered",
                map(_short, result.only_as_set),
                without="They would draw no finding that the order does not draw.",
            ),
        )
    )


def _of_the_order(result: ReadBack) -> Iterator[str]:
    """The verdict on the order, and each finding on it in a line."""
    yield f"Verdict on the order, whatever was seen: {LABELS[result.ordered.assessment.verdict]}."
    yield from map(_short, result.ordered.assessment.findings)


def every_suppressed(result: ReadBack) -> tuple[Suppressed, ...]:
    """The findings that the policy suppresses; each once, even if both orders have it."""
    parts = (result, result.ordered, result.as_set)
    every = (item for part in parts for item in part.assessment.suppressed)
    return tuple({(item.finding.rule, item.finding.says): item for item in every}.values())


def _checked(result: ReadBack, at: int) -> str:
    """What was compared, and by what; `at` is the instant of comparing, in ms since 1970 UTC."""
    verified = result.ordered
    return (
        f"{verified.file} as an order and {words.source_words(result)} as settings seen, setting "
        f"by setting and each by {verified.assessment.rules} rules, under “{verified.policy}”, "
        f"as of {words.compared_words(result, at)}."
        f"{policy_words(verified)} {FREE_TEXT}"
    )


def _short(finding: Finding) -> str:
    title = order_words.finding_heading(finding)
    return f"{LEVELS[finding.level]}: {title}: {finding.says} Rule: {finding.rule}"


def _unchecked(result: ReadBack) -> Iterator[str]:
    parts = (("", result), ("The order: ", result.ordered), ("The settings seen: ", result.as_set))
    for whose, part in parts:
        for rule in part.assessment.unchecked:
            missing = ", ".join(rule.missing)
            yield f"{whose}{LEVELS[rule.level]}: {rule.rule}, for lack of {missing}."
