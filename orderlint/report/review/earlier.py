"""What the review of a set has that the review of the earlier set had too.

By rules, not by the very order that breaks one: where an option is taken out, another order is the
nearest, and nothing is new. Never hides a finding.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.order.json import found_member

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.finding import Finding, Level
    from orderlint.report.ci.results import CheckedDocument, CiReport, CiResult
    from orderlint.set_review import Reviewed

Key = tuple[str, ...]
_PRESET, _REACHABLE = "preset", "reachable"


class EarlierReview(NamedTuple):
    """What was told of an earlier set.

    `told` has the heaviest level of each finding by what it is known by, `left_open` the settings
    for lack of which some order left a rule unchecked.
    """

    told: Mapping[Key, Level]
    left_open: Mapping[str, frozenset[str]]


class EarlierSets(NamedTuple):
    """The earlier reviews by the file of the set as it is now, and what is to be said of them."""

    reviews: Mapping[str, EarlierReview]
    notes: tuple[str, ...] = ()


def earlier_review(reviewed: Reviewed) -> EarlierReview:
    """What is known of a set after its review."""
    told: dict[Key, Level] = {}
    for key, level in _told(reviewed):
        told[key] = max(level, told.get(key, level), key=lambda each: each.weight)
    unchecked = reviewed.assessment.unchecked
    return EarlierReview(told, {item.rule: frozenset(item.missing) for item in unchecked})


def _told(reviewed: Reviewed) -> Iterator[tuple[Key, Level]]:
    for finding in reviewed.assessment.findings:
        if not finding.breaks:
            yield (finding.rule, finding.path), finding.level
    # A rule that a heavier one covers has no finding of its own, and is broken all the same.
    for item in reviewed.broken:
        yield (_REACHABLE, item.rule.id), reviewed.rulebook.rules[item.rule.id].level
    for finding in reviewed.presets.assessment.findings:
        yield (_PRESET, finding.rule), finding.level
        yield (_REACHABLE, finding.rule), finding.level


def mark_known(report: CiReport, reviewed: Sequence[Reviewed], earlier: EarlierSets) -> CiReport:
    """The same report with each result marked as known or new; none is removed."""
    pairs = zip(report.checked, reviewed, strict=True)
    return report._replace(checked=tuple(_marked(each, of, earlier) for each, of in pairs))


def _marked(checked: CheckedDocument, reviewed: Reviewed, earlier: EarlierSets) -> CheckedDocument:
    before = earlier.reviews.get(checked.file, EarlierReview({}, {}))
    missing = {item.rule: item.missing for item in reviewed.assessment.unchecked}
    results = tuple(
        result._replace(known=_is_known(result, missing, before)) for result in checked.results
    )
    return checked._replace(results=results, warnings=(*checked.warnings, *earlier.notes))


def _is_known(
    result: CiResult, missing: Mapping[str, Sequence[str]], before: EarlierReview
) -> bool:
    finding = result.finding
    if result.is_open:
        lacking = {*missing[finding.rule]} <= before.left_open.get(finding.rule, frozenset())
        return lacking or _was_told((_REACHABLE, finding.rule), finding, before)
    if finding.breaks:
        found = str(found_member(finding)["found"])
        return _was_told((found, finding.breaks), finding, before)
    return _was_told((finding.rule, finding.path), finding, before)


def _was_told(key: Key, finding: Finding, before: EarlierReview) -> bool:
    """Whether it was told at the same level or a heavier one."""
    level = before.told.get(key)
    return level is not None and level.weight >= finding.level.weight
