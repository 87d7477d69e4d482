"""The words of a report on one order that its text, its page and the forms for CI share.

Whole sentences, not yet wrapped or made safe. Never a layout, and never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table, in_sentence
from orderlint.finding import Level, Verdict
from orderlint.report.blocks import Entry, Marked
from orderlint.report.order.table import lacking
from orderlint.report.verdicts import ENDED, LABELS, OF_ORDER, WHILE_ACTIVE
from orderlint.report.words import (
    FREE_TEXT,
    LEVELS,
    counted,
    instant_words,
)
from orderlint.rulebook.standing_orders import filled_in
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Finding, Inactive, Mention, Suppressed, Unchecked
    from orderlint.order import Leaf
    from orderlint.verification import Verified

MISSING_FAMILY = "complete"
"""The family of the findings that a setting is not written."""

PICTURE = "The order in a picture"
BEHAVIOUR = "What the controller would do with these settings, by ICP"
UNCHECKED = "Could not be checked"
SUPPRESSED = "Suppressed by the policy"
NOT_ASKED = "Rules that were not asked"
CHECKED = "What was checked"
ALL_CHECKED = "Every rule that was asked could be checked."


def may_be_running(verified: Verified) -> bool:
    """Whether there is something to ask while staff may have the order running.

    An order whose status cannot be had may be active; then only what is heaviest is worth a word.
    """
    status = verified.order.leaves["status"]
    if status.value == "active":
        return bool(verified.assessment.findings or verified.assessment.unchecked)
    return not status.known and verified.assessment.verdict is Verdict.DO_NOT_START


def document_words(verified: Verified) -> str:
    """Which order it is, by its file, identifier, revision and status."""
    leaves = verified.order.leaves
    name = quote(leaves["id"].text) if leaves["id"].given else "without an identifier"
    said = [f"order {name}", *(f"{path} {_said(leaves[path])}" for path in ("revision", "status"))]
    return f"{verified.file}: {', '.join(said)}."


def _said(leaf: Leaf) -> str:
    if leaf.given and not leaf.known:
        return "cannot be read"
    return quote(leaf.text) if leaf.known else "not written"


def verdict_words(verified: Verified) -> tuple[str, str]:
    """The verdict, and what follows from it."""
    verdict = verified.assessment.verdict
    return LABELS[verdict], by_status(OF_ORDER[verdict], verified, verdict)


def by_status(sentence: str, verified: Verified, verdict: Verdict) -> str:
    """A verdict's sentence as fits an order that is active or has ended.

    `verdict` is that on the order, or on a comparison with it.
    """
    status = verified.order.leaves["status"].value
    if status == "active":
        return WHILE_ACTIVE.get(verdict, sentence)
    return f"{ENDED} {sentence}" if status == "ended" else sentence


def verdict_notes(verified: Verified) -> list[str]:
    """What stands beneath a verdict: what follows, what was left open, what is suppressed."""
    _, sentence = verdict_words(verified)
    beside = (
        *unchecked_weight(verified.assessment.unchecked),
        *suppressed_weight(verified.assessment.suppressed),
    )
    return [sentence, *beside]


def unchecked_weight(unchecked: Sequence[Unchecked]) -> Iterator[str]:
    """How many rules could not be checked and the heaviest of them, if there are any."""
    if unchecked:
        heaviest = LEVELS[_heaviest(unchecked)]
        count = counted(len(unchecked), "rule")
        yield f"{count} could not be checked; the heaviest would be {heaviest}."


def suppressed_weight(suppressed: Iterable[Suppressed]) -> Iterator[str]:
    """How many findings the policy suppresses and the heaviest of them, if it does any."""
    levels = [item.finding.level for item in suppressed]
    if levels:
        count = f"{counted(len(levels), 'finding')} {'is' if len(levels) == 1 else 'are'}"
        heaviest = LEVELS[max(levels, key=lambda level: level.weight)]
        yield f"{count} suppressed by the policy, named below; the heaviest is {heaviest}."


def _heaviest(unchecked: Iterable[Unchecked]) -> Level:
    return max((rule.level for rule in unchecked), key=lambda level: level.weight)


def in_order(findings: Iterable[Finding]) -> Iterator[list[Finding]]:
    """Each finding alone, heaviest first; missing parts together, at their heaviest level's end."""
    found = list(findings)
    missing = missing_in(found)
    for level in Level:
        for finding in found:
            if finding.level is level and finding.family != MISSING_FAMILY:
                yield [finding]
        if missing and missing[0].level is level:
            yield missing


