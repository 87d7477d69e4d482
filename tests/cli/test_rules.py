"""The verb `rules`: the table, one rule, three forms, and the check of a policy's own rules."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from policy_files import RULE, site_policy
from rule_examples import RuleExample, examples, rulebook_for
from running import run

from orderlint.reading import read
from orderlint.rulebook.examples import examples_of
from orderlint.rulebook.load import load
from orderlint.rulebook.rules_together import CheckedCover
from orderlint.verification import verify_order

pytestmark = pytest.mark.usefixtures("contradictions_found_once")
EXAMPLES = Path(__file__).parents[2] / "examples"
RULES = load("all").rules


@pytest.fixture
def policy(tmp_path):
    def write(parts):
        file = tmp_path / "unit.yaml"
        file.write_text(site_policy(parts), encoding="utf-8")
        return file

    return write


@pytest.mark.slow
@pytest.mark.parametrize("form", ["text", "json", "markdown"])
def test_every_rule_is_in_the_table_with_its_source(form):
    ran = run("rules", "--format", form)
    assert (ran.status, ran.err) == (0, "")
    for name in RULES:
        assert name in ran.text
    assert "common practice, no published source" in ran.text
    assert "Not asked" in ran.text or form == "json"


def test_a_page_of_text_fits_80_columns():
    lines = run("rules").out.decode().splitlines()
    assert max(map(len, lines)) <= 80


_found = {}


def verified_once(order, at, rulebook):
    """What is found of an order, which is kept with it: another may not have its number."""
    asked = (id(order), at, id(rulebook))
    if asked not in _found:
        _found[asked] = verify_order(order, at, rulebook), order, rulebook
    return _found[asked][0]


@pytest.mark.slow
@pytest.mark.parametrize("rule", RULES)
def test_every_rule_can_be_shown_whole_in_each_form(rule, monkeypatch):
    # Its examples, and the rulebooks that they name, are read once for all forms.
    monkeypatch.setattr(RuleExample, "rulebook", rulebook_for)
    monkeypatch.setattr(
        "orderlint.report.rules.listing.examples_of", lambda shown: examples(shown.id)
    )
    monkeypatch.setattr("orderlint.report.rules.listing.verify_order", verified_once)
    text = run("rules", rule)
    assert text.status == 0
    assert "Source:" in text.text
    (data,) = json.loads(run("rules", rule, "--format", "json").out)["rules"]
    assert data["rule"] == rule
    assert bool(data["kept_where"]) == (data["found_by"] == "condition")
    assert "site." not in data["kept_where"] + data["asked_where"]
    assert len(data["examples"]) >= 2
    assert f"# `{rule}`" in run("rules", rule, "--format", "markdown").out.decode()


@pytest.mark.parametrize("form", ["text", "json", "markdown"])
def test_a_rule_that_a_policy_silences_can_be_shown(policy, form):
    file = policy("completeness: {prescriber: silent}\n")
    ran = run("rules", "missing-prescriber", "--policy", str(file), "--format", form)
    assert (ran.status, ran.err) == (0, "")
    assert "the policy does not ask for it" in ran.out.decode()


@pytest.mark.parametrize("policy_name", ["adult-unit", "standing-orders"])
def test_the_examples_of_a_rule_are_read_under_a_policy_that_silences_it(policy_name):
    file = EXAMPLES / f"policy-{policy_name}.yaml"
    rules = load("order", read(file.read_bytes(), file.name, "site-policy")).rules
    silenced = [name for name, rule in rules.items() if rule.inactive and not RULES[name].inactive]
    assert silenced
    for name in silenced:
        shown = replace(rules[name], examples=RULES[name].examples)
        assert len([*examples_of(shown)]) == len(examples(name))


def test_a_condition_is_said_with_display_names_and_local_values():
    ran = run("rules", "treating-window-narrow")
    assert (
        "Kept where: the upper pause limit minus the treat-above level is at or above 5 mmHg "
        "(window_min, local policy)" in ran.text
    )
    assert "Broken by" in ran.text
    assert "For example: Irrigation has only 4.99 mmHg to work in" in ran.text


@pytest.mark.parametrize(("level", "unchecked"), [(22, 0), (25, 1), (40, 1)])
def test_what_holds_without_a_display_unit_is_said(tmp_path, level, unchecked):
    """A limit that differs by display: kept within both, and never broken."""
    rule = "upper-pause-over-adult-threshold"
    said = "Where no display unit is written: kept if it would be on a display in each unit; not"
    assert said in run("rules", rule).text
    file = tmp_path / "order.yaml"
    order = f"therapy: irrigation\npatient: {{group: adult}}\npause: {{upper: {level} mmHg}}\n"
    file.write_text(f"document: order\nformat: 1\n{order}", encoding="utf-8")
    told = run("verify", file, "--format", "line").out.decode()
    assert told.count(rule) == unchecked
    assert told.count(f"{rule}: It could not be checked, for lack of display unit") == unchecked


def test_a_limit_that_no_display_changes_has_no_word_of_it():
    assert "no display unit" not in run("rules", "upper-pause-over-child-threshold").text


def test_a_misspelt_rule_is_answered_with_the_nearest():
    ran = run("rules", "treating-window-narow")
    assert (ran.status, ran.out) == (2, b"")
    assert "did you mean treating-window-narrow?" in ran.err
    assert run("rules", "zzz").status == 2


def test_under_a_policy_its_rules_and_values_are_shown(policy):
    file = policy(RULE)
    assert "demo: CLARIFY" in run("rules", "--policy", file).text
    assert "is at or above 8 mmHg" in run("rules", "demo", "--policy", file).text


def test_a_policy_with_a_mistake_is_refused_in_every_use(policy):
    file = policy("rulse: []\n")
    for arguments in (("--policy", file), ("--check", file)):
        ran = run("rules", *arguments)
        assert (ran.status, ran.out) == (2, b"")
        assert f"{file}:4:1: a site policy has no key rulse; did you mean rules?" in ran.err


def test_check_takes_nothing_else(policy):
    assert run("rules", "demo", "--check", policy(RULE)).status == 2


def test_a_sound_rule_has_a_witness_for_each_thing(policy):
    ran = run("rules", "--check", policy(RULE))
    assert ran.status == 0
    assert "It can be broken: pause." in ran.text
    assert "It can be kept: pause." in ran.text
    assert "no rule beside it is: pause." in ran.text
    assert "It has no examples" in ran.text


def test_a_rule_that_another_implies_is_noted(policy):
    ran = run("rules", "--check", policy(RULE.replace("8 mmHg", "0 mmHg")))
    assert ran.status == 1
    assert "breaks pause-limits-reversed as well" in ran.text


def test_a_rule_that_no_order_breaks_is_noted(policy):
    never = RULE.replace(">= wide", "> wide").replace("8 mmHg", "-900 mmHg")
    ran = run("rules", "--check", policy(never))
    assert ran.status == 1
    assert "No order can break the policy's rule demo" in ran.text


def test_a_cover_that_no_order_needs_is_noted(policy):
    covered = RULE + "    covered_by: [zero-interval-too-long]\n"
    ran = run("rules", "--check", policy(covered))
    assert ran.status == 1
    assert "zero-interval-too-long covers demo, and no order breaks both at one setting" in ran.text


def test_a_cover_of_which_no_answer_is_found_is_no_finding(policy, monkeypatch):
    """That the solver may give none: test_rules_together.py."""
    cover = CheckedCover("pause-limits-reversed", "demo", "open")
    monkeypatch.setattr("orderlint.rulebook.policy_rules_check.check_covers", lambda *_: [cover])
    ran = run("rules", "--check", policy(RULE))
    assert ran.status == 0
    said = "demo on some order: no answer was found within the effort"
    assert f"It can be that pause-limits-reversed covers {said}" in ran.text


def test_an_example_that_is_not_what_it_claims_is_refused(policy):
    example = "    examples:\n      passes:\n        - {pause.lower: 2 mmHg, pause.upper: 9 mmHg}\n"
    ran = run("rules", "--check", policy(RULE + example))
    assert (ran.status, ran.out) == (2, b"")
    assert "stands under passes: of demo, and breaks it" in ran.err


@pytest.mark.parametrize("outcome", ["breaks", "passes", "unknown"])
def test_an_example_with_a_misspelt_setting_is_refused(policy, outcome):
    example = f"    examples:\n      {outcome}:\n        - {{pause.lowr: 2 mmHg}}\n"
    file = policy(RULE + example)
    ran = run("rules", "--check", file)
    assert (ran.status, ran.out) == (2, b"")
    line = file.read_text(encoding="utf-8").count("\n")
    assert f"{file}:{line}:12: pause.lowr is nothing that an order holds" in ran.err
    assert "did you mean pause.lower?" in ran.err


def test_a_policy_without_rules_of_its_own_is_said_to_add_none(policy):
    ran = run("rules", "--check", policy(""))
    assert (ran.status, ran.err) == (0, "")
    assert "It adds none." in ran.text


def test_check_says_what_is_wrong_with_the_policy_itself(policy):
    past = "suppressions: [{rule: missing-prescriber, reason: invented, approved_by: a committee, "
    ran = run("rules", "--check", policy(past + 'until: "2020-01-01T00:00:00Z"}]\n'))
    assert (ran.status, ran.err) == (1, "")
    assert "suppression-expired" in ran.text
    low = "levels: [{rule: rate-outside-range, level: note, reason: invented, approved_by: x}]\n"
    ran = run("rules", "--check", policy(low))
    assert (ran.status, "rate-outside-range at the level note" in ran.text) == (0, True)
    weak = "values: {window_min: {value: 4 mmHg, source: {kind: local-policy}}}\n"
    ran = run("rules", "--check", policy(weak))
    assert (ran.status, "Without this policy it is: 5 mmHg" in ran.text) == (0, True)


def test_do_not_start_rules_of_which_no_order_keeps_all_are_shown_with_one_that_breaks_one(policy):
    own = RULE.replace("level: clarify", "level: do-not-start")
    own = own.replace("pause.upper - pause.lower >= wide", "pause.upper + wide <= pause.lower")
    ran = run("rules", "--check", policy(own))
    assert (ran.status, ran.err) == (1, "")
    for therapy in ("irrigation", "drainage", "monitoring"):
        assert (
            f"CLARIFY: No order for {therapy} keeps pause-limits-reversed and demo. This one "
            f"keeps all but demo: therapy {therapy}, pause.lower "
        ) in ran.text
