"""Judges many rows by one rulebook: each rule broken, kept, not asked or unchecked, and reported.

Covers, suppressions and verdicts as a check of one order has them. Counts nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit import column_logic as logic
from orderlint.audit.outcomes import Outcomes
from orderlint.audit.policy_rows import PolicyRows
from orderlint.audit.row_faults import faults_of_cells
from orderlint.broken_rules import Break, break_of_fault
from orderlint.finding import Level, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import polars as pl

    from orderlint.audit.clocks import Clocks
    from orderlint.audit.column_logic import Mask
    from orderlint.audit.policy_plan import PlannedCondition, PolicyPlan
    from orderlint.audit.rows import OrderRows


class RuleMasks(NamedTuple):
    """Where a rule comes to what; where it is kept, none of the first three is true."""

    broken: Mask
    unchecked: Mask
    not_asked: Mask
    reported: Mask


class JudgedRows(NamedTuple):
    """Rows as judged by one policy.

    `stopped` is where a finding above the level of a note is reported. `verdicts` are in the order
    of Verdict, and one of them is true in each row. `outcomes` tells what was missing.
    """

    size: int
    rules: Mapping[str, RuleMasks]
    stopped: Mask
    verdicts: Mapping[Verdict, Mask]
    outcomes: Outcomes


class _Found(NamedTuple):
    """A break that there can be, and the rows that have it."""

    item: Break
    rows: Mask


def judge(plan: PolicyPlan, rows: OrderRows, at: pl.Series, clocks: Clocks) -> JudgedRows:
    """Judge rows as of `at`, milliseconds since 1970 UTC; where it is null, rules that look at the
    time of checking are unchecked, and no suppression applies.
    """
    times = clocks.times(rows)
    under = PolicyRows(rows, plan.absent, plan.kept, at, clocks.put_back(times))
    outcomes = Outcomes(under, plan.nodes())
    found = [*_broken(plan, outcomes)]
    found += [_Found(plan.break_of(kind), mask) for kind, mask in faults_of_cells(under)]
    found += [_Found(plan.break_of(kind), mask) for kind, mask in clocks.offset_faults(times)]
    found += [_Found(plan.break_of(kind), mask) for kind, mask in plan.text_faults.of(under)]
    left, hidden = _suppressed(plan, found, at)
    of_policy = [*_of_policy(plan, at)]
    shown = _shown([*left, *of_policy])
    reported = _by_rule(shown)
    every = dict.fromkeys(plan.rules, False) | _by_rule([*found, *of_policy])
    rules = {
        rule: _rule(plan, rule, outcomes, broken, reported.get(rule, False))
        for rule, broken in every.items()
    }
    verdicts = _verdicts(plan, rules, _where_unchecked(plan, outcomes), hidden)
    stopped = logic.either(verdicts[Verdict.DO_NOT_START], verdicts[Verdict.CLARIFY])
    return JudgedRows(rows.count, rules, stopped, verdicts, outcomes)


def _where_unchecked(plan: PolicyPlan, outcomes: Outcomes) -> Mask:
    """Where some condition could not be checked."""
    return logic.any_of(
        logic.opposite(outcomes.of(each.condition).known)
        for asked in plan.asked.values()
        for each in asked
    )


def _broken(plan: PolicyPlan, outcomes: Outcomes) -> Iterator[_Found]:
    for asked in plan.asked.values():
        for each in asked:
            where = outcomes.of(each.condition).false
            if where is not False:
                yield _Found(each.broken, where)


def _suppressed(
    plan: PolicyPlan, found: list[_Found], at: pl.Series
) -> tuple[list[_Found], list[_Found]]:
    """What is found apart from where a suppression matches it, and what is so suppressed."""
    left, hidden = [], []
    for each in found:
        running = logic.any_of(
            (at < item.until).fill_null(value=False)
            for item in plan.rulebook.suppressions
            if item.matches(each.item.rule.id, each.item.paths)
        )
        left.append(_Found(each.item, logic.without(each.rows, running)))
        hidden.append(_Found(each.item, logic.both(each.rows, running)))
    return left, hidden


def _of_policy(plan: PolicyPlan, at: pl.Series) -> Iterator[_Found]:
    """The faults of the policy, as of the time of each row; no policy can suppress them."""
    for fault in plan.rulebook.faults:
        yield _Found(break_of_fault(fault, plan.rulebook), True)
    for item in plan.rulebook.suppressions:
        expired = (at >= item.until).fill_null(value=False)
        fault = item.fault("suppression-expired")
        yield _Found(break_of_fault(fault, plan.rulebook), expired)


def _shown(found: list[_Found]) -> list[_Found]:
    """Where each break is shown: where no shown one covers it, at a setting that they share."""
    live = [each for each in found if each.rows is not False]
    coverers: dict[str, list[int]] = {}
    for number, each in enumerate(live):
        for rule in each.item.rule.covers:
            coverers.setdefault(rule, []).append(number)
    shown: dict[int, Mask] = {}

    def where(number: int) -> Mask:
        if number not in shown:
            item, rows = live[number]
            covering = logic.any_of(
                where(other)
                for other in coverers.get(item.rule.id, ())
                if item.subjects & live[other].item.subjects
            )
            shown[number] = logic.without(rows, covering)
        return shown[number]

    return [_Found(each.item, where(number)) for number, each in enumerate(live)]


def _by_rule(found: list[_Found]) -> dict[str, Mask]:
    joined: dict[str, Mask] = {}
    for item, rows in found:
        joined[item.rule.id] = logic.either(joined.get(item.rule.id, False), rows)
    return joined


def _rule(
    plan: PolicyPlan, rule: str, outcomes: Outcomes, broken: Mask, reported: Mask
) -> RuleMasks:
    asked = plan.asked.get(rule)
    if asked is None:  # found by code: where it is not broken, it is kept
        return RuleMasks(broken, False, False, reported)
    unknown = logic.any_of(logic.opposite(outcomes.of(each.condition).known) for each in asked)
    silent = logic.all_of(_where_silent(each, outcomes) for each in asked)
    return RuleMasks(broken, logic.without(unknown, broken), silent, reported)


def _where_silent(asked: PlannedCondition, outcomes: Outcomes) -> Mask:
    return False if asked.context is None else outcomes.of(asked.context).false


def _verdicts(
    plan: PolicyPlan, rules: Mapping[str, RuleMasks], unchecked: Mask, hidden: list[_Found]
) -> Mapping[Verdict, Mask]:
    """Where each verdict is given, as verdict_by gives it."""
    at_level = {
        level: logic.any_of(
            found.reported for rule, found in rules.items() if plan.rules[rule].level is level
        )
        for level in Level
    }
    grave = (each.rows for each in hidden if each.item.rule.level is Level.DO_NOT_START)
    claims = {
        Verdict.DO_NOT_START: at_level[Level.DO_NOT_START],
        Verdict.CLARIFY: at_level[Level.CLARIFY],
        Verdict.INCOMPLETE: unchecked,
        Verdict.NOTE: logic.either(at_level[Level.NOTE], logic.any_of(grave)),
        Verdict.CLEAR: True,
    }
    verdicts: dict[Verdict, Mask] = {}
    heavier: Mask = False
    for verdict, where in claims.items():
        verdicts[verdict] = logic.without(where, heavier)
        heavier = logic.either(heavier, where)
    return verdicts
