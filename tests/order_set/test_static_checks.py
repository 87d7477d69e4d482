"""What is doubtful in a set as it is written, beyond the examples that the rules carry."""

from __future__ import annotations

import time
from dataclasses import replace

import core_yaml
import pytest
from order_sets import AT, EXAMPLES, HEAD, example, order_set, whole

from orderlint.assessment import findings_of_faults
from orderlint.finding import Place
from orderlint.order_set.free_texts import free_text_faults
from orderlint.order_set.head import FACTS
from orderlint.order_set.model import preset_order
from orderlint.order_set.static_checks import set_faults
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.verification import verify_order

EXPECTED = core_yaml.load_file(EXAMPLES / "expected-sets.yaml")
NOTIFY = "notify: {call: x, no_output_after: 10 mL, net_in: {above: 10 mL, within: 1 h}}\n"


def found(made, rulebook=None, at=AT):
    return set_faults(made, rulebook or load("order-set"), at)


def of(entries, rulebook=None):
    """Rule and path of each fault, in the order of the file."""
    return [(fault.rule, fault.path) for fault in found(order_set(entries), rulebook)]


def every_finding(made):
    faults = sorted((*made.faults, *found(made)), key=lambda fault: (fault.place, fault.rule))
    return list(dict.fromkeys(fault.rule for fault in faults))


@pytest.mark.parametrize("name", EXPECTED)
def test_an_example_gives_exactly_what_is_expected(name):
    made = example(name)
    assert every_finding(made) == EXPECTED[name]["set"]
    verified = verify_order(preset_order(made), AT, load("all"))
    assert verified.assessment.verdict.value == EXPECTED[name]["verdict"]
    assert [finding.rule for finding in verified.assessment.findings] == EXPECTED[name]["presets"]


def test_the_examples_show_the_rules_on_sets():
    shown = {rule for expected in EXPECTED.values() for rule in expected["set"]}
    rules = {rule.id for rule in load("all").rules.values() if rule.found_by == "set"}
    assert shown <= rules
    assert len(shown) >= 15


def test_a_finding_of_a_set_has_its_words_and_its_places():
    made = example("set-blanks-and-mixed-units.yaml")
    rulebook = load("order-set")
    findings = findings_of_faults((*made.faults, *found(made)), preset_order(made), rulebook)
    by_rule = {finding.rule: finding for finding in findings}
    assert set(by_rule) == set(EXPECTED["set-blanks-and-mixed-units.yaml"]["set"])
    weights = [finding.level.weight for finding in findings]
    assert weights == sorted(weights, reverse=True)
    outside = by_rule["preset-outside-options"]
    assert outside.says == ("The preset of the upper pause limit, 25 mmHg, is none of its options.")
    unbounded = by_rule["blank-unbounded"]
    assert [unbounded.path, *(mention.path for mention in unbounded.also)] == [
        "irrigation.fluid",
        "irrigation.additive.concentration",
        "irrigation.daily_max",
        "drainage.height",
    ]


@pytest.mark.parametrize("key", FACTS)
def test_a_fact_that_does_not_read_is_not_missing_as_well(key):
    line = next(line for line in HEAD.splitlines() if line.startswith(f"{key}:"))
    made = whole(HEAD.replace(line, f"{key}: {{a: b}}") + "  therapy: drainage\n")
    assert [fault.path for fault in made.faults] == [key]
    assert found(made) == ()


def test_a_missing_fact_is_missed_on_the_first_line():
    made = whole("document: order-set\nformat: 1\norder: {therapy: drainage}\n")
    faults = found(made)
    assert {fault.path for fault in faults} == set(FACTS)
    assert {fault.place for fault in faults} == {Place("set.yaml", 1, 1)}
    lacking = {fault.path: fault.details["lacking"] for fault in faults}
    assert "approved" in lacking["approved"]
    assert "again" in lacking["review_due"]


@pytest.mark.parametrize(
    ("due", "at", "overdue"),
    [
        # 2026-03-02T00:00:00Z is 1,772,409,600 seconds after 1970.
        ("2026-03-01", 1_772_409_600_000, True),
        ("2026-03-01", 1_772_409_599_999, False),
        ('"2026-03-02T01:00:00+01:00"', 1_772_409_600_000, True),
        ('"2026-03-02T01:00:00+01:00"', 1_772_409_599_999, False),
    ],
)
def test_a_review_is_overdue_when_its_day_has_ended(due, at, overdue):
    made = whole(HEAD.replace("2027-02-01", due) + "  therapy: drainage\n")
    assert bool(found(made, at=at)) == overdue


