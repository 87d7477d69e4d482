"""The counts of the whole table as they may be shown, and how they hang together.

The orders by verdict, what each rule comes to, and rules reported together. Never a group or a
month, which have lines of their own, and never a word.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from orderlint.conditions import kept
from orderlint.finding import Level, Verdict
from orderlint.report.audit.hiding import Key, Relation, hidden_counts
from orderlint.report.audit.small_cells import ShownCount, shown_or_hidden

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.model import AuditResult, RuleCounts

_DO_NOT_START: Key = ("verdict", Verdict.DO_NOT_START.value)
_CLARIFY: Key = ("verdict", Verdict.CLARIFY.value)
_INCOMPLETE: Key = ("verdict", Verdict.INCOMPLETE.value)
_STOPPED_BY: frozenset[Key] = frozenset({_DO_NOT_START, _CLARIFY})
_TIMES_CELL = 10
"""Of fewer orders than so many times the least count that is shown, no count is shown at all."""
_FEW = 8
"""Rules up to which what holds of all of them together tells much of one that is hidden."""
OUTCOMES = ("broken", "kept", "not_asked", "unchecked")
STOPPED: Key = ("stopped", "")
_BY_COST = (
    *("not_asked", "unchecked", "kept", "pair", "only", "broken"),
    *("verdict", "reported", "stopped"),
)
"""What is hidden first, where a count has to be that is not too_few."""
_LEVEL_OF = {Verdict.DO_NOT_START: Level.DO_NOT_START, Verdict.CLARIFY: Level.CLARIFY}


class TableCounts:
    """Each count of the whole table as it may be shown."""

    def __init__(self, result: AuditResult) -> None:
        self._min_cell = result.min_cell
        self._counts = dict(_counted(result))
        too_few = result.judged < _TIMES_CELL * result.min_cell
        known = () if too_few else tuple(_relations(result))
        costs = {
            key: _BY_COST.index(key[0]) for key, n in self._counts.items() if n or _is_told(key)
        }
        self._hidden = hidden_counts(self._counts, known, result.min_cell, costs, _STOPPED_BY)
        self._hidden |= frozenset(costs) if too_few else frozenset()

    @property
    def stopped(self) -> ShownCount:
        """The orders that are stopped."""
        return self._shown(STOPPED)

    def verdict(self, verdict: Verdict) -> ShownCount:
        """The orders with a verdict."""
        return self._shown(("verdict", verdict.value))

    def rule(self, rule: str, name: str) -> ShownCount:
        """A count of a rule by its name in RuleCounts."""
        return self._shown((name, rule))

    def pair(self, pair: tuple[str, str]) -> ShownCount:
        """The orders in which two rules are reported."""
        return self._shown(_pair(pair))

    def _shown(self, key: Key) -> ShownCount:
        is_hidden = key in self._hidden
        return shown_or_hidden(self._counts[key], self._min_cell, is_hidden=is_hidden)


@kept
def table_counts(result: AuditResult) -> TableCounts:
    """The counts of an audit, computed once."""
    return TableCounts(result)


def _is_told(key: Key) -> bool:
    """Whether a zero may be said to be "under 5": not of a rule listed only above 0."""
    return key[0] in {"not_asked", "unchecked", "kept", "only"} or key in _STOPPED_BY


def _pair(pair: tuple[str, str]) -> Key:
    return "pair", " ".join(pair)


def _counted(result: AuditResult) -> Iterator[tuple[Key, int]]:
    yield STOPPED, result.stopped
    for verdict in Verdict:
        yield ("verdict", verdict.value), result.verdicts.get(verdict, 0)
    for rule, found in result.rules.items():
        for name in (*OUTCOMES, "reported", "only"):
            yield (name, rule), getattr(found, name)
    for pair, count in result.pairs.items():
        yield _pair(pair), count


def _relations(result: AuditResult) -> Iterator[Relation]:
    for rule, found in result.rules.items():
        yield from _of_rule(rule, found, result.judged)
    yield from _of_verdicts(result)
    for pair, count in result.pairs.items():
        if count >= result.min_cell:
            yield from _of_pair(pair)
    if len(_ids(result, {*_LEVEL_OF.values()})) <= _FEW:
        yield from _of_all(result)


def _of_all(result: AuditResult) -> Iterator[Relation]:
    """What holds of all rules that stop orders together."""
    if sum(found.unchecked > 0 for found in result.rules.values()) <= 2 * _FEW:
        yield from _of_not_stopped(result)
    for verdict, level in _LEVEL_OF.items():
        yield from _of_level(("verdict", verdict.value), _ids(result, {level}))
    yield from _of_level(STOPPED, _ids(result, {*_LEVEL_OF.values()}))
    yield from _of_overlaps(result, _DO_NOT_START, {Level.DO_NOT_START})
    yield from _of_overlaps(result, STOPPED, {*_LEVEL_OF.values()})
    lightest = _ids(result, {Level.CLARIFY})
    if len(lightest) == 1:  # an order that it stops has no other
        yield Relation({_CLARIFY: 1, ("only", lightest[0]): -1}, is_equation=True)
    yield from _of_several(_ids(result, {*_LEVEL_OF.values()}))


def _of_rule(rule: str, found: RuleCounts, judged: int) -> Iterator[Relation]:
    """Its outcomes add up; what is reported is broken; what it stops alone is reported."""
    yield Relation({(name, rule): -1 for name in OUTCOMES}, judged, is_equation=True)
    for name in (*OUTCOMES, "reported"):
        yield Relation({(name, rule): -1}, judged, is_count=True)
    yield Relation({("broken", rule): 1, ("reported", rule): -1}, is_count=True)
    stops = found.level is not Level.NOTE
    yield Relation({("reported", rule): 1, ("only", rule): -1}, is_count=stops)
    if found.reported:  # as its standing in a list says
        yield Relation({("reported", rule): 1}, -1)


def _of_verdicts(result: AuditResult) -> Iterator[Relation]:
    """The first two are the orders stopped, and all of them those judged."""
    keys: dict[Verdict, Key] = {verdict: ("verdict", verdict.value) for verdict in Verdict}
    yield Relation({**{keys[verdict]: 1 for verdict in _LEVEL_OF}, STOPPED: -1}, is_equation=True)
    calm = {key: -1 for verdict, key in keys.items() if verdict not in _LEVEL_OF}
    yield Relation({**calm, STOPPED: -1}, result.judged, is_equation=True)
    yield Relation({STOPPED: -1}, result.judged, is_count=True)
    for rule in _ids(result, {*_LEVEL_OF.values()}):
        yield Relation({STOPPED: 1, ("reported", rule): -1}, is_count=True)
    for rule in _ids(result, {Level.DO_NOT_START}):
        yield Relation({_DO_NOT_START: 1, ("reported", rule): -1}, is_count=True)


def _of_not_stopped(result: AuditResult) -> Iterator[Relation]:
    """What is noted, and what could not be checked, in orders that are not stopped.

    A heavy finding that the policy silences is noted too. A rule that is broken at one setting may
    be unchecked at another.
    """
    noted: Counter[Key] = Counter()
    unchecked: Counter[Key] = Counter()
    for rule, found in result.rules.items():
        silenced = {("broken", rule): 1, ("reported", rule): -1} if found.broken else {}
        heavy = found.level is not Level.NOTE
        unchecked.update({("unchecked", rule): 1} if found.unchecked else {})
        unchecked.update(silenced if heavy or not found.broken else {("broken", rule): 1})
        noted.update(silenced if heavy or not found.reported else {("reported", rule): 1})
        if found.unchecked:
            yield Relation({_INCOMPLETE: 1, STOPPED: 1, ("unchecked", rule): -1})
    yield Relation({("verdict", Verdict.NOTE.value): -1, **noted})
    yield Relation({_INCOMPLETE: -1, **unchecked})


def _ids(result: AuditResult, levels: set[Level]) -> list[str]:
    return [r for r, found in result.rules.items() if found.reported and found.level in levels]


def _of_level(whole: Key, ids: list[str]) -> Iterator[Relation]:
    """Orders that are stopped at a level: at least those of each rule, at most those of all.

    Those that rules stop alone are apart from each other, and from those of any other rule.
    """
    alone: dict[Key, int] = {("only", rule): -1 for rule in ids}
    yield Relation({whole: 1, **alone})
    yield Relation({whole: -1, **{("reported", rule): 1 for rule in ids}})
    if whole == _CLARIFY:  # an order with such a finding may have a heavier one
        return
    for rule in ids:
        others = {key: -1 for key in alone if key[1] != rule}
        yield Relation({whole: 1, ("reported", rule): -1, **others})


def _of_overlaps(result: AuditResult, whole: Key, levels: set[Level]) -> Iterator[Relation]:
    """Orders stopped are at least those of each rule together, less those of each pair of rules.

    They are at most those less the pairs that one rule is in (inequalities of Bonferroni, and of
    Hunter and Worsley).
    """
    ids = _ids(result, levels)
    pairs = [pair for pair in result.pairs if {*pair} <= {*ids}]
    every: dict[Key, int] = {("reported", rule): 1 for rule in ids}
    yield Relation({whole: 1, **dict.fromkeys(every, -1), **{_pair(pair): 1 for pair in pairs}})
    for rule in ids:
        own = {_pair(pair): -1 for pair in pairs if rule in pair}
        yield Relation({whole: -1, **every, **own})


def _of_several(ids: list[str]) -> Iterator[Relation]:
    """The orders that no rule stops alone are reported by two rules or more."""
    alone: dict[Key, int] = {("only", rule): 1 for rule in ids}
    reported: dict[Key, int] = {("reported", rule): 1 for rule in ids}
    yield Relation({STOPPED: 1, **dict.fromkeys(alone, -1)}, is_count=True)
    yield Relation({STOPPED: -2, **alone, **reported})
    for rule in ids:  # what it does not stop alone, another rule stops
        others = {key: 1 for key in reported if key[1] != rule}
        yield Relation({STOPPED: -1, ("only", rule): 1, **others})


def _of_pair(pair: tuple[str, str]) -> Iterator[Relation]:
    both = _pair(pair)
    for rule in pair:
        yield Relation({("reported", rule): 1, both: -1}, is_count=True)
        yield Relation({("reported", rule): 1, ("only", rule): -1, both: -1})
