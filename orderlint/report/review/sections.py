"""What a review says in each of its sections, line by line, for its text and its page.

Sentences not yet wrapped or made safe. Never a proof, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Level
from orderlint.proof import Result
from orderlint.report.order.table import not_had
from orderlint.report.order.words import heading, missing_in, missing_words, suppressed_weight
from orderlint.report.review import words
from orderlint.report.words import LEVELS, instant_words

if TYPE_CHECKING:
    from collections.abc import Container, Iterator

    from orderlint.finding import Finding
    from orderlint.set_review import Broken, Reviewed

PRESETS = "The presets as they stand"
TO_FILL = "Still to be filled in by whoever signs:"
MISSING = (
    "Missing from the presets. Ask the author to have these written, or asked for by a blank that "
    "must be filled in:"
)
COVERED = "Broken as well, and spoken for by a heavier rule"
TOGETHER = "The narrowings named above, taken together"
OPEN = "Left open"
RULES = "What became of each rule"
KNOWN = "Known from the baseline."

_SENTENCES = {
    "do-not-start": "Make no order from this set, not even from its presets, before the points "
    "below are settled.",
    "clarify": "Look at the points below before orders are made from this set.",
    "incomplete": "Nothing was found that is broken, but some order may leave a rule unchecked.",
    "note": "No order from the set breaks a rule that has to be asked about. Read the notes below.",
    "clear": "Every rule that can be asked before signing is proved of every order from this set.",
}
_ABOUT_AN_ORDER = ("preset-breaks-rule", "reachable-order-breaks-rule")
_ALWAYS = (Result.BROKEN, Result.NOT_PROVED, Result.PROVED)
"""What is said even where it became of no rule."""


def notes(reviewed: Reviewed) -> list[str]:
    """What stands beneath the verdict."""
    heavy = (f for f in reviewed.assessment.findings if f.level is Level.DO_NOT_START)
    is_reached = any(finding.rule in _ABOUT_AN_ORDER for finding in heavy)
    reached = "Some order from this set must not be started. " if is_reached else ""
    return [
        reached + _SENTENCES[reviewed.assessment.verdict.value],
        words.count(reviewed),
        words.summary(reviewed),
        *suppressed_weight(reviewed.assessment.suppressed),
    ]


def title(finding: Finding) -> str:
    """What a finding is about."""
    return heading(finding) if finding.path else "The set as a whole"


def broken_by(finding: Finding, reviewed: Reviewed) -> Broken | None:
    """The rule and the order that breaks it, where a finding says so."""
    return next((item for item in reviewed.broken if item.said is finding), None)


def presets(reviewed: Reviewed) -> list[str]:
    """Whether the presets are sound, and what must be filled in before they are an order."""
    names = ", ".join(words.name_of(path) for path in reviewed.to_fill)
    return [" ".join(_presets(reviewed)), f"{TO_FILL} {names or 'nothing'}."]


def _presets(reviewed: Reviewed) -> Iterator[str]:
    signed = reviewed.presets
    levels = [finding.level for finding in signed.assessment.findings]
    if levels:
        heaviest = LEVELS[max(levels, key=lambda level: level.weight)]
        points = "1 point" if len(levels) == 1 else f"{len(levels)} points"
        if Level.DO_NOT_START in levels:
            yield "They are not sound."
        yield f"Signed as they stand, verify finds {points} in them, named below; the heaviest is"
        yield f"{heaviest}."
    elif reviewed.order_set.unsettled:
        yield "Whether they are sound is not known: faults in the set leave open what they are."
    else:
        yield "They are sound as far as they are filled in: verify finds nothing in them."
    yield from suppressed_weight(signed.assessment.suppressed)
    waiting = [
        rule for rule in signed.assessment.unchecked if {*rule.missing} <= {*reviewed.to_fill}
    ]
    if waiting:
        yield f"Until the blanks below are filled in, {_rules(len(waiting))} cannot be checked."
    if left := len(signed.assessment.unchecked) - len(waiting):
        yield f"For lack of what is not there, or cannot be read, {_rules(left)} could not be"
        yield "checked."


def _rules(number: int) -> str:
    return "1 rule" if number == 1 else f"{number} rules"


def missing(reviewed: Reviewed) -> list[Finding]:
    """The findings that a setting is not written in the presets."""
    paths = {finding.path for finding in missing_in(reviewed.presets.assessment.findings)}
    found = (f for f in reviewed.assessment.findings if f.rule == "preset-breaks-rule")
    return [finding for finding in found if finding.path in paths]


def missing_lines(reviewed: Reviewed, known: Container[Finding]) -> Iterator[tuple[Level, str]]:
    """The settings not written in the presets, a line for each level and section."""
    gone = missing(reviewed)
    yield from missing_words(finding for finding in gone if finding not in known)
    for level, text in missing_words(finding for finding in gone if finding in known):
        yield level, f"{text}. {KNOWN}"


def left_open(reviewed: Reviewed) -> list[str]:
    """The rules that some order leaves unchecked, and those that were not proved."""
    leaves = reviewed.presets.order.leaves
    groups: dict[tuple[str, ...], list[str]] = {}
    for item in reviewed.assessment.unchecked:
        groups.setdefault(item.missing, []).append(item.rule)
    lines = [
        f"An order may leave these unchecked, for lack of "
        f"{', '.join(not_had(path, leaves[path]) for path in missing)}: {', '.join(rules)}."
        for missing, rules in groups.items()
    ]
    not_proved = len(words.proved(reviewed).get(Result.NOT_PROVED, ()))
    if not_proved:
        lines.append(
            f"Of the {not_proved} rules that were not proved it is not known whether some order "
            "leaves them unchecked."
        )
    waits = ", but for those left to signing" if Result.AT_SIGNING in words.proved(reviewed) else ""
    return lines or [f"No order from the set leaves a rule unchecked{waits}."]


def rules(reviewed: Reviewed) -> Iterator[tuple[str, str, str]]:
    """What can become of a rule, what that means, and the rules of which it did."""
    found = words.proved(reviewed)
    for result, name in words.NAMES.items():
        ids = found.get(result, [])
        if ids or result in _ALWAYS:
            yield f"{name} ({len(ids)})", words.MEANINGS[result], f"{', '.join(ids) or 'none'}."
    partly = words.in_part(reviewed)
    if partly:
        yield f"{words.IN_PART} ({len(partly)})", words.IN_PART_MEANS, f"{', '.join(partly)}."


def checked(reviewed: Reviewed, at: int) -> str:
    """What was reviewed, by what and as of when, in milliseconds since 1970 UTC."""
    return words.checked(reviewed, f", as of {instant_words(at)}")