def missing_in(findings: Iterable[Finding]) -> list[Finding]:
    """The findings that a setting is not written."""
    return [finding for finding in findings if finding.family == MISSING_FAMILY]


def heading(finding: Finding) -> str:
    """The setting that a finding leads with, by its trade name and path."""
    if not finding.path:
        return "The order as a whole"
    return finding.path if finding.name == finding.path else f"{finding.name} ({finding.path})"


def details(finding: Finding) -> list[str]:
    """What stands beneath what a finding says, a line for each part of it."""
    return [f"{name}: {text}" for name, text in named_details(finding)]


def named_details(finding: Finding) -> Iterator[tuple[str, str]]:
    """The same, each part as its name and its text."""
    yield "Written", finding.written or "nothing"
    for label, text in (
        ("Consistent", finding.expected),
        ("Why", finding.why),
        (f"Ask the {finding.ask_whom}", finding.ask),
        ("Source", finding.source),
    ):
        if text:
            yield label, text
    yield "Place", str(finding.place)
    for mention in finding.also:
        yield "With", _mention(mention)
    yield "Rule", finding.rule


def _mention(mention: Mention) -> str:
    place = f" ({mention.place})" if mention.place else ""
    return f"{mention.name}: {mention.written}{place}"


def missing_heading(findings: Iterable[Finding]) -> str:
    """Who is to be asked to have the missing settings written."""
    whom = " and the ".join(dict.fromkeys(finding.ask_whom for finding in findings))
    return f"Missing from the order. Ask the {whom} to have these written:"


def missing_words(findings: Iterable[Finding]) -> Iterator[Marked]:
    """The settings not written, a line for each level and section."""
    lines: dict[tuple[Level, str], dict[str, None]] = {}
    for finding in findings:
        key = finding.level, _section_name(finding.path)
        lines.setdefault(key, {})[in_sentence(finding.name)] = None
    for (level, section), names in lines.items():
        yield Marked(level, f"{section}: {', '.join(names)}")


def _section_name(path: str) -> str:
    top, dot, _ = path.partition(".")
    return field_table().trade_name(top) if dot else "Order"


def unchecked_words(unchecked: Iterable[Unchecked], leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """The rules left open, a line for each group of settings that they lack."""
    groups: dict[tuple[str, ...], list[Unchecked]] = {}
    for rule in unchecked:
        groups.setdefault(rule.missing, []).append(rule)
    for paths, rules in groups.items():
        ids = ", ".join(rule.rule for rule in rules)
        heaviest = LEVELS[_heaviest(rules)]
        heavy = heaviest if len(rules) == 1 else f"the heaviest {heaviest}"
        count = counted(len(rules), "rule")
        yield f"For lack of {lacking(paths, leaves)}: {count}, {heavy}: {ids}."


def suppressed_entry(item: Suppressed) -> Entry:
    """A finding that the policy suppresses, with until when, why and by whom."""
    finding = item.finding
    details = (
        f"Suppressed until {item.until}: {item.reason}",
        f"Approved by: {item.approved_by} ({item.place})",
        f"Rule: {finding.rule}",
    )
    return Entry(f"{LEVELS[finding.level]}: {heading(finding)}", finding.says, details)


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
        f"{counted(verified.assessment.rules, 'rule')}, under “{verified.policy}”{when}."
        f"{policy_words(verified)} {FREE_TEXT}"
    )


def policy_words(verified: Verified) -> str:
    """Where the policy lets more orders pass, and what the order has from it, after a blank."""
    weaker = f" It is weaker than the built-in policy in: {', '.join(verified.weaker)}."
    return (weaker if verified.weaker else "") + standing_words(verified)


def standing_words(verified: Verified) -> str:
    """What the order has from the policy's standing orders, after a blank; '' if nothing."""
    lines = [*filled_in(verified.order)]
    return f" {FROM_POLICY}: {standing_lines(verified.paper, lines)}." if lines else ""


FROM_POLICY = "What the order does not say is from the policy"


def standing_lines(paper: str, leaves: Iterable[Leaf]) -> str:
    """The lines of standing orders with the name of their paper."""
    names = field_table().trade_name
    lines = (f"{in_sentence(names(leaf.path))} {quote(leaf.text)}" for leaf in leaves)
    return f"{', '.join(lines)} ({quote(paper)})"