def test_an_additive_is_looked_for_as_if_irrigation_were_picked():
    additive = "irrigation: {shown_when: irrigates, additive: {name: demo antibiotic}}\n"
    drains = "therapy: {choose: [drainage, irrigation], preset: drainage}\n" + NOTIFY
    assert of(drains + additive) == [("additive-preselected", "irrigation.additive")]
    assert of("therapy: drainage\n" + additive) == []
    offered = additive.replace("{shown_when: irrigates", "{offered: {preset: out}")
    assert of(drains + offered) == [("additive-preselected", "irrigation.additive")]
    on_purpose = additive.replace("name:", "shown_when: access == 'other', name:")
    assert of("access: lumbar\n" + drains + on_purpose) == []


@pytest.mark.parametrize(
    ("part", "entry"),
    [
        ("notify.call", "call: {blank: optional, label: Call}"),
        ("notify.no_output_after", "no_output_after:"),
        ("notify.net_in", "net_in: {above: 10 mL}"),
        ("notify.net_in", "net_in: {offered: {preset: in}, above: 10 mL, within: 1 h}"),
        ("notify.net_in", "net_in: {shown_when: not irrigates, above: 10 mL, within: 1 h}"),
    ],
)
def test_each_part_of_what_keeps_irrigation_safe(part, entry):
    lines = {
        "notify.call": "call: x",
        "notify.no_output_after": "no_output_after: 10 mL",
        "notify.net_in": "net_in: {above: 10 mL, within: 1 h}",
    }
    lines[part] = entry
    entries = "therapy: {choose: [drainage, irrigation]}\nnotify:\n" + "".join(
        f"  {line}\n" for line in lines.values()
    )
    assert of(entries) == [("safety-part-optional", part)]
    assert of(entries.replace("[drainage, irrigation]", "[drainage, monitoring]")) == []


def test_a_part_that_must_be_filled_in_is_not_left_out():
    filled = NOTIFY.replace(
        "10 mL,", "{blank: required, label: V, from: 5 mL, to: 9 mL, step: 1 mL},"
    )
    assert of("therapy: irrigation\n" + filled) == []


def test_settable_steps_are_those_of_the_policy():
    policy = (
        "document: site-policy\nformat: 1\ntitle: a unit\nvalues:\n"
        "  rate_step: {value: 5 mL/h, source: {kind: local-policy}}\n"
        "  level_step: {by: display_unit, mmHg: left out, cmH2O: 2 cmH2O, "
        "source: {kind: local-policy}}\n"
    )
    unit = load("order", read(policy.encode(), "unit.yaml", "site-policy"))
    rate = "irrigation: {rate: {from: 10 mL/h, to: 20 mL/h, step: 2 mL/h}}"
    assert of(rate) == []
    assert of(rate, unit) == [("step-not-settable", "irrigation.rate")]
    level = "pause: {upper: {from: 20.5 mmHg, to: 21.5 mmHg, step: 0.5 mmHg}}"
    assert of(level) == [("step-not-settable", "pause.upper")]
    assert of(level, unit) == []  # the policy gives no step in mmHg
    odd = "pause: {upper: {from: 21 cmH2O, to: 25 cmH2O, step: 2 cmH2O}}"
    assert of(odd, unit) == [("step-not-settable", "pause.upper")]


@pytest.mark.parametrize(
    "text",
    [
        "Resume all previous orders.",
        "renew previous orders",
        "Continue pre-transfer settings",
        "restart home medications tomorrow",
        "Repeat the usual treatment",
    ],
)
def test_a_text_that_takes_over_what_was_ordered_before(text):
    assert of(f"instructions: {text}") == [("blanket-order", "instructions")]


@pytest.mark.parametrize(
    "text",
    [
        "Rate 40 mL/h",
        "rate 40 cc/hr at night",
        "Drain at −5 mmHg",
        "8 cm H2O",
        "0.5mL/min",
        "Irrespective of the treat-above level",
        "ignoring all alarms",
    ],
)
def test_a_text_that_sets_what_has_its_own_field(text):
    assert of(f'instructions: "{text}"') == [("free-text-overrides-field", "instructions")]


@pytest.mark.parametrize(
    "text",
    [
        "Call first. Two nurses at each change of the bag.",
        "Continue hourly checks; renew the dressing on day 3.",
        "Room 8, bed 40; pager 5512",
        "vancomycin level before the third dose",
        "Send 5 mL for culture",
        "Instead of the tragus use the landmark marked on the skin",
    ],
)
def test_ordinary_prose_is_let_be(text):
    assert of(f'instructions: "{text}"') == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "word", ["renew ", "renew-", "ignore ", "ignore a-", "regardless of a ", "1 ", "continu", "9"]
)
def test_the_time_to_look_at_a_text_grows_with_the_text_alone(word):
    """A text of 200,000 characters made of what begins a pattern; a square would take minutes."""
    made = order_set("instructions: demo")
    slot = made.slots["instructions"]
    (leaf,) = slot.options
    began = time.process_time()
    long = replace(leaf, text=word * (200_000 // len(word)))
    assert not [*free_text_faults(replace(slot, options=(long,)), made)]
    assert time.process_time() - began < 2
