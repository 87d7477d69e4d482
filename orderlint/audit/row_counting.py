"""Counts into a tally what the rows of one part come to, under one policy or two.

Numbers alone. Never how they are shown.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.finding import Level

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.audit.column_logic import Mask
    from orderlint.audit.judge import JudgedRows
    from orderlint.audit.policy_plan import PolicyPlan
    from orderlint.audit.rows import Cells, OrderRows
    from orderlint.audit.tally import Key, Tally


def count_policy(tally: Tally, number: str, plan: PolicyPlan, judged: JudgedRows) -> None:
    """Count verdicts and rules under one policy, whose counts stand under `number`."""
    size = judged.size
    _add(tally, ("stopped", number), logic.rows_true(judged.stopped, size))
    for verdict, where in judged.verdicts.items():
        _add(tally, ("verdict", number, verdict.value), logic.rows_true(where, size))
    only = only_stopping(plan, judged)
    for rule, found in judged.rules.items():
        broken, unchecked, silent = (
            logic.rows_true(mask, size) for mask in (found.broken, found.unchecked, found.not_asked)
        )
        outcomes = {
            "broken": broken,
            "unchecked": unchecked,
            "not_asked": silent,
            "kept": size - broken - unchecked - silent,
            "reported": logic.rows_true(found.reported, size),
            "only": logic.rows_true(only[rule], size),
        }
        for outcome, count in outcomes.items():
            _add(tally, ("rule", number, rule, outcome), count)
        if unchecked:
            for path, where in _missing(plan, judged, rule).items():
                _add(tally, ("missing", number, rule, path), logic.rows_true(where, size))


def _missing(plan: PolicyPlan, judged: JudgedRows, rule: str) -> Mapping[str, Mask]:
    """By setting, the rows in which a rule is unchecked for the lack of it."""
    found: dict[str, Mask] = {}
    for each in plan.asked[rule]:
        for path, where in judged.outcomes.missing(each.condition).items():
            found[path] = logic.either(found.get(path, False), where)
    unchecked = judged.rules[rule].unchecked
    return {path: logic.both(where, unchecked) for path, where in found.items()}


def only_stopping(plan: PolicyPlan, judged: JudgedRows) -> Mapping[str, Mask]:
    """By rule, the rows that are stopped with this rule alone above the level of a note."""
    once: Mask = False
    twice: Mask = False
    stopping = {
        rule: found.reported
        for rule, found in judged.rules.items()
        if plan.rules[rule].level is not Level.NOTE
    }
    for where in stopping.values():
        twice = logic.either(twice, logic.both(once, where))
        once = logic.either(once, where)
    return {rule: logic.without(stopping.get(rule, False), twice) for rule in judged.rules}


def count_pairs(tally: Tally, judged: JudgedRows) -> None:
    """Count the rows in which two rules are both reported."""
    live = sorted((r, f.reported) for r, f in judged.rules.items() if f.reported is not False)
    for (one, first), (other, second) in combinations(live, 2):
        _add(tally, ("pair", one, other), logic.rows_true(logic.both(first, second), judged.size))


def count_moved(tally: Tally, before: JudgedRows, after: JudgedRows) -> None:
    """Count the rows that one policy stops, or reports a rule for, and the other does not."""
    nowhere = False
    pairs = {"": (before.stopped, after.stopped)}
    for rule in {**before.rules, **after.rules}:
        ours, theirs = (
            judged.rules[rule].reported if rule in judged.rules else nowhere
            for judged in (before, after)
        )
        pairs[rule] = ours, theirs
    for rule, (ours, theirs) in pairs.items():
        _add(
            tally,
            ("moved", rule, "before"),
            logic.rows_true(logic.without(ours, theirs), before.size),
        )
        _add(
            tally,
            ("moved", rule, "after"),
            logic.rows_true(logic.without(theirs, ours), before.size),
        )


_VALUE, _ROWS, _MONTH = "value of a row", "rows of a value", "month of a row"


def count_groups(
    tally: Tally, under: Key, values: pl.Series, plan: PolicyPlan, judged: JudgedRows
) -> None:
    """Count by the value that each judged row has, '' where it is null."""
    only = only_stopping(plan, judged)
    named: dict[str, Mask] = {"stopped": judged.stopped}
    for rule, found in judged.rules.items():
        named |= {
            f"broken {rule}": found.broken,
            f"reported {rule}": found.reported,
            f"only {rule}": only[rule],
        }
    varying = {name: mask for name, mask in named.items() if mask is not False}
    series = [logic.as_series(mask, judged.size).alias(name) for name, mask in varying.items()]
    frame = pl.DataFrame([values.fill_null("").alias(_VALUE), *series])
    for value, rows, *counts in (
        frame.group_by(_VALUE).agg(pl.len().alias(_ROWS), pl.col([*varying]).sum()).iter_rows()
    ):
        _add(tally, (*under, value, "rows"), rows)
        for name, count in zip(varying, counts, strict=True):
            _add(tally, (*under, value, *name.split(" ", 1)), count)


def count_months_of_groups(
    tally: Tally, under: Key, at: tuple[pl.Series, pl.Series], plan: PolicyPlan, judged: JudgedRows
) -> None:
    """Count by the value and the month `at` which each judged row is, '' where either is null, the
    rows in which a rule stops the order.
    """
    stopping = {
        rule: logic.as_series(found.reported, judged.size).alias(rule)
        for rule, found in judged.rules.items()
        if found.reported is not False and plan.rules[rule].level is not Level.NOTE
    }
    keys = _VALUE, _MONTH
    named = (each.fill_null("").alias(key) for key, each in zip(keys, at, strict=True))
    frame = pl.DataFrame([*named, *stopping.values()])
    for value, month, *counts in frame.group_by(keys).agg(pl.exclude(keys).sum()).iter_rows():
        for rule, count in zip(stopping, counts, strict=True):
            _add(tally, (*under, value, "month", rule, month), count)


def count_refused_groups(tally: Tally, under: Key, values: Iterable[str | None]) -> None:
    """Count refused rows by their value."""
    for value in values:
        for what in ("rows", "refused"):
            _add(tally, (*under, value or "", what), 1)


def count_unreadable(tally: Tally, rows: OrderRows, cells: Mapping[str, Cells]) -> None:
    """Count the rows of each text that cannot be read as its setting."""
    for path, column in rows.written.items():
        readings = rows.classes[path].readings
        bad = {number for number in column.present if readings[number].faults}
        if not bad:
            continue
        of_code = column.of_code.is_in([*bad])
        found = column.codes.filter(of_code.gather(column.codes)).value_counts(name="rows")
        for code, count in found.iter_rows():
            _add(tally, ("unreadable", path, cells[path].texts[code]), count)


def _add(tally: Tally, key: Sequence[str], count: int) -> None:
    if count:
        tally.counts[tuple(key)] += count
