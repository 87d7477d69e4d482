"""One reviewed order set as plain text for its author.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.proof import Result
from orderlint.report import review_words as words
from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order_words import details, heading, suppressed_weight
from orderlint.report.table import not_had
from orderlint.report.text import inactive_lines, suppressed_section
from orderlint.report.words import CAUTION, LEVELS, VERDICTS, instant_words

if TYPE_CHECKING:
    from collections.abc import Container, Iterator

    from orderlint.finding import Finding
    from orderlint.review import Reviewed

_SENTENCES = {
    "do-not-start": "Some order from this set must not be started, or the set cannot be used.",
    "clarify": "Look at the points below before orders are made from this set.",
    "incomplete": "Nothing was found that is broken, but some order may leave a rule unchecked.",
    "note": "No order from the set breaks a rule that has to be asked about. Read the notes below.",
    "clear": "Every rule that was asked is proved of every order from this set.",
}
_LISTED = (Result.BROKEN, Result.NOT_PROVED, Result.PROVED, Result.VACUOUS, Result.AT_SIGNING)


def render(
    reviewed: Reviewed, known: Container[Finding] = (), *, color: bool, width: int, at: int
) -> str:
    """The whole report, ending in a line feed; `at` is in milliseconds since 1970 UTC.

    `known` are the findings that stood in the baseline.
    """
    parts = [
        paragraph(words.heading(reviewed), width),
        _verdict(reviewed, color, width),
        *(_block(f, reviewed, color, width, f in known) for f in reviewed.findings),
        section("Still to be filled in by whoever signs", _to_fill(reviewed, width), width),
        section("Left open", _open(reviewed, width), width),
        *suppressed_section(reviewed.suppressed, width),
        section("What became of each rule", _rules(reviewed, width), width),
        section("Rules that were not asked", inactive_lines(reviewed.inactive, width), width),
        section(
            "What was checked",
            [paragraph(words.checked(reviewed, f", as of {instant_words(at)}"), width, 2)],
            width,
        ),
        paragraph(words.COVERS, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _verdict(reviewed: Reviewed, color: bool, width: int) -> str:
    label = VERDICTS[reviewed.verdict][0]
    lines = [painted(f"Verdict: {label}", label, reviewed.verdict, color)]
    lines += [
        paragraph(text, width, 2)
        for text in (
            _SENTENCES[reviewed.verdict.value],
            words.summary(reviewed),
            *suppressed_weight(reviewed.suppressed),
        )
    ]
    return "\n".join(lines)


def _block(finding: Finding, reviewed: Reviewed, color: bool, width: int, is_known: bool) -> str:
    label = LEVELS[finding.level]
    title = heading(finding) if finding.path else "The set as a whole"
    first = paragraph(f"{label}: {title}", width, 0, 2)
    lines = [painted(first, label, finding.level, color), paragraph(finding.says, width, 2)]
    if is_known:
        lines.append(paragraph("Known from the baseline.", width, 2))
    broken = next((item for item in reviewed.broken if item.said is finding), None)
    if broken is not None:
        lines.append(paragraph("The nearest order to the presets that does so:", width, 2))
        lines += [paragraph(line, width, 4, 2) for line in words.picks(broken)]
        lines.append(paragraph(words.narrowing(broken, reviewed), width, 2))
    lines += [paragraph(line, width, 2, 2) for line in details(finding)]
    return "\n".join(lines)


def _to_fill(reviewed: Reviewed, width: int) -> list[str]:
    from orderlint.fields import field_table, in_sentence  # noqa: PLC0415

    names = [in_sentence(field_table().trade_name(path)) for path in reviewed.to_fill]
    return (
        [paragraph(f"{', '.join(names)}.", width, 2)]
        if names
        else [paragraph("Nothing.", width, 2)]
    )


def _open(reviewed: Reviewed, width: int) -> list[str]:
    leaves = reviewed.presets.order.leaves
    groups: dict[tuple[str, ...], list[str]] = {}
    for item in reviewed.unchecked:
        groups.setdefault(item.missing, []).append(item.rule)
    lines = [
        paragraph(
            f"An order may leave these unchecked, for lack of "
            f"{', '.join(not_had(path, leaves[path]) for path in missing)}: {', '.join(rules)}.",
            width,
            2,
            2,
        )
        for missing, rules in groups.items()
    ]
    not_proved = len(words.proved(reviewed).get(Result.NOT_PROVED, ()))
    if not_proved:
        text = f"Of the {not_proved} rules that were not proved it is not known."
        lines.append(paragraph(text, width, 2))
    return lines or [paragraph("No order from the set leaves a rule unchecked.", width, 2)]


def _rules(reviewed: Reviewed, width: int) -> Iterator[str]:
    found = words.proved(reviewed)
    for result in _LISTED:
        rules = found.get(result, [])
        yield paragraph(f"{words.RESULTS[result]}: {', '.join(rules) or 'none'}.", width, 2, 2)
