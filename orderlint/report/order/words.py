"""The words of a report on one order, shared by its text, its page and the formats for CI.

Whole sentences, not yet wrapped or escaped. Never a layout, and never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Finding, Inactive, Level, NotChecked, Place, Suppressed, Verdict
from orderlint.report.blocks import Entry, Marked
from orderlint.report.order.checked import unchecked_weight
from orderlint.report.words import DRAFT, ENDED, LABELS, LEVELS, OF_ORDER, WHILE_ACTIVE, counted
from orderlint.rulebook.rule import MISSING_FAMILY
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.order import Leaf
    from orderlint.verification import Verified

PICTURE = "The order in a picture"
BEHAVIOUR = "What the controller would do with these settings, by ICP"
UNCHECKED = "Could not be checked"
SUPPRESSED = "Suppressed by the policy"
NOT_ASKED = "Rules that were not asked"
CHECKED = "What was checked"
NOT_CHECKED = "Written, not checked"
LONGEST_TEXT = 4_000
"""Most characters shown of a free text that is not checked."""
ALL_CHECKED = "Every rule that was asked could be checked."


def may_be_running(verified: Verified) -> bool:
    """True if a point is open while the order may be running.

    An order of unknown status may be active; then only the heaviest verdict counts.
    """
    status = verified.order.leaves["status"]
    if status.value == "active":
        return bool(verified.assessment.findings or verified.assessment.unchecked)
    return not status.known and verified.assessment.verdict is Verdict.DO_NOT_START


def document_words(verified: Verified) -> str:
    """Which order it is, by its file, identifier, revision and status."""
    leaves = verified.order.leaves
    # Of which order a draft is, its text mostly does not say.
    if verified.is_draft:
        known = (f", {path} {quote(leaves[path].text)}" for path in _WHICH if leaves[path].known)
        return f"{verified.file}: draft of an order, read from a text{''.join(known)}."
    name = quote(leaves["id"].text) if leaves["id"].given else "without an identifier"
    said = [f"order {name}", *(f"{path} {_said(leaves[path])}" for path in ("revision", "status"))]
    return f"{verified.file}: {', '.join(said)}."


_WHICH = ("id", "revision", "status")


def _said(leaf: Leaf) -> str:
    if leaf.given and not leaf.known:
        return "cannot be read"
    return quote(leaf.text) if leaf.known else "not written"


def verdict_words(verified: Verified) -> tuple[str, str]:
    """The verdict, and what follows from it."""
    verdict = verified.assessment.verdict
    label = f"{LABELS[verdict]}{as_far_as_read(verdict, verified.not_checked)}"
    return label, by_status(OF_ORDER[verdict], verified, verdict)


def as_far_as_read(verdict: Verdict, texts: Iterable[NotChecked]) -> str:
    """What follows a verdict where free texts are not checked, else ''."""
    names = list(dict.fromkeys(in_sentence(item.name) for item in texts))
    if not names:
        return ""
    last = names.pop()
    listed = f"{', '.join(names)} and {last}" if names else last
    read = "" if verdict is Verdict.DO_NOT_START else ", as far as read"
    return f"{read}; {listed} not checked"


def not_checked_words(texts: Iterable[NotChecked]) -> Iterator[str]:
    """Each free text that is not checked, whole unless nobody would read it to its end."""
    for item in texts:
        text = " ".join(item.text.split())
        more = len(text) - LONGEST_TEXT
        rest = f" and {more:,} more characters, to be read in the file" if more > 0 else ""
        yield f"{NOT_CHECKED}: {item.name}{_line(item.place)}: “{text[:LONGEST_TEXT]}”{rest}"


def by_status(sentence: str, verified: Verified, verdict: Verdict) -> str:
    """A verdict's sentence as fits an order that is active or has ended.

    `verdict` is that on the order, or on a comparison with it.
    """
    status = verified.order.leaves["status"].value
    if status == "active":
        return WHILE_ACTIVE.get(verdict, sentence)
    if status == "draft" and verdict in {Verdict.CLEAR, Verdict.NOTE}:
        return f"{sentence} {DRAFT}"
    return f"{ENDED} {sentence}" if status == "ended" else sentence


def verdict_notes(verified: Verified) -> list[str]:
    """The notes under a verdict: texts not checked, what to do, what is left open or suppressed."""
    _, sentence = verdict_words(verified)
    texts = not_checked_words(verified.not_checked)
    beside = (
        *unchecked_weight(verified.assessment.unchecked),
        *suppressed_weight(verified.assessment.suppressed),
    )
    return [*texts, sentence, *beside]


def suppressed_weight(suppressed: Iterable[Suppressed]) -> Iterator[str]:
    """How many findings the policy suppresses and the heaviest of them, if it does any."""
    levels = [item.finding.level for item in suppressed]
    if levels:
        count = f"{counted(len(levels), 'finding')} {'is' if len(levels) == 1 else 'are'}"
        heaviest = LEVELS[max(levels, key=lambda level: level.weight)]
        yield f"{count} suppressed by the policy, named below; the heaviest is {heaviest}."


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


def finding_heading(finding: Finding) -> str:
    """The setting that a finding names first, by display name and path."""
    if not finding.path:
        return "The order as a whole"
    return finding.path if finding.name == finding.path else f"{finding.name} ({finding.path})"


def details(finding: Finding) -> list[str]:
    """The details of a finding, a line each."""
    parts = (*advice(finding, finding.written or "nothing"), *references(finding))
    return [f"{name}: {text}" for name, text in parts]


def advice(finding: Finding, written: str) -> Iterator[tuple[str, str]]:
    """What to ask, what is `written`, what would be consistent, and why it matters."""
    for label, text in (
        (f"Ask the {finding.ask_whom}", finding.ask),
        ("Written", written),
        ("Would be consistent", finding.expected),
        ("Why", finding.why),
    ):
        if text:
            yield label, text


def references(finding: Finding) -> Iterator[tuple[str, str]]:
    """The source, where it is written, with what, and the rule."""
    if finding.source:
        yield "Source", finding.source
    yield "Place", finding.place.where
    for mention in finding.also:
        place = f" ({mention.place.where})" if mention.place else ""
        yield "With", f"{mention.name}: {mention.written}{place}"
    yield "Rule", finding.rule


def written_lines(finding: Finding) -> str:
    """What is written and with what, each with its row in the file."""
    said = [f"{finding.written or 'nothing'}{_line(finding.place)}"]
    said += [f"{in_sentence(m.name)}: {m.written}{_line(m.place)}" for m in finding.also]
    return "; ".join(said)


def _line(place: Place | None) -> str:
    element = f", {place.element}" if place and place.element else ""
    return f" (row {place.line}{element})" if place else ""


def more_words(groups: Iterable[Sequence[Finding]]) -> Iterator[str]:
    """How many findings stand below the first, by level; nothing where there are none."""
    levels = [finding.level for group in groups for finding in group]
    counts = [f"{levels.count(level)} {LEVELS[level]}" for level in Level if level in levels]
    if counts:
        yield f"And {len(levels)} more below: {', '.join(counts)}."


def missing_heading(findings: Iterable[Finding]) -> str:
    """Who is to be asked to have the missing settings written."""
    whom = " and the ".join(dict.fromkeys(finding.ask_whom for finding in findings))
    return f"Missing from the order. Ask the {whom} to have these written:"


def missing_words(findings: Iterable[Finding]) -> Iterator[Marked]:
    """The settings not written, a line for each level and section."""
    lines: dict[tuple[Level, str], dict[str, None]] = {}
    for finding in findings:
        key = finding.level, section_name(finding.path)
        lines.setdefault(key, {})[in_sentence(finding.name)] = None
    for (level, section), names in lines.items():
        yield Marked(level, f"{section}: {', '.join(names)}")


def section_name(path: str) -> str:
    """The part of an order in which a setting stands."""
    top, dot, _ = path.partition(".")
    return field_table().display_name(top) if dot else "Order"


def suppressed_entry(item: Suppressed) -> Entry:
    """A finding that the policy suppresses, with until when, why and by whom."""
    finding = item.finding
    details = (
        f"Suppressed until {item.until}: {item.reason}",
        f"Approved by: {item.approved_by} ({item.place})",
        f"Rule: {finding.rule}",
    )
    return Entry(f"{LEVELS[finding.level]}: {finding_heading(finding)}", finding.says, details)


def inactive_words(inactive: Iterable[Inactive]) -> list[str]:
    """The rules that were not asked, a sentence for each reason."""
    groups: dict[str, dict[str, None]] = {}
    for rule in inactive:
        groups.setdefault(rule.reason, {})[rule.rule] = None
    return [f"{reason.rstrip('.')}: {', '.join(ids)}." for reason, ids in groups.items()]
