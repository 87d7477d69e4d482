"""The presets as an order: what is preset, what is still to be filled in, what is hidden."""

from __future__ import annotations

import pytest
from order_sets import AT, EXAMPLES, HEAD, example, order_set, whole

from orderlint.finding import Verdict
from orderlint.order import OPTIONAL_SIGNING_FIELDS, SIGNING_FIELDS, State
from orderlint.order_set.model import preset_order, to_fill
from orderlint.rulebook.load import load
from orderlint.verification import verify, verify_order

SET = "set-irrigation-adult.yaml"


def found(made):
    return verify_order(preset_order(made), AT, load("order"))


def rules(verified):
    return [finding.rule for finding in verified.assessment.findings]


def left(made):
    """What is left to fill in before the presets are signed."""
    return {*to_fill(made, preset_order(made))}


def test_a_blank_that_must_be_filled_in_is_not_missing():
    lines = (EXAMPLES / SET).read_text(encoding="utf-8")
    old = "indication: intraventricular haemorrhage"
    blank = whole(lines.replace(old, "indication: {blank: required, label: Why}"))
    optional = whole(lines.replace(old, "indication: {blank: optional, label: Why}"))
    gone = whole(lines.replace(f"  {old}\n", ""))
    assert "indication" in left(blank)
    assert rules(found(blank)) == []
    for made in (optional, gone):
        assert "indication" not in left(made)
        assert rules(found(made)) == ["missing-indication"]


def test_what_hangs_on_a_blank_is_unknown_and_never_kept():
    text = (EXAMPLES / SET).read_text(encoding="utf-8")
    picked = text.replace("  display_unit: mmHg", "  display_unit: {choose: [mmHg, cmH2O]}")
    verified = found(whole(picked))
    assert verified.assessment.verdict is Verdict.INCOMPLETE
    unchecked = {item.rule: item.missing for item in verified.assessment.unchecked}
    assert "display_unit" in unchecked["display-unit-differs"]


def test_the_facts_of_signing_are_to_be_filled_in():
    made = preset_order(example(SET))
    must_be = SIGNING_FIELDS - OPTIONAL_SIGNING_FIELDS
    assert left(example(SET)) == must_be
    assert all(made.leaves[path].state is State.UNREADABLE for path in must_be)
    assert not any(rule.startswith("missing-") for rule in rules(found(example(SET))))


def test_what_is_hidden_is_not_to_be_filled_in():
    entries = (
        "therapy: {choose: [drainage, irrigation], preset: drainage}\n"
        "irrigation: {shown_when: irrigates, rate: {blank: required, label: Rate}}\n"
        "titration: {offered: {preset: out}, goal: {blank: required, label: Goal}}\n"
    )
    assert left(order_set(entries)) == SIGNING_FIELDS - OPTIONAL_SIGNING_FIELDS
    shown = entries.replace("preset: drainage", "preset: irrigation").replace("out", "in")
    signed = SIGNING_FIELDS - OPTIONAL_SIGNING_FIELDS
    assert left(order_set(shown)) == signed | {"irrigation.rate", "titration.goal"}


def test_a_preset_that_does_not_read_is_found_as_in_any_order():
    made = order_set("treat_above: {choose: [8, 10 mmHg], preset: 8}\npause: {lower: 2}")
    assert [fault.path for fault in preset_order(made).faults] == [
        "treat_above",
        "pause.lower",
    ]
    assert "unit-missing" in rules(found(made))


@pytest.mark.parametrize(
    "entries",
    [
        "treat_above: {choose: [8, 10 mmHg], preset: 10 mmHg}",  # the odd option is not the preset
        "treat_above: {choose: [8 mmHg], preset: 9}",  # said of the set, as it is no option
        "treat_above: {from: 8, to: 9 mmHg, step: 1 mmHg}",  # said of the set
        "titration: {offered: {preset: out}, step: 8}",  # it is not taken
    ],
)
def test_a_fault_that_is_not_of_a_preset_is_none_of_the_order(entries):
    made = order_set(entries)
    assert made.faults
    assert preset_order(made).faults == ()


def test_the_presets_of_a_set_of_fixed_values_are_found_as_the_order_is():
    for name in ("pause-limits-reversed.yaml", "unsafe-notation.yaml", "rate-without-unit.yaml"):
        text = (EXAMPLES / name).read_text(encoding="utf-8")
        lines = [line for line in text.splitlines() if not line.startswith(("document", "format"))]
        made = whole(HEAD + "".join(f"  {line}\n" for line in lines))
        assert rules(found(made)) == rules(verify(text.encode(), name, AT))
