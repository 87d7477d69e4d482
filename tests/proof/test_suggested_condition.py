"""A condition that is offered keeps the rule on every order, and no rule of its level is lost."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawing import most
from drawn_sets import every_order, outcome, sets_and_rules, squares_a_range
from hypothesis import assume, given
from order_sets import EXAMPLES, example, order_set, reviewed, whole

from orderlint.order_set.model import within
from orderlint.proof.prover import Prover
from orderlint.proof.suggested_condition import Gating, gated, gating_of
from orderlint.report.review.narrowings import narrowing

KEPT = {"proved", "vacuous"}


@most(40)
@given(sets_and_rules())
def test_what_is_offered_is_kept_by_every_order(drawn):
    written, rulebook = drawn
    assume(not squares_a_range(written, rulebook))
    slots = {
        path: replace(slot, place=written.place_of(path)) for path, slot in written.slots.items()
    }
    written = replace(written, slots=slots)
    rules = list(rulebook.rules.values())
    prover = Prover(written, rules)
    for rule in rules:
        proof = prover.decide(rule)
        found = gating_of(prover, rule, rules, proof.witness) if proof.witness else None
        if proof.result.value == "broken" and found:
            before, after = (list(every_order(s)) for s in (written, gated(written, found)))
            assert outcome(rule, after) in KEPT
            for other in rules:
                if other.level.weight >= rule.level.weight and outcome(other, before) in KEPT:
                    assert outcome(other, after) in KEPT


@pytest.mark.slow
def test_settings_of_another_therapy_need_only_be_hidden_there():
    found = reviewed("set-blanks-and-mixed-units.yaml")
    (item,) = [b for b in found.broken if b.rule.id == "irrigation-settings-without-irrigation"]
    assert item.gating == Gating("irrigation", "therapy == 'irrigation'")
    assert "to show the irrigation only where therapy == 'irrigation' (shown_when:)" in (
        " ".join(narrowing(item, found).split())
    )


@pytest.mark.slow
def test_a_condition_that_is_proposed_does_when_it_is_written_down():
    name = "set-blanks-and-mixed-units.yaml"
    found = reviewed(name)
    (item,) = [b for b in found.broken if b.rule.id == "irrigation-settings-without-irrigation"]
    text = (EXAMPLES / name).read_text(encoding="utf-8")
    at = f"  {item.gating.path}:\n"
    made = whole(text.replace(at, f"{at}    shown_when: {item.gating.condition}\n"), name)
    assert [gate.path for gate in made.gates] == [item.gating.path]
    before, after = (Prover(each, [item.rule]).decide(item.rule) for each in (example(name), made))
    assert (before.result.value, after.result.value in KEPT) == ("broken", True)


@pytest.mark.parametrize("shown", ["given(titration)", "given(stop_when)"])
def test_what_the_choice_hangs_on_is_not_hidden_by_it(shown):
    """The therapy would hang on itself."""
    made = order_set(
        f"""therapy: {{choose: [irrigation, drainage], shown_when: {shown}}}
titration: {{goal: clear}}
stop_when: clear"""
    )
    hidden = "titration" if "titration" in shown else "stop_when"
    assert gated(made, Gating(hidden, "therapy == 'irrigation'")) is None
    other = gated(made, Gating("pause", "therapy == 'irrigation'"))
    assert [gate.path for gate in other.gates] == ["therapy", "pause"]
    assert within("pause.upper", other.gates[-1].path)
