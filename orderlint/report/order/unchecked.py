"""The words for the rules that could not be checked. Never why one could not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.order.table import list_missing
from orderlint.report.words import LEVELS, counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Level, Unchecked
    from orderlint.order import Leaf


def unchecked_weight(unchecked: Sequence[Unchecked]) -> Iterator[str]:
    """How many rules could not be checked and the heaviest of them, if there are any."""
    if unchecked:
        heaviest = LEVELS[_heaviest(unchecked)]
        count = counted(len(unchecked), "rule")
        yield f"{count} could not be checked; the heaviest would be {heaviest}."


def unchecked_words(unchecked: Iterable[Unchecked], leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """The unchecked rules, a line for each group of missing settings."""
    for rules in _by_reason(unchecked):
        (_, _, paths, why), ids = rules[0], ", ".join(rule.rule for rule in rules)
        heaviest = LEVELS[_heaviest(rules)]
        heavy = heaviest if len(rules) == 1 else f"the heaviest {heaviest}"
        count = counted(len(rules), "rule")
        reason = why or f"For lack of {list_missing(paths, leaves)}"
        yield f"{reason}: {count}, {heavy}: {ids}."


def few_unchecked_words(
    unchecked: Iterable[Unchecked], leaves: Mapping[str, Leaf]
) -> Iterator[str]:
    """The same, as far as it fits a screen: the heaviest, and how many rules there are beside."""
    groups = _by_reason(unchecked)
    if len(groups) <= MOST_REASONS:
        yield from unchecked_words(unchecked, leaves)
        return
    heaviest_first = sorted(groups, key=lambda rules: (not rules[0].why, -_heaviest(rules).weight))
    shown, others = heaviest_first[:MOST_REASONS], heaviest_first[MOST_REASONS:]
    yield from unchecked_words([rule for rules in shown for rule in rules], leaves)
    yield f"And {counted(sum(map(len, others)), 'rule')} more, for lack of other settings."


MOST_REASONS = 8
"""The most reasons for which rules could not be checked that a report of one screen names."""


def _by_reason(unchecked: Iterable[Unchecked]) -> list[list[Unchecked]]:
    groups: dict[tuple[str, tuple[str, ...]], list[Unchecked]] = {}
    for rule in unchecked:
        groups.setdefault((rule.why, rule.missing), []).append(rule)
    return [*groups.values()]


def _heaviest(unchecked: Iterable[Unchecked]) -> Level:
    return max((rule.level for rule in unchecked), key=lambda level: level.weight)
