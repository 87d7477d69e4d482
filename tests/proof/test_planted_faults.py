"""A fault planted in either way to a proof, or in the search, is found out."""

from __future__ import annotations

import importlib
from dataclasses import replace

import pytest
import z3
from drawn_sets import HERE, NAME, decide, rule_of, rulebook_of, set_of

from orderlint.language.to_z3 import Pair
from orderlint.language.tree import Compare, Given, Names, Not, Or, Term, Written
from orderlint.order import Leaf, State
from orderlint.order_set.model import Gate, OfferedSection, Slot, Span
from orderlint.proof.counterexample import counterexample_of
from orderlint.proof.enumeration import monotone, partition
from orderlint.proof.prover import Prover
from orderlint.proof.search_space import Disagreement, Limits, leaf_at
from orderlint.proof.solver import encode, reachable_options, search, sound_orders
from orderlint.proof.solver.encode import Encoding
from orderlint.proof.solver.minimal_counterexample import Minimizer
from orderlint.proof.solver.reachable_options import ReachableOptions
from orderlint.proof.unused_options import choices_of


def number(path, *values, preset=0):
    leaves = tuple(Leaf(path, State.KNOWN, value, None, f"{value}") for value in values)
    return Slot(path, leaves, preset)


def compare(sign, bound, **coefficients):
    paths = {"rate": "irrigation.rate", "top": "titration.max", "revision": "revision"}
    terms = tuple(Term(value, (paths[name],)) for name, value in coefficients.items())
    return Compare(terms, sign, bound)


SLOTS = [number("irrigation.rate", 1, 2, 3), number("titration.max", 4, 5, 6)]
SET = set_of(SLOTS)
BOOK = rulebook_of(rule_of("rate-under-maximum", compare("<", 0, rate=1, top=-1)))
EXACT = rulebook_of(rule_of("rate-under-maximum", compare("<", -1, rate=1, top=-1)))


KEPT = Pair(z3.BoolVal(True), z3.BoolVal(False))


def results(order_set=SET, book=BOOK, limits=None):
    return [proof.result.value for proof in decide(order_set, book, limits or Limits())]


def test_without_a_fault_they_agree():
    assert results() == ["proved"]
    assert results(book=EXACT) == ["broken"]


def test_a_flipped_sign_in_the_solver_is_found_out(monkeypatch):
    def turned(tree):
        if isinstance(tree, Compare):
            tree = tree._replace(terms=tuple(Term(-t.coefficient, t.paths) for t in tree.terms))
        return original(tree)

    original = search.solve
    monkeypatch.setattr(search, "solve", turned)
    with pytest.raises(Disagreement):
        results()


def test_a_solver_that_always_says_no_is_found_out(monkeypatch):
    monkeypatch.setattr(search, "solve", lambda _: KEPT)
    found = Prover(SET, EXACT.rules.values())
    rule = EXACT.rules["rate-under-maximum"]
    proof = found.decide(rule)
    minimizer = Minimizer(found.search, rule.instances[0].condition)
    with pytest.raises(Disagreement):
        minimizer.nearest(proof.witness)


def test_a_reversed_pin_in_the_corners_is_found_out(monkeypatch):
    original = monotone._failing_direction
    turned = {"high": "low", "low": "high", "all": "all"}
    monkeypatch.setattr(monotone, "_failing_direction", lambda *given: turned[original(*given)])
    with pytest.raises(Disagreement):
        results(book=EXACT)


def test_a_part_left_out_of_the_corners_is_found_out(monkeypatch):
    absent = set_of(
        [
            number("irrigation.rate", 1),
            Slot("titration.max", (*SLOTS[1].options, Leaf("titration.max")), 0),
        ]
    )
    book = rulebook_of(rule_of("maximum-given", Given(("titration.max",))))
    assert results(absent, book) == ["broken"]
    original = monotone.Axis.choices
    monkeypatch.setattr(monotone.Axis, "choices", lambda side: original(side)[:-1])
    with pytest.raises(Disagreement):
        results(absent, book)


