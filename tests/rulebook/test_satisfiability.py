"""What can become of a rule: a witness that the meaning bears out, or none at all."""

from __future__ import annotations

from unittest import mock

import pytest
import z3
from rule_files import policy, record, rulebook

from orderlint.fields import field_table
from orderlint.language.budget import Budget
from orderlint.language.evaluate import evaluate
from orderlint.language.to_z3 import known_of, solve
from orderlint.language.tree import Given
from orderlint.order import State
from orderlint.quantity_words import format_quantity
from orderlint.rulebook.load import load
from orderlint.rulebook.satisfiability import _ask, _kept, possible
from orderlint.units import TICKS

ASKED = [rule for rule in load("all").order_rules if rule.instances]
NEVER_BROKEN = {"adult-needs-own-policy"}
"""Rules that only another policy than the built-in one lets an order break."""


def found(*records: str):
    book = rulebook(*records)
    return possible(book.rules["demo"], book, Budget())


def test_a_rule_that_can_be_broken_and_kept_has_a_witness_for_each():
    result = found(record())
    assert (result.broken.found, result.kept.found, result.alone.found) == ("yes",) * 3


@pytest.mark.parametrize(
    ("when", "require", "broken", "kept"),
    [
        ("'given(id) and not given(id)'", "given(zone)", "no", "yes"),
        (None, "given(id) or not given(id)", "no", "yes"),
        (None, "given(id) and not given(id)", "yes", "no"),
        ("\"therapy == 'drainage' and therapy == 'irrigation'\"", "given(zone)", "no", "yes"),
    ],
)
def test_what_no_order_can_do_is_known(when, require, broken, kept):
    result = found(record(when=when, require=require, says="Invented."))
    assert (result.broken.found, result.kept.found) == (broken, kept)


def test_the_rules_in_the_way_are_named():
    weaker = record(rule="weaker", require="pause.upper - pause.lower >= a_little")
    weaker = weaker.replace("    says", "    limits: {a_little: 1 mmHg}\n    says")
    apart = record(rule="apart", require="given(zone)", says="Invented.")
    result = found(record(), weaker, apart)
    assert (result.alone.found, result.alone.because) == ("no", ("weaker",))


def test_rules_that_stand_in_the_way_only_together_are_both_named():
    low = record(rule="low", require="not (pause.lower >= pause.upper and given(zone))")
    other = record(rule="other", require="not (pause.lower >= pause.upper and not given(zone))")
    result = found(record(), low, other)
    assert (result.alone.found, result.alone.because) == ("no", ("low", "other"))


def test_a_witness_is_kept_where_the_rule_is_asked_if_it_can_be():
    result = found(record(when="irrigates"))
    assert result.kept.leaves["therapy"].value == "irrigation"


def test_a_witness_is_in_whole_units_where_it_can_be():
    lower = found(record()).broken.leaves["pause.lower"]
    assert lower.value % TICKS["pressure"][lower.unit] == 0


@pytest.mark.slow
@pytest.mark.parametrize("rule", ASKED, ids=lambda rule: rule.id)
def test_every_built_in_rule_can_be_broken_and_kept(rule):
    trees = [instance.condition for instance in rule.instances]
    pairs = [solve(tree) for tree in trees]
    broken, kept = (
        _ask(trees, z3.Or([pair.false for pair in pairs]), False, {}, Budget()),
        _kept(trees, pairs, Budget()),
    )
    if rule.id in NEVER_BROKEN:
        assert broken.found == "no"
    else:
        assert False in [evaluate(tree, broken.leaves) for tree in trees]
    assert all(evaluate(tree, kept.leaves) for tree in trees)


def test_a_question_without_an_answer_in_time_stays_open():
    with mock.patch.object(z3.Solver, "check", return_value=z3.unknown):
        result = found(record())
    assert [result.broken.found, result.kept.found, result.alone.found] == ["open"] * 3


def test_what_is_spent_on_one_rule_is_spent_of_the_whole():
    book, whole = rulebook(record()), Budget(1)
    possible(book.rules["demo"], book, whole)
    assert 0 < whole.left < Budget(1).left
    whole.spend(whole.left)
    result = possible(book.rules["demo"], book, whole)
    assert [result.broken.found, result.kept.found, result.alone.found] == ["open"] * 3


def test_a_preference_without_an_answer_in_time_leaves_the_witness_as_it_was():
    answers = iter([z3.sat])
    real = z3.Solver.check

    def check(solver, *assumptions):
        found = real(solver, *assumptions)
        return next(answers, z3.unknown) if found == z3.sat else found

    tree = rulebook(record()).rules["demo"].instances[0].condition
    with mock.patch.object(z3.Solver, "check", check):
        answer = _ask([tree], solve(tree).false, False, {}, Budget())
    assert evaluate(tree, answer.leaves) is False


def test_a_witness_that_the_meaning_does_not_bear_out_is_a_fault_of_ours():
    tree = rulebook(record()).rules["demo"].instances[0].condition
    with pytest.raises(RuntimeError):
        _ask([tree], solve(tree).true, False, {}, Budget())


def test_where_only_an_unreadable_setting_will_do_the_witness_has_one():
    given = Given(("pause.lower",))
    wanted = z3.And(solve(given).true, z3.Not(known_of("pause.lower")))
    answer = _ask([given], wanted, True, {}, Budget())
    assert answer.leaves["pause.lower"].state is State.UNREADABLE


def test_a_witness_is_as_like_the_schemas_examples_as_can_be():
    result = found(record(when="irrigates"))
    kept, broken = result.kept.leaves, result.broken.leaves
    shown = [format_quantity(kept[path].value, "mmHg") for path in ("pause.lower", "pause.upper")]
    assert shown == [field_table().fields[p].example for p in ("pause.lower", "pause.upper")]
    lower, upper = broken["pause.lower"], broken["pause.upper"]
    assert (lower.unit, upper.unit) == ("mmHg", "mmHg")
    assert upper.value == lower.value


DRUGS = {
    "one": "{list: [salt, sugar], source: {kind: logic}}",
    "two": "{list: [sugar], source: {kind: logic}}",
}


@pytest.mark.parametrize(
    ("require", "broken", "kept"),
    [
        ("not names(stop_when, site.one)", "yes", "yes"),
        ("not names(stop_when, site.two) or names(stop_when, site.one)", "no", "yes"),
        ("not names(stop_when, site.one) or names(stop_when, site.two)", "yes", "yes"),
        ("names(irrigation.fluid, site.two) or irrigation.fluid == 'other'", "yes", "yes"),
        ("not names(irrigation.fluid, site.two) or irrigation.fluid == 'other'", "no", "yes"),
        ("not names(irrigation.fluid, site.two) or irrigation.fluid != 'other'", "yes", "yes"),
        ("given(stop_when) or not names(stop_when, site.one)", "no", "yes"),
    ],
)
def test_what_can_be_named_together_is_known_and_shown(require, broken, kept):
    book = rulebook(record(require=require, says="Invented."), values=policy(**DRUGS))
    result = possible(book.rules["demo"], book, Budget())
    assert (result.broken.found, result.kept.found) == (broken, kept)
