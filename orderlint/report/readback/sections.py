"""What a comparison with settings seen says in each section, line by line, for its text and page.

Sentences not yet wrapped or made safe. Never a decision, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Verdict
from orderlint.report.order import words as order_words
from orderlint.report.part import Part, part_of
from orderlint.report.readback import words
from orderlint.report.readback.sheet import sheet_of
from orderlint.report.words import ALREADY_RUNNING, FREE_TEXT, LEVELS, NOT_IN_TABLE, VERDICTS

if TYPE_CHECKING:
    from orderlint.finding import Finding, Inactive, Suppressed
    from orderlint.readback import ReadBack

SHEET = "Check sheet, to keep. A blank is for whoever looks."


def running(result: ReadBack) -> str:
    """What not to do where there is something to settle while staff may have the order running."""
    status = result.ordered.order.leaves["status"]
    if status.value == "active":
        may_be = result.verdict is not Verdict.CLEAR
    else:
        may_be = not status.known and result.verdict is Verdict.DO_NOT_START
    return ALREADY_RUNNING if may_be else ""


def notes(result: ReadBack) -> list[str]:
    """What stands beneath the verdict."""
    _, sentence = words.verdict_words(result)
    return [sentence, *order_words.suppressed_weight(every_suppressed(result))]


def before(result: ReadBack) -> tuple[Part, ...]:
    """The comparison, what the differences would do, and what is said of order and settings."""
    rows = [words.row_words(row) for row in words.compared_rows(result)]
    return (
        part_of(
            "What is ordered and what was seen",
            [*rows, *words.twice_words(result)],
            "Nothing is ordered, and nothing was seen.",
        ),
        part_of(
            "What the differences would do",
            _changes(result),
            "No difference was found.",
        ),
        part_of("The order itself", _order(result), ""),
        part_of(
            "The settings seen, if they were ordered",
            [_short(finding) for finding in result.only_as_set],
            "They would draw no finding that the order does not draw.",
        ),
        part_of(
            order_words.UNCHECKED, _unchecked(result), "Every rule that was asked could be checked."
        ),
    )


def _changes(result: ReadBack) -> list[str]:
    """What each difference would do by the table, and what the table does not show."""
    said = [text for change in result.changes for text in words.change_words(change, result)]
    return [*said, NOT_IN_TABLE] if said else []


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
        f"{order_words.weaker_words(verified)} {FREE_TEXT}"
    )


def sheet(result: ReadBack, digest: str, at: int) -> tuple[Part, ...]:
    """The check sheet, group by group; `digest` is that of the order's bytes."""
    items = sheet_of(result, digest, at)
    return tuple(
        Part(group, tuple(item.words for item in items if item.group == group))
        for group in dict.fromkeys(item.group for item in items)
    )


def _order(result: ReadBack) -> list[str]:
    label = VERDICTS[result.ordered.assessment.verdict][0]
    said = f"Verdict on the order, whatever was seen: {label}."
    return [said, *map(_short, result.ordered.assessment.findings)]


def _short(finding: Finding) -> str:
    title = order_words.heading(finding)
    return f"{LEVELS[finding.level]}: {title}: {finding.says} Rule: {finding.rule}"


def _unchecked(result: ReadBack) -> list[str]:
    parts = (("", result), ("The order: ", result.ordered), ("The settings seen: ", result.as_set))
    return [
        f"{whose}{LEVELS[rule.level]}: {rule.rule}, for lack of {', '.join(rule.missing)}."
        for whose, part in parts
        for rule in part.assessment.unchecked
    ]
