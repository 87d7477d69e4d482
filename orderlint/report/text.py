"""One verified order as plain text that a nurse can read at night, or hear from a screen reader.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table, in_sentence
from orderlint.finding import Level, Verdict
from orderlint.report.layout import painted, paragraph, section
from orderlint.report.table import behaviour_lines, not_had
from orderlint.report.words import (
    ALREADY_RUNNING,
    CAUTION,
    LEVELS,
    VERDICTS,
    WHILE_ACTIVE,
    instant_words,
)
from orderlint.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.finding import Finding, Inactive, Mention, Suppressed, Unchecked
    from orderlint.order import Leaf
    from orderlint.verify import Verified

MISSING_FAMILY = "complete"
"""The family of the findings that a setting is not written."""


def render(verified: Verified, *, color: bool, width: int, at: int | None = None) -> str:
    """The whole report on one order, ending in a line feed.

    `width` is in columns; `at` is the instant of checking in milliseconds since 1970 UTC, named
    in the report where it is given. The text holds no control character but line feeds and, with
    `color`, colour.
    """
    parts = [
        *opening(verified, color, width),
        *_findings(verified.findings, color, width),
        section(
            "What the controller would do with these settings, by ICP",
            behaviour_lines(verified.behaviour, verified.order.leaves, width),
            width,
        ),
        *closing(verified, width, at),
    ]
    return "\n\n".join(parts) + "\n"


def closing(verified: Verified, width: int, at: int | None) -> Iterator[str]:
    """What was not checked, suppressed, not asked and checked, and the caution: each report's end.

    `at` is the instant of checking in milliseconds since 1970 UTC, if it is to be named.
    """
    yield section("Could not be checked", _unchecked(verified, width), width)
    yield from suppressed_section(verified.suppressed, width)
    yield section("Rules that were not asked", inactive_lines(verified.inactive, width), width)
    yield section("What was checked", [paragraph(checked_words(verified, at), width, 2)], width)
    yield paragraph(CAUTION, width)


def opening(verified: Verified, color: bool, width: int) -> Iterator[str]:
    """The document, the verdict and, for an order that may be running, what not to do."""
    if may_be_running(verified):
        yield paragraph(ALREADY_RUNNING, width)
    yield paragraph(document_words(verified), width)
    label, sentence = verdict_words(verified)
    lines = [painted(f"Verdict: {label}", label, verified.verdict, color)]
    beside = (*unchecked_weight(verified.unchecked), *suppressed_weight(verified.suppressed))
    lines += [paragraph(text, width, 2) for text in (sentence, *beside)]
    yield "\n".join(lines)


def verdict_words(verified: Verified) -> tuple[str, str]:
    """The verdict, and what follows from it."""
    label, sentence = VERDICTS[verified.verdict]
    if verified.order.leaves["status"].value == "active":
        sentence = WHILE_ACTIVE.get(verified.verdict, sentence)
    return label, sentence


def _findings(findings: tuple[Finding, ...], color: bool, width: int) -> Iterator[str]:
    """Each finding, heaviest first; missing parts in one list, at its heaviest level's end."""
    missing = [finding for finding in findings if finding.family == MISSING_FAMILY]
    for level in Level:
        for finding in findings:
            if finding.level is level and finding.family != MISSING_FAMILY:
                yield block(finding, color, width)
        if missing and missing[0].level is level:
            yield from missing_section(missing, color, width)


def may_be_running(verified: Verified) -> bool:
    """Whether there is something to ask while staff may have the order running.

    An order whose status cannot be had may be active; then only what is heaviest is worth a word.
    """
    status = verified.order.leaves["status"]
    if status.value == "active":
        return bool(verified.findings or verified.unchecked)
    return not status.known and verified.verdict is Verdict.DO_NOT_START


def document_words(verified: Verified) -> str:
    """Which order it is, by its file, identifier, revision and status."""
    leaves = verified.order.leaves
    name = quoted(leaves["id"].text) if leaves["id"].given else "without an identifier"
    said = [f"order {name}", *(f"{path} {_said(leaves[path])}" for path in ("revision", "status"))]
    return f"{verified.file}: {', '.join(said)}."


def _said(leaf: Leaf) -> str:
    if leaf.given and not leaf.known:
        return "cannot be read"
    return quoted(leaf.text) if leaf.known else "not written"


def unchecked_weight(unchecked: Sequence[Unchecked]) -> Iterator[str]:
    """How many rules could not be checked and the heaviest of them, if there are any."""
    if unchecked:
        heaviest = LEVELS[_heaviest(unchecked)]
        yield f"{_rules(len(unchecked))} could not be checked; the heaviest would be {heaviest}."


def suppressed_weight(suppressed: Iterable[Suppressed]) -> Iterator[str]:
    """How many findings the policy suppresses and the heaviest of them, if it does any."""
    levels = [item.finding.level for item in suppressed]
    if levels:
        count = "1 finding is" if len(levels) == 1 else f"{len(levels)} findings are"
        heaviest = LEVELS[max(levels, key=lambda level: level.weight)]
        yield f"{count} suppressed by the policy, named below; the heaviest is {heaviest}."


def _heaviest(unchecked: Iterable[Unchecked]) -> Level:
    return max((rule.level for rule in unchecked), key=lambda level: level.weight)


def _rules(count: int) -> str:
    return "1 rule" if count == 1 else f"{count} rules"