def test_a_gate_left_out_of_the_facts_is_found_out(monkeypatch):
    gated = set_of(SLOTS, gates=[Gate("titration.max", compare("<", 3, rate=1), NAME, HERE)])
    book = rulebook_of(rule_of("maximum-given", Given(("titration.max",))))
    assert results(gated, book) == ["broken"]
    shown = rulebook_of(rule_of("rate-under-maximum", Given(("irrigation.rate",))))
    assert results(gated, shown) == ["proved"]
    monkeypatch.setattr(Encoding, "shown", lambda *_: [])
    found, rule = Prover(gated, book.rules.values()), book.rules["maximum-given"]
    proof = found.decide(rule)
    with pytest.raises(Disagreement):
        counterexample_of(found, rule, proof)


# From the presets, three slots one step away each are a nearest order by single steps; one slot
# four steps away differs less.
FAR = set_of(
    [
        number("irrigation.rate", 0, 2, 9),
        number("titration.max", 0, 2, 2),
        number("revision", 0, 0, 0, 4),
    ]
)
SUM = rule_of("sum-is-small", compare("<", 4, rate=1, top=1, revision=1))


def departures(found):
    return [pick.path for pick in found.picks if pick.differs_from_preset]


def far_counterexample():
    prover = Prover(FAR, [SUM])
    start = prover.decide(SUM)
    chosen = {**start.witness.chosen, "irrigation.rate": 1, "titration.max": 1, "revision": 0}
    start = type(start)(
        SUM.id, start.result, type(start.witness)(chosen, start.witness.sections_on)
    )
    return counterexample_of(prover, SUM, start)


def test_the_nearest_order_is_found_from_one_that_is_not():
    assert departures(far_counterexample()) == ["irrigation.rate"]


def test_a_search_that_stops_too_early_is_found_out(monkeypatch):
    """With a search that never asks the solver for a nearer order, the test above fails."""
    monkeypatch.setattr(Minimizer, "_better", lambda *_: False)
    assert departures(far_counterexample()) != ["irrigation.rate"]


def test_a_solver_out_of_time_proves_nothing():
    assert results(limits=Limits(effort=1)) == ["not-proved"]
    assert results(book=EXACT, limits=Limits(effort=1)) == ["broken"]


def test_too_many_corners_prove_nothing():
    assert results(limits=Limits(corners=0)) == ["not-proved"]
    assert results(book=EXACT, limits=Limits(corners=0)) == ["broken"]
    proof = decide(SET, BOOK, Limits(corners=0))[0]
    assert proof.reasons == ("too many corners would have to be tried",)


def test_the_least_is_not_claimed_where_the_solver_gives_no_answer():
    prover = Prover(SET, EXACT.rules.values(), Limits(effort=1))
    rule = EXACT.rules["rate-under-maximum"]
    found = counterexample_of(prover, rule, prover.decide(rule))
    assert not found.is_least


def test_an_order_of_ticks_alone():
    offering = set_of(SLOTS, [OfferedSection("titration", True, HERE)])
    book = rulebook_of(rule_of("maximum-given", Given(("titration.max",))))
    prover = Prover(offering, book.rules.values())
    found = counterexample_of(
        prover, book.rules["maximum-given"], prover.decide(book.rules["maximum-given"])
    )
    assert [(section.path, section.taken, section.preset) for section in found.sections] == [
        ("titration", False, True)
    ]
    assert departures(found) == []


def test_a_solver_that_finds_no_sound_order_is_found_out(monkeypatch):
    monkeypatch.setattr(sound_orders, "together", lambda _: z3.BoolVal(False))
    rules = list(EXACT.rules.values())
    far = set_of([number("irrigation.rate", 9, 1), *SLOTS[1:]])
    with pytest.raises(Disagreement):
        choices_of(Prover(far, rules), rules)


