"""No small count of the whole table can be computed: a solver looks for other orders that fit.

The solver knows nothing of how counts are hidden. It has the numbers of orders of each kind (what
each rule comes to there) as unknowns, and what is shown as its only facts.
"""

from __future__ import annotations

from itertools import combinations, product

import pytest
import z3
from drawing import most
from hypothesis import given
from hypothesis import strategies as st
from report.audit.made import result

from orderlint.audit.model import Refusals, RuleCounts
from orderlint.finding import Level, Verdict
from orderlint.report.audit import table_counts as counts
from orderlint.report.audit.small_cells import NOT_SHOWN
from orderlint.report.audit.table_counts import OUTCOMES, table_counts

MIN = 3
LEVELS = {"first": Level.DO_NOT_START, "second": Level.DO_NOT_START, "third": Level.CLARIFY}
NAMES = (*OUTCOMES, "reported", "only")
STATES = ("reported", "covered", "kept", "not_asked", "unchecked")
KINDS = [*product(STATES, repeat=3)]


def verdict_of(kind):
    levels = {
        level for state, level in zip(kind, LEVELS.values(), strict=True) if state == "reported"
    }
    if Level.DO_NOT_START in levels:
        return Verdict.DO_NOT_START
    if levels:
        return Verdict.CLARIFY
    return Verdict.INCOMPLETE if "unchecked" in kind else Verdict.CLEAR


def keys_of(kind):
    """Every count that an order of a kind is in."""
    yield ("verdict", verdict_of(kind))
    if "reported" in kind:
        yield ("stopped", "")
    for rule, state in zip(LEVELS, kind, strict=True):
        if state in {"reported", "covered"}:
            yield ("broken", rule)
        else:
            yield (state, rule)
        if state == "reported":
            yield ("reported", rule)
            if kind.count("reported") == 1:
                yield ("only", rule)
    reported = [rule for rule, state in zip(LEVELS, kind, strict=True) if state == "reported"]
    for pair in combinations(reported, 2):
        yield ("pair", pair)


def counted(orders):
    found = {}
    for kind, number in orders.items():
        for key in keys_of(kind):
            found[key] = found.get(key, 0) + number
    return found


def audit_of(orders):
    found = counted(orders)
    rules = {
        rule: RuleCounts(level, "", **{name: found.get((name, rule), 0) for name in NAMES})
        for rule, level in LEVELS.items()
    }
    pairs = {
        pair: found["pair", pair] for pair in combinations(LEVELS, 2) if ("pair", pair) in found
    }
    verdicts = {verdict: found.get(("verdict", verdict), 0) for verdict in Verdict}
    return result(
        rows=sum(orders.values()),
        refused=Refusals(),
        stopped=found.get(("stopped", ""), 0),
        verdicts=verdicts,
        rules=rules,
        pairs=pairs,
        min_cell=MIN,
    )


def shown_in(audit):
    whole = table_counts(audit)
    yield ("stopped", ""), audit.stopped, whole.stopped
    for verdict in (Verdict.DO_NOT_START, Verdict.CLARIFY, Verdict.INCOMPLETE, Verdict.CLEAR):
        yield ("verdict", verdict), audit.verdicts[verdict], whole.verdict(verdict)
    for rule, name in product(LEVELS, NAMES):
        yield (name, rule), getattr(audit.rules[rule], name), whole.rule(rule, name)
    for pair, number in audit.pairs.items():
        if (shown := whole.pair(pair)).value is not None:  # a hidden pair is not listed
            yield ("pair", pair), number, shown


def fitting(audit, facts):
    """A solver that has only what is shown, with the sum that stands for each count."""
    kinds = {kind: z3.Int(f"k{at}") for at, kind in enumerate(KINDS)}
    sums = {}
    for kind, number in kinds.items():
        for key in keys_of(kind):
            sums.setdefault(key, []).append(number)
    sums = {key: z3.Sum(parts) for key, parts in sums.items()}
    solver = z3.Solver()
    solver.add(*(number >= 0 for number in kinds.values()))
    solver.add(z3.Sum([*kinds.values()]) == audit.judged)
    for key, _, shown in facts:
        solver.add(*said(sums[key], shown))
        if key[0] == "reported" and shown.value is None:
            solver.add(sums[key] > 0)
    return solver, sums


