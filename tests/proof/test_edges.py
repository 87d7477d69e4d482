"""What is judged elsewhere, what is not judged at all, and what a proof is given up for."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest
import z3
from drawn_sets import HERE, NAME, code_rule_of, decide, rule_of, rulebook_of, set_of

from orderlint.fields import CHECKED_AT
from orderlint.language.tree import And, Compare, Given, Member, Multiple, Not, Or, Subject, Term
from orderlint.order import Leaf, State
from orderlint.order_set.model import Gate, OfferedSection, Slot, Span
from orderlint.proof.counterexample import counterexample_of
from orderlint.proof.counting import count
from orderlint.proof.narrowing import narrowings_of
from orderlint.proof.prover import NO_ANSWER, TIMED, Prover
from orderlint.proof.search_space import Limits
from orderlint.proof.solver.encode import _of_slot, _SlotOptions
from orderlint.proof.solver.sound_orders import SoundOrders
from orderlint.proof.unused_options import choices_of
from orderlint.rulebook.rule import Skipped


def number(path, *values, preset=0, signed=False):
    leaves = tuple(Leaf(path, State.KNOWN, value, None, f"{value}") for value in values)
    return Slot(path, leaves, preset, signed=signed)


def bound(path, sign, value):
    return Compare((Term(1, (path,)),), sign, value)


def proof_of(order_set, rule, limits=None):
    return Prover(order_set, [rule], limits or Limits()).decide(rule)


RATE = number("irrigation.rate", 1, 2, 3)
SIGNED = Slot("starts", (), None, signed=True)


def test_a_rule_on_a_fact_of_signing_is_judged_at_signing():
    proof = proof_of(set_of([SIGNED, RATE]), rule_of("starts", Given(("starts",))))
    assert (proof.result.value, proof.at_signing) == ("at-signing", ("starts",))


def test_a_rule_on_the_time_of_checking_is_judged_at_signing():
    proof = proof_of(set_of([RATE]), rule_of("not-late", bound(CHECKED_AT, "<", 5)))
    assert (proof.result.value, proof.at_signing) == ("at-signing", (CHECKED_AT,))


def test_what_is_shown_by_a_fact_of_signing_is_judged_at_signing():
    gated = set_of([SIGNED, RATE], gates=[Gate("irrigation", Given(("starts",)), NAME, HERE)])
    proof = proof_of(gated, rule_of("rate-given", Given(("irrigation.rate",))))
    assert (proof.result.value, proof.at_signing) == ("at-signing", ("starts",))


def test_a_rule_partly_on_facts_of_signing_is_proved_of_the_rest():
    rule = rule_of("given", Given(("starts",)), Given(("irrigation.rate",)))
    proof = proof_of(set_of([SIGNED, RATE]), rule)
    assert (proof.result.value, proof.at_signing) == ("proved", ("starts",))


def test_an_inactive_rule_stays_inactive():
    rule = replace(rule_of("idle"), skipped=(Skipped("the policy gives no limit"),))
    proof = decide(set_of([RATE]), rulebook_of(rule))[0]
    assert (proof.result.value, proof.reasons) == ("inactive", ("the policy gives no limit",))


def test_what_reading_finds_is_no_rule_to_prove():
    assert decide(set_of([RATE]), rulebook_of(code_rule_of("shape", "schema"))) == ()


def test_undetermined_names_the_blank():
    blank = Slot("titration.max", (Leaf("titration.max"),), 0, Span(0, 9, {"mL/h": 1}))
    less = Compare((Term(1, ("irrigation.rate",)), Term(-1, ("titration.max",))), "<", 99)
    proof = proof_of(set_of([RATE, blank]), rule_of("less", less))
    assert (proof.result.value, proof.missing) == ("undetermined", ("titration.max",))


def test_an_unreadable_option_is_named():
    odd = Slot("irrigation.rate", (*RATE.options, Leaf("irrigation.rate", State.UNREADABLE)), 0)
    proof = proof_of(set_of([odd]), rule_of("small", bound("irrigation.rate", "<", 9)))
    assert (proof.result.value, proof.missing) == ("undetermined", ("irrigation.rate",))


def test_too_many_clauses_prove_nothing():
    wide = Or(tuple(And((Given((p,)), Multiple(p, 1))) for p in ("irrigation.rate", "revision")))
    order_set = set_of([RATE, number("revision", 1, 2)])
    assert proof_of(order_set, rule_of("wide", wide)).result.value == "proved"
    proof = proof_of(order_set, rule_of("wide", wide), Limits(clauses=3))
    assert proof.reasons == ("the condition has more than 3 clauses",)


def wide_span(path, lowest, highest, grids, options=()):
    return Slot(path, options, None, Span(lowest, highest, grids))


def test_an_unbounded_blank_is_split_by_arithmetic():
    flow = wide_span("irrigation.rate", 0, 10**9, {"mL/h": 7})
    fits = Or((Not(Multiple("irrigation.rate", 14)), bound("irrigation.rate", "<=", 10**9)))
    assert proof_of(set_of([flow]), rule_of("fits", fits)).result.value == "proved"
    even = rule_of("even", Or((Multiple("irrigation.rate", 14), bound("irrigation.rate", "<", 10))))
    prover = Prover(set_of([flow]), [even])
    found = counterexample_of(prover, even, prover.decide(even))
    value = found.leaves["irrigation.rate"].value
    assert value % 7 == 0
    assert value % 14
    assert abs(value - 60_000) <= 7  # the schema's own example of a rate is 60 mL/h


SAME = Compare((Term(1, ("irrigation.rate",)), Term(-1, ("titration.max",))), "==", 0)


@pytest.mark.parametrize(("other", "result"), [(-1, "proved"), (3, "broken"), (999_999, "broken")])
def test_a_blank_that_is_compared_with_few_numbers_is_split_where_it_meets_them(other, result):
    pair = [wide_span("irrigation.rate", 0, 10**6, {"mL/h": 1}), number("titration.max", -2, other)]
    proof = proof_of(set_of(pair), rule_of("never-same", Not(SAME)))
    assert (proof.result.value, proof.reasons) == (result, ())


def test_two_blanks_that_are_compared_both_ways_are_not_proved():
    pair = [wide_span(path, 0, 10**6, {"mL/h": 1}) for path in ("irrigation.rate", "titration.max")]
    proof = proof_of(set_of(pair), rule_of("same", Or((SAME, Not(SAME)))))
    assert proof.result.value == "not-proved"
    assert proof.reasons == ("irrigation.rate has too many values to try each",)


def test_a_comparison_that_turns_twice_in_a_blank_is_not_proved():
    square = ("irrigation.rate", "irrigation.rate")
    hill = Compare((Term(1, square), Term(-(10**9), ("irrigation.rate",))), "<=", 10**12)
    below = wide_span("irrigation.rate", 0, 10**6, {"mL/h": 1})
    proof = proof_of(set_of([below]), rule_of("hill", hill))
    assert proof.reasons == ("a comparison turns more than once within an unbounded blank",)


def test_narrowing_a_blank_gives_a_bound():
    blank = wide_span("irrigation.rate", 0, 1000, {"mL/h": 10})
    rule = rule_of("small", bound("irrigation.rate", "<", 305))
    prover = Prover(set_of([blank]), [rule])
    (found,) = narrowings_of(prover, rule, prover.decide(rule).witness)[0]
    assert (found.span.lowest, found.span.highest) == (0, 300)


def test_options_of_which_nobody_knows_are_said_to_be_open():
    top = number("titration.max", 2, 3)
    less = Compare((Term(1, ("irrigation.rate",)), Term(-1, ("titration.max",))), "<", 0)
    rule = rule_of("less", less)
    found = choices_of(Prover(set_of([RATE, top]), [rule], Limits(choices_effort=-1)), [rule])
    assert found.open == (("irrigation.rate", 1), ("irrigation.rate", 2))
    assert found.never_sound == ()


def test_a_sound_order_of_which_nobody_knows_is_open():
    top = number("titration.max", 0, 4)
    less = Compare((Term(1, ("irrigation.rate",)), Term(-1, ("titration.max",))), "<", 0)
    rule = rule_of("less", less)
    found = choices_of(Prover(set_of([RATE, top]), [rule], Limits(effort=1)), [rule])
    assert found.sound is None
    assert found.sound_is_open
    assert found.rules_against == ()


def test_an_option_that_no_sound_order_uses_has_its_rules():
    small = rule_of("small", bound("irrigation.rate", "<", 3))
    other = rule_of("given", Given(("irrigation.rate",)))
    found = choices_of(Prover(set_of([RATE]), [small, other]), [small, other])
    (never,) = found.never_sound
    assert (never.path, never.index, never.rules, never.is_confirmed) == (
        *("irrigation.rate", 2, ("small",)),
        True,
    )


def test_more_ways_than_can_be_gone_through_are_bounded():
    paths = [f"notify.{name}" for name in ("icp_above", "icp_below", "icp_for", "events", "call")]
    listed = [number(path, *range(12)) for path in paths]
    gate = Gate("pause.upper", And(tuple(Multiple(path, 2) for path in paths)), NAME, HERE)
    exact = count(set_of([*listed, number("pause.upper", 1, 2)], gates=[gate]))
    # the gates tell even from odd alone: 6^5 orders show the limit, each with two values
    assert (exact.orders, exact.is_exact) == (12**5 + 6**5, True)
    summed = Compare(tuple(Term(1, (path,)) for path in paths), "<", 9)
    found = count(
        set_of(
            [*listed, number("pause.upper", 1, 2)], gates=[Gate("pause.upper", summed, NAME, HERE)]
        )
    )
    assert not found.is_exact
    assert found.orders >= 12**5


def test_sections_that_overlap_are_counted_once():
    """Two sections over blanks, one in the other: 1 order without both, 2 × 3 with both."""
    blanks = [
        Slot(path, (Leaf(path), *number(path, *range(size)).options), 0)
        for path, size in (("notify.net_in.above", 1), ("notify.net_in.within", 2))
    ]
    sections = [OfferedSection("notify", True, HERE), OfferedSection("notify.net_in", False, HERE)]
    assert count(set_of(blanks, sections)).orders == 2 * 3


def test_a_counterexample_is_of_a_broken_rule():
    rule = rule_of("given", Given(("irrigation.rate",)))
    prover = Prover(set_of([RATE]), [rule])
    with pytest.raises(ValueError, match="given is not broken"):
        counterexample_of(prover, rule, prover.decide(rule))


def test_a_rule_made_for_a_key_of_a_table_is_vacuous_where_the_key_never_is():
    group = Subject("patient.group")
    rule = rule_of("key", Or((Not(And((Member(group, ("child",)),))), Given(("revision",)))))
    adult = Slot("patient.group", (Leaf("patient.group", State.KNOWN, "adult"),), 0)
    assert proof_of(set_of([adult]), rule).result.value == "vacuous"


NEVER = Given(("revision",))  # no slot has it


def test_whether_a_rule_ever_speaks_takes_two_ways_too():
    varied = set_of([RATE, number("titration.max", 1, 2)])
    when = And((bound("irrigation.rate", "<", 3), bound("titration.max", "==", 3)))
    rule = rule_of("when", Given(("irrigation.rate",)), when=when)
    assert proof_of(varied, rule).result.value == "vacuous"
    pair = (Term(1, ("irrigation.rate",)), Term(1, ("titration.max",)))
    rule = rule_of("when", Given(("irrigation.rate",)), when=Compare(pair, "==", 9))
    assert proof_of(varied, rule).result.value == "vacuous"
    assert proof_of(varied, rule, Limits(effort=1)).reasons == (
        "the solver gave no answer within its limits",
    )
    # the rule has one corner where it is kept for one leaf's sake; its `when` has six
    proof = proof_of(varied, rule, Limits(corners=5))
    assert proof.reasons == ("too many corners would have to be tried",)


@pytest.mark.parametrize(("milliseconds", "words"), [(0, TIMED), (60_000, NO_ANSWER)])
def test_that_a_clock_stopped_the_solver_is_said(milliseconds, words):
    """As then another run, or another machine, may say otherwise."""
    varied = set_of([RATE, number("titration.max", 1, 2)])
    pair = (Term(1, ("irrigation.rate",)), Term(1, ("titration.max",)))
    rule = rule_of("sum", Compare(pair, "<", 9))
    prover = Prover(varied, [rule], Limits(milliseconds=milliseconds))
    prover.search.solver.check = lambda *_: z3.unknown
    proof = prover.decide(rule)
    assert (proof.result.value, proof.reasons) == ("not-proved", (words,))


def test_rules_that_are_against_a_choice_are_all_named_where_the_solver_tires():
    rule, odd = rule_of("sum", NEVER), rule_of("odd", Given(("irrigation.rate",)))
    prover = Prover(set_of([RATE]), [rule, odd])
    held = SoundOrders(
        prover.search, {each.id: [each.instances[0].condition] for each in (rule, odd)}
    )
    with held.holding():
        assert held.because([]) == ("sum",)
        held.search.solver.check = lambda *_: z3.unknown
        assert held.because([]) == ("sum", "odd")


def test_a_rule_that_speaks_by_the_solver_alone_is_proved():
    varied = set_of([RATE, number("titration.max", 1, 2)])
    pair = (Term(1, ("irrigation.rate",)), Term(1, ("titration.max",)))
    rule = rule_of("when", Given(("irrigation.rate",)), when=Compare(pair, "==", 5))
    assert proof_of(varied, rule, Limits(corners=5)).result.value == "proved"


def test_what_is_broken_on_every_order_is_so_without_a_corner():
    proof = proof_of(set_of([RATE]), rule_of("absent", NEVER), Limits(corners=0))
    assert proof.result.value == "broken"


def test_sections_of_which_nobody_knows_are_open():
    pair = (Term(1, ("irrigation.rate",)), Term(1, ("titration.max",)))
    gates = [Gate("pause", Compare(pair, "==", 9), NAME, HERE)]
    gated = set_of([RATE, number("titration.max", 1, 2), number("pause.lower", 1)], gates=gates)
    assert choices_of(Prover(gated, []), []).never_shown == ("pause",)
    found = choices_of(Prover(gated, [], Limits(corners=1)), [])
    assert (found.never_shown, found.shown_is_open) == ((), ("pause",))


def test_that_no_sound_order_uses_an_option_may_go_unconfirmed():
    listed = [RATE, number("titration.max", 1, 2, 3)]
    pair = (Term(1, ("irrigation.rate",)), Term(1, ("titration.max",)))
    rule = rule_of("sum", Compare(pair, "==", 4))
    odd = rule_of("odd", Not(Multiple("titration.max", 2)))
    prover = Prover(set_of(listed), [rule, odd], Limits(corners=1))
    never = choices_of(prover, [rule, odd]).never_sound
    assert [(each.path, each.index, each.rules, each.is_confirmed) for each in never] == [
        ("irrigation.rate", 1, ("sum", "odd"), False),
        ("titration.max", 1, ("odd",), True),
    ]


def test_checking_a_certificate_again_imports_no_solver():
    loaded = "from orderlint.proof import certificates, counting"
    code = f"import sys; {loaded}; assert 'z3' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_what_is_told_of_a_slot_is_made_once_for_that_slot():
    """Many narrower sets are asked about, which share all slots but one."""
    first, equal = replace(RATE), replace(RATE)
    made = _of_slot(_SlotOptions(first, "value"))
    assert _of_slot(_SlotOptions(first, "value")) is made
    assert _of_slot(_SlotOptions(equal, "value")) is not made
    assert _of_slot(_SlotOptions(first, "unit")) is not made
    assert [str(fact) for fact in _of_slot(_SlotOptions(equal, "value"))] == [
        str(fact) for fact in made
    ]