def test_a_solver_that_finds_any_order_sound_is_found_out(monkeypatch):
    monkeypatch.setattr(sound_orders, "together", lambda _: z3.BoolVal(True))
    rules = list(EXACT.rules.values())
    far = set_of([number("irrigation.rate", 9, 8), *SLOTS[1:]])
    with pytest.raises(Disagreement):
        choices_of(Prover(far, rules), rules)


def test_a_solver_that_finds_an_option_unused_is_found_out(monkeypatch):
    monkeypatch.setattr(ReachableOptions, "_change", lambda *_: None)
    rules = list(EXACT.rules.values())
    sound = Prover(SET, rules)
    assert sound.space.base.chosen["irrigation.rate"] == 0
    monkeypatch.setattr(sound_orders, "among", lambda *_: z3.BoolVal(False))
    monkeypatch.setattr(reachable_options, "among", lambda *_: z3.BoolVal(False))
    with pytest.raises(Disagreement):
        choices_of(sound, rules)


def test_an_option_taken_for_another_by_the_corners_is_found_out(monkeypatch):
    flagged = Leaf("irrigation.rate", State.KNOWN, 1, None, "1.0", frozenset({"trailing zero"}))
    slot = Slot("irrigation.rate", (*SLOTS[0].options, flagged), 0)
    book = rulebook_of(rule_of("plain", Not(Written("irrigation.rate", "trailing zero"))))
    assert results(set_of([slot]), book) == ["broken"]
    monkeypatch.setattr(partition, "seen_by", lambda _, leaf: leaf.state)
    with pytest.raises(Disagreement):
        results(set_of([slot]), book)


def named_set(*texts):
    fluid = "irrigation.fluid"
    leaves = tuple(Leaf(fluid, State.KNOWN, "other", None, text) for text in texts)
    return set_of([Slot(fluid, leaves, 0)])


NAMING = rulebook_of(rule_of("plain", Not(Names("irrigation.fluid", ("salt",)))))


def test_a_name_that_either_way_misses_is_found_out(monkeypatch):
    assert results(named_set("water", "salted", "no salt"), NAMING) == ["proved"]
    assert results(named_set("water", "Salt 5 %"), NAMING) == ["broken"]
    with monkeypatch.context() as planted:
        planted.setattr(partition, "seen_by", lambda _, leaf: leaf.state)
        with pytest.raises(Disagreement):
            results(named_set("water", "Salt 5 %"), NAMING)
    never_both = Or(tuple(Not(Names("irrigation.fluid", (name,))) for name in ("salt", "sugar")))
    book = rulebook_of(rule_of("plain", never_both))
    assert results(named_set("salt", "sugar"), book) == ["proved"]
    monkeypatch.setattr(encode, "names_one", lambda *_: True)
    with pytest.raises(Disagreement):
        results(named_set("salt", "sugar"), book)


def test_a_text_that_is_not_yet_there_is_neither_named_nor_not():
    blank = Leaf("irrigation.fluid", State.KNOWN, "other", None, "salt", to_be_written=True)
    open_set = set_of([Slot("irrigation.fluid", (blank,), None, blank=True)])
    assert results(open_set, NAMING) == ["at-signing"]


# Look-ups and small helpers of a proof, each planted wrong where it is used. What is left to both
# ways is the set, the order that picks yield, and the evaluator.
BLANK = set_of([Slot("irrigation.rate", (), None, Span(0, 9, {"mL/h": 1}), blank=True)])
GATED = set_of(SLOTS, gates=[Gate("titration.max", compare("<", 3, rate=1), NAME, HERE)])
OFFERED = set_of(SLOTS, [OfferedSection("titration", True, HERE)])
MAXIMUM_GIVEN = rulebook_of(rule_of("maximum-given", Given(("titration.max",))))
RATE_GIVEN = rulebook_of(rule_of("rate-given", Given(("irrigation.rate",))))
CASES = [
    (SET, BOOK, "proved"),
    (SET, EXACT, "broken"),
    (GATED, MAXIMUM_GIVEN, "broken"),
    (GATED, RATE_GIVEN, "proved"),
    (OFFERED, MAXIMUM_GIVEN, "broken"),
    (OFFERED, RATE_GIVEN, "proved"),
    (BLANK, rulebook_of(rule_of("rate-is-low", compare("<", 10, rate=1))), "proved"),
    (BLANK, rulebook_of(rule_of("rate-is-low", compare("<", 9, rate=1))), "broken"),
]