def said(number, shown):
    if shown.value is not None:
        return [number == shown.value]
    return [number >= MIN] if shown.text == NOT_SHOWN else [number < MIN]


LISTS = {"stopped", "reported", "only", "pair"}
AUDITS = st.dictionaries(
    st.sampled_from(KINDS), st.sampled_from((1, 2, 7, 30)), min_size=2, max_size=5
).map(audit_of)
HEAVY = {Verdict.DO_NOT_START, Verdict.CLARIFY}


def known(orders):
    """The small counts that have one value only: of the lists, and of each rule's own line."""
    audit = audit_of(orders)
    facts = [*shown_in(audit)]
    lists = [fact for fact in facts if fact[0][0] in LISTS or fact[0][1] in HEAVY]
    lines = [[f for f in facts if f[0][1] == rule] for rule in LEVELS]
    for together in (lists, *lines):
        yield from known_of(audit, together)


def known_of(audit, facts):
    solver, sums = fitting(audit, facts)
    assert solver.check() == z3.sat
    for key, number, shown in facts:
        if 0 < number < MIN:
            assert shown.value is None, key
            if solver.check(sums[key] != number) != z3.sat:
                yield key, number, [(k, s.text) for k, _, s in facts]


R, C, K, N, U = STATES


@pytest.mark.slow
@pytest.mark.parametrize(
    "orders",
    [
        # All but two of those to call about are of one rule, and so those are of the other.
        {(R, K, K): 33, (K, R, K): 2, (K, K, R): 20, (K, K, K): 90},
        # Two orders of the first rule have another finding too.
        {(R, K, R): 2, (R, K, K): 31, (K, K, R): 9, (K, K, K): 80},
        # What is kept leaves two orders, and that they are no zero is said by the list.
        {(K, R, K): 1, (K, K, K): 90, (K, K, N): 8},
        {(K, R, K): 2, (K, K, K): 90},
        # A pair leaves two orders of a rule.
        {(R, R, K): 8, (R, K, K): 2, (K, R, K): 7, (K, K, K): 40},
        {(R, R, K): 2, (K, R, C): 2, (C, C, C): 1, (C, C, U): 1, (U, K, C): 30},
        {(N, R, C): 2, (C, K, K): 3, (K, K, R): 2, (U, K, K): 9},
        # Two rules and their pair say how many they stop, and so how many another stops alone.
        {(R, N, C): 200, (R, C, U): 30, (R, R, R): 30, (C, R, N): 3, (N, K, R): 1},
        # All but two are stopped by the one rule to call about, alone.
        {(U, N, R): 7, (R, R, K): 2, (C, C, R): 2, (N, C, C): 200, (K, N, N): 200},
    ],
)
def test_no_small_count_of_a_list_or_a_line_has_one_value_only(orders):
    assert [*known(orders)] == []


def test_no_two_shown_numbers_of_a_rule_differ_by_a_small_number_of_orders():
    audit = audit_of({(R, K, R): 2, (R, K, K): 31, (C, K, K): 1, (K, K, R): 9, (K, K, K): 80})
    whole = table_counts(audit)
    assert whole.rule("first", "reported").value == 33
    for name in ("only", "broken"):
        assert whole.rule("first", name).text == NOT_SHOWN


def test_as_little_is_hidden_as_will_do():
    orders = {(R, K, K): 33, (K, R, K): 8, (K, K, R): 20, (K, K, K): 90, (K, K, U): 9}
    assert all(shown.value is not None for _, _, shown in shown_in(audit_of(orders)))


@given(AUDITS)
def test_what_is_taken_to_be_known_is_true(audit):
    found = dict(counts._counted(audit))
    for relation in counts._relations(audit):
        value = relation.constant + sum(f * found[key] for key, f in relation.factors.items())
        assert value == 0 if relation.is_equation else value >= 0, relation


@most(20)
@given(AUDITS)
def test_no_small_count_is_shown(audit):
    for key, number, shown in shown_in(audit):
        assert shown.value is None or not 0 < number < MIN, key