def block(finding: Finding, color: bool, width: int) -> str:
    """A finding with all that is said of it."""
    label = LEVELS[finding.level]
    first = paragraph(f"{label}: {heading(finding)}", width, 0, 2)
    lines = [painted(first, label, finding.level, color), paragraph(finding.says, width, 2)]
    lines += [paragraph(line, width, 2, 2) for line in details(finding)]
    return "\n".join(lines)


def heading(finding: Finding) -> str:
    """The setting that a finding leads with, by its trade name and path."""
    if not finding.path:
        return "The order as a whole"
    return finding.path if finding.name == finding.path else f"{finding.name} ({finding.path})"


def details(finding: Finding) -> Iterator[str]:
    """What stands beneath what a finding says, a line for each part of it."""
    yield f"Written: {finding.written or 'nothing'}"
    for label, text in (
        ("Consistent", finding.expected),
        ("Why", finding.why),
        (f"Ask the {finding.ask_whom}", finding.ask),
        ("Source", finding.source),
    ):
        if text:
            yield f"{label}: {text}"
    yield f"Place: {finding.place}"
    for mention in finding.also:
        yield f"With: {_mention(mention)}"
    yield f"Rule: {finding.rule}"


def _mention(mention: Mention) -> str:
    place = f" ({mention.place})" if mention.place else ""
    return f"{mention.name}: {mention.written}{place}"


def missing_section(findings: list[Finding], color: bool, width: int) -> Iterator[str]:
    """Settings not written, one line for each level and section; no part where none is missing."""
    if not findings:
        return
    lines: dict[tuple[Level, str], dict[str, None]] = {}
    for finding in findings:
        key = finding.level, _section_name(finding.path)
        lines.setdefault(key, {})[in_sentence(finding.name)] = None
    whom = " and the ".join(dict.fromkeys(finding.ask_whom for finding in findings))
    heading = f"Missing from the order. Ask the {whom} to have these written:"
    yield section(heading, (_missing_line(*key, lines[key], color, width) for key in lines), width)


def _section_name(path: str) -> str:
    top, dot, _ = path.partition(".")
    return field_table().trade_name(top) if dot else "Order"


def _missing_line(
    level: Level, section_name: str, names: Iterable[str], color: bool, width: int
) -> str:
    label = LEVELS[level]
    line = paragraph(f"{label}: {section_name}: {', '.join(names)}", width, 2, 2)
    return painted(line, label, level, color)


def _unchecked(verified: Verified, width: int) -> list[str]:
    """The rules left open, grouped by the settings that they lack."""
    groups: dict[tuple[str, ...], list[Unchecked]] = {}
    for rule in verified.unchecked:
        groups.setdefault(rule.missing, []).append(rule)
    lines = []
    for paths, rules in groups.items():
        lacking = ", ".join(not_had(path, verified.order.leaves[path]) for path in paths)
        ids = ", ".join(rule.rule for rule in rules)
        heaviest = LEVELS[_heaviest(rules)]
        heavy = heaviest if len(rules) == 1 else f"the heaviest {heaviest}"
        text = f"For lack of {lacking}: {_rules(len(rules))}, {heavy}: {ids}."
        lines.append(paragraph(text, width, 2, 2))
    return lines or [paragraph("Every rule that was asked could be checked.", width, 2)]


def suppressed_section(suppressed: Iterable[Suppressed], width: int) -> Iterator[str]:
    """What the policy keeps from being a finding. Only a policy file can; else there is no part."""
    lines = []
    for item in suppressed:
        finding = item.finding
        lines += [
            paragraph(f"{LEVELS[finding.level]}: {heading(finding)}", width, 2, 2),
            paragraph(finding.says, width, 4),
            paragraph(f"Suppressed until {item.until}: {item.reason}", width, 4, 2),
            paragraph(f"Approved by: {item.approved_by} ({item.place})", width, 4, 2),
            paragraph(f"Rule: {finding.rule}", width, 4, 2),
        ]
    if lines:
        yield section("Suppressed by the policy", lines, width)


def inactive_lines(inactive: Iterable[Inactive], width: int) -> list[str]:
    """The rules that were not asked, a paragraph for each reason, or that there is none."""
    lines = [paragraph(words, width, 2, 2) for words in inactive_words(inactive)]
    return lines or [paragraph("None was left out by the policy.", width, 2)]


def inactive_words(inactive: Iterable[Inactive]) -> list[str]:
    """The rules that were not asked, a sentence for each reason."""
    groups: dict[str, dict[str, None]] = {}
    for rule in inactive:
        groups.setdefault(rule.reason, {})[rule.rule] = None
    return [f"{reason.rstrip('.')}: {', '.join(ids)}." for reason, ids in groups.items()]


def checked_words(verified: Verified, at: int | None) -> str:
    """What was checked, and by what, in a sentence."""
    when = f", as of {instant_words(at)}" if at is not None else ""
    return (
        f"{verified.file} as an order, by the schema of orders (order, format 1) and "
        f"{_rules(verified.rules)}, under “{verified.policy}”{when}.{weaker_words(verified)}"
    )


def weaker_words(verified: Verified) -> str:
    """Where the policy lets more orders pass, after a blank; what that is, its own check shows."""
    if not verified.weaker:
        return ""
    return f" It is weaker than the built-in policy in: {', '.join(verified.weaker)}."


def render_unread(reason: str, width: int) -> str:
    """The report on a file that was not checked at all, ending in a line feed."""
    return paragraph(f"NOT CHECKED. {reason}", width) + "\n"
