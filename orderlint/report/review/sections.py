"""What a review says in each of its sections, line by line, for its text and its page.

Sentences not yet wrapped or made safe. Never a proof, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.proof import Result
from orderlint.report.order.table import not_had
from orderlint.report.order.words import heading, suppressed_weight
from orderlint.report.review import words
from orderlint.report.words import LEVELS, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.finding import Finding
    from orderlint.review import Broken, Reviewed

TO_FILL = "Still to be filled in by whoever signs"
OPEN = "Left open"
RULES = "What became of each rule"
KNOWN = "Known from the baseline."
NEAREST = "The nearest order to the presets that does so:"
PRESETS = "The presets as they stand"
TOGETHER = "The narrowings named above, taken together"

_SENTENCES = {
    "do-not-start": "Some order from this set must not be started, or the set cannot be used.",
    "clarify": "Look at the points below before orders are made from this set.",
    "incomplete": "Nothing was found that is broken, but some order may leave a rule unchecked.",
    "note": "No order from the set breaks a rule that has to be asked about. Read the notes below.",
    "clear": "Every rule that was asked is proved of every order from this set.",
}
_LISTED = (Result.BROKEN, Result.NOT_PROVED, Result.PROVED, Result.VACUOUS, Result.AT_SIGNING)


def notes(reviewed: Reviewed) -> list[str]:
    """What stands beneath the verdict."""
    return [
        _SENTENCES[reviewed.verdict.value],
        words.summary(reviewed),
        *suppressed_weight(reviewed.suppressed),
    ]


def title(finding: Finding) -> str:
    """What a finding is about."""
    return heading(finding) if finding.path else "The set as a whole"


def broken_by(finding: Finding, reviewed: Reviewed) -> Broken | None:
    """The rule and the order that breaks it, where a finding says so."""
    return next((item for item in reviewed.broken if item.said is finding), None)


def presets(reviewed: Reviewed) -> list[str]:
    """What `verify` finds in the presets, signed as they stand."""
    found = reviewed.presets.findings
    if not found:
        return ["Signed as they stand, verify finds nothing in them."]
    said = [f"{LEVELS[f.level]}: {title(f)}, by the rule {f.rule}." for f in found]
    return ["Signed as they stand, verify finds in them:", *said]


def to_fill(reviewed: Reviewed) -> list[str]:
    """The settings that somebody must fill in before the presets are an order."""
    names = [words.name_of(path) for path in reviewed.to_fill]
    return [f"{', '.join(names)}." if names else "Nothing."]


def left_open(reviewed: Reviewed) -> list[str]:
    """The rules that some order leaves unchecked, and those that were not proved."""
    leaves = reviewed.presets.order.leaves
    groups: dict[tuple[str, ...], list[str]] = {}
    for item in reviewed.unchecked:
        groups.setdefault(item.missing, []).append(item.rule)
    lines = [
        f"An order may leave these unchecked, for lack of "
        f"{', '.join(not_had(path, leaves[path]) for path in missing)}: {', '.join(rules)}."
        for missing, rules in groups.items()
    ]
    not_proved = len(words.proved(reviewed).get(Result.NOT_PROVED, ()))
    if not_proved:
        lines.append(f"Of the {not_proved} rules that were not proved it is not known.")
    return lines or ["No order from the set leaves a rule unchecked."]


def rules(reviewed: Reviewed) -> Iterator[tuple[str, str]]:
    """What can become of a rule, and the rules of which it did."""
    found = words.proved(reviewed)
    for result in _LISTED:
        yield words.RESULTS[result], f"{', '.join(found.get(result, [])) or 'none'}."
    partly = words.in_part(reviewed)
    if partly:
        yield words.IN_PART, f"{', '.join(partly)}."


def checked(reviewed: Reviewed, at: int) -> str:
    """What was reviewed, by what and as of when, in milliseconds since 1970 UTC."""
    return words.checked(reviewed, f", as of {instant_words(at)}")