def cut(**left_out):
    return lambda original: lambda *given: replace(original(*given), **left_out)


def always(answer):
    return lambda _: lambda *_: answer


def first_option(original):
    return lambda slot, choice: original(slot, 0 if slot.options else choice)


def one_less(original):
    def made(path, value, *unit):
        return replace(leaf := original(path, value, *unit), value=leaf.value - 1)

    return made


def last_options(original):
    def made(order_set):
        last = {path: len(slot.options) - 1 for path, slot in order_set.slots.items()}
        picks = original(order_set)
        return replace(picks, chosen={p: n if n >= 0 else picks.chosen[p] for p, n in last.items()})

    return made


def as_picked(_):
    return lambda order_set, picks: {
        path: leaf_at(slot, picks.chosen[path]) for path, slot in order_set.slots.items()
    }


PLANTED = {
    "enumeration.monotone.depended_on: no gates": (cut(gates=()), "caught"),
    "enumeration.monotone.depended_on: no sections": (cut(offered_sections={}), "caught"),
    "enumeration.monotone.within: never": (always(False), "caught"),
    "enumeration.monotone.within: always": (always(True), "harmless"),
    "enumeration.monotone.leaves_of: nothing hidden": (as_picked, "caught"),
    "enumeration.monotone.leaf_at: first option": (first_option, "harmless"),
    "enumeration.partition.leaf_in_range: one less": (one_less, "caught"),
    "solver.partial_eval.within: never": (always(False), "caught"),
    "solver.partial_eval.within: always": (always(True), "caught"),
    "solver.encode.is_variable: never": (always(False), "caught"),
    "solver.encode.is_variable: always": (always(True), "harmless"),
    "solver.encode.leaf_in_range: one less": (one_less, "caught"),
    "solver.search.leaves_of: nothing hidden": (as_picked, "caught"),
    "search_space.leaf_at: first option": (first_option, "caught"),
    "search_space.leaf_in_range: one less": (one_less, "harmless"),
    "search_space.presets: last options": (last_options, "harmless"),
    "search_space.paths_in: none": (always(()), "caught"),
    "search_space.within: never": (always(False), "caught"),
    "search_space.within: always": (always(True), "harmless"),
    "prover.dependency_closure: no gates": (cut(gates=()), "harmless"),
}


def outcome_of(order_set, book, expected):
    """Harmless, where the proof is as without the fault; caught, where a Disagreement is raised."""
    (rule,) = book.rules.values()
    try:
        prover = Prover(order_set, [rule])
        proof = prover.decide(rule)
        if proof.result.value == "broken":
            assert counterexample_of(prover, rule, proof).broken
        prover.search.find(rule.instances[0].condition, "false")  # where enumeration answered alone
    except Disagreement:
        return "caught"
    assert proof.result.value == expected
    return "harmless"


@pytest.mark.parametrize("fault", PLANTED)
def test_a_fault_in_a_look_up_is_caught_or_harmless(monkeypatch, fault):
    where, (plant, expected) = fault.partition(":")[0], PLANTED[fault]
    module, _, name = f"orderlint.proof.{where}".rpartition(".")
    module = importlib.import_module(module)
    monkeypatch.setattr(module, name, plant(getattr(module, name)))
    found = {outcome_of(*case) for case in CASES}
    assert ("caught" in found) == (expected == "caught")
