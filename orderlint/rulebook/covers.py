"""The transitive closure of `covers:` and `covered_by:`.

A covered rule is not shown beside one that covers it, where both are broken at one setting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.rulebook.yaml_fields import listed, near, refuse

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.reading.node import Scalar, Section
    from orderlint.rulebook.rule import Rule


class Cover(NamedTuple):
    """The rule `upper` covers the rule `lower`; `written` is the id in the file."""

    upper: str
    lower: str
    written: Scalar


def covers_of(record: Section, rule: str) -> Iterator[Cover]:
    """The covers in a rule's record, from and to it."""
    for other in listed(record, "covers"):
        yield Cover(rule, other.text, other)
    for other in listed(record, "covered_by"):
        yield Cover(other.text, rule, other)


def transitive_closure(
    covers: Iterable[Cover], rules: Mapping[str, Rule]
) -> Mapping[str, frozenset[str]]:
    """The rules that each rule covers, directly or through others.

    Raises Refused at an unknown id, a rule that covers a heavier one, or a circle.
    """
    straight: dict[str, list[Cover]] = {rule: [] for rule in rules}
    for cover in covers:
        _check_cover(cover, rules)
        straight[cover.upper].append(cover)
    return {rule: _reached(rule, straight) for rule in rules}


def _check_cover(cover: Cover, rules: Mapping[str, Rule]) -> None:
    if cover.written.text not in rules:
        refuse(
            cover.written, f"there is no rule {cover.written.text}{near(cover.written.text, rules)}"
        )
    upper, lower = rules[cover.upper].level, rules[cover.lower].level
    if lower.weight > upper.weight:
        message = f"{cover.lower} is {lower.value}; a rule that is {upper.value} cannot cover it"
        refuse(cover.written, message)


def _reached(rule: str, straight: Mapping[str, Iterable[Cover]]) -> frozenset[str]:
    reached: set[str] = set()
    ahead = [*straight[rule]]
    while ahead:
        cover = ahead.pop()
        if cover.lower == rule:
            refuse(cover.written, f"{rule} would cover itself")
        if cover.lower not in reached:
            reached.add(cover.lower)
            ahead.extend(straight[cover.lower])
    return frozenset(reached)
