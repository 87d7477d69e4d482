"""A comparison of settings seen with an order as plain text, with the check sheet to keep.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Verdict
from orderlint.report import readback_words as words
from orderlint.report.layout import paragraph, section
from orderlint.report.order_words import (
    document_words,
    heading,
    suppressed_weight,
    weaker_words,
)
from orderlint.report.readback_sheet import VOID, sheet_of
from orderlint.report.text import block, inactive_lines, suppressed_section
from orderlint.report.words import ALREADY_RUNNING, CAUTION, LEVELS, VERDICTS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Finding, Inactive, Suppressed
    from orderlint.readback import ReadBack


def render(result: ReadBack, digest: str, at: int, *, width: int) -> str:
    """The whole report, ending in a line feed; `width` in columns.

    `digest` is that of the order's bytes, `at` the instant of comparing, in ms since 1970 UTC.
    """
    parts = [
        *_opening(result, width),
        *(block(finding, False, width) for finding in result.findings),
        section("What is ordered and what was seen", _rows(result, width), width),
        section("What the differences would do", _changes(result, width), width),
        section("The order itself", _order(result, width), width),
        section("The settings seen, if they were ordered", _as_set(result, width), width),
        section("Could not be checked", _unchecked(result, width), width),
        *suppressed_section(_every_suppressed(result), width),
        section("Rules that were not asked", inactive_lines(_every_inactive(result), width), width),
        section("What was checked", [paragraph(_checked(result, at), width, 2)], width),
        *_sheet(result, digest, at, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _opening(result: ReadBack, width: int) -> Iterator[str]:
    if _may_be_running(result):
        yield paragraph(ALREADY_RUNNING, width)
    yield paragraph(document_words(result.ordered), width)
    yield paragraph(words.seen_words(result), width)
    label, sentence = words.verdict_words(result)
    texts = (sentence, *suppressed_weight(_every_suppressed(result)))
    yield "\n".join([f"Verdict: {label}", *(paragraph(text, width, 2) for text in texts)])


def _may_be_running(result: ReadBack) -> bool:
    """Whether there is something to settle while staff may have the order running."""
    status = result.ordered.order.leaves["status"]
    if status.value == "active":
        return result.verdict is not Verdict.CLEAR
    return not status.known and result.verdict is Verdict.DO_NOT_START


def _rows(result: ReadBack, width: int) -> list[str]:
    texts = [words.row_words(row) for row in words.compared_rows(result)]
    texts += words.twice_words(result)
    return _lines(texts, "Nothing is ordered, and nothing was seen.", width)


def _changes(result: ReadBack, width: int) -> list[str]:
    texts = [text for change in result.changes for text in words.change_words(change, result)]
    return _lines(texts, "There is no difference.", width)


def _order(result: ReadBack, width: int) -> list[str]:
    label = VERDICTS[result.ordered.verdict][0]
    texts = [f"Verdict on the order, whatever was seen: {label}."]
    texts += map(_short, result.ordered.findings)
    return _lines(texts, "", width)


def _as_set(result: ReadBack, width: int) -> list[str]:
    texts = [_short(finding) for finding in result.only_as_set]
    return _lines(texts, "They would draw no finding that the order does not draw.", width)


def _short(finding: Finding) -> str:
    return f"{LEVELS[finding.level]}: {heading(finding)}: {finding.says} Rule: {finding.rule}"


def _unchecked(result: ReadBack, width: int) -> list[str]:
    parts = (("", result), ("The order: ", result.ordered), ("The settings seen: ", result.as_set))
    texts = [
        f"{whose}{LEVELS[rule.level]}: {rule.rule}, for lack of {', '.join(rule.missing)}."
        for whose, part in parts
        for rule in part.unchecked
    ]
    return _lines(texts, "Every rule that was asked could be checked.", width)


def _every_suppressed(result: ReadBack) -> tuple[Suppressed, ...]:
    """What the policy suppresses, once where the settings seen draw what the order draws."""
    parts = (result, result.ordered, result.as_set)
    every = (item for part in parts for item in part.suppressed)
    return tuple({(item.finding.rule, item.finding.says): item for item in every}.values())


def _every_inactive(result: ReadBack) -> tuple[Inactive, ...]:
    """The rules that the policy leaves out; they are the same for both that are verified."""
    return (*result.inactive, *result.ordered.inactive)


def _checked(result: ReadBack, at: int) -> str:
    verified = result.ordered
    return (
        f"{verified.file} as an order and {words.source_words(result)} as settings seen, setting "
        f"by setting and each by {verified.rules} rules, under “{verified.policy}”, as of "
        f"{words.compared_words(result, at)}."
        f"{weaker_words(verified)}"
    )


def _sheet(result: ReadBack, digest: str, at: int, width: int) -> Iterator[str]:
    items = sheet_of(result, digest, at)
    yield paragraph("Check sheet, to keep. A blank is for whoever looks.", width)
    for group in dict.fromkeys(item.group for item in items):
        lines = [paragraph(item.words, width, 2, 2) for item in items if item.group == group]
        yield section(group, lines, width)
    yield paragraph(VOID, width)


def _lines(texts: Iterable[str], without: str, width: int) -> list[str]:
    return [paragraph(text, width, 2, 2) for text in texts] or [paragraph(without, width, 2)]
