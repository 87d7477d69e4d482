"""A site policy says only what it may, and a mistake in it is refused where it stands."""

from __future__ import annotations

import pytest
from each_case import of_each
from policy_files import LOCAL, RULE, local, refused, site_policy, suppression
from rule_files import MARK, place_of_mark

from orderlint.finding import Level, Place, Refused
from orderlint.reading import read
from orderlint.rulebook.examples import examples_of
from orderlint.rulebook.load import load
from orderlint.rulebook.policy.document import locate_cause
from orderlint.rulebook.policy.levels import why_it_must_stand
from orderlint.rulebook.policy.policy_values import WEAKER
from orderlint.rulebook.policy_rules_check import check_own_rules
from orderlint.rulebook.rule import POLICY_FAMILY, OrderRule

NEAR = "; did you mean "


def values(form: str) -> str:
    return f"values:\n  {form}\n"


def level(rule: str, to: str) -> str:
    return f"levels:\n  - {{rule: {rule}, level: {to}, reason: invented, approved_by: a group}}\n"


def test_a_policy_that_changes_nothing_leaves_every_rule_as_it_is():
    bare = local("")
    assert bare.policy == "a demo unit"
    assert list(bare.rules) == list(load("all").rules)
    for name, rule in load("all").rules.items():
        ours = bare.rules[name]
        assert (ours.level, ours.covers, ours.inactive) == (rule.level, rule.covers, rule.inactive)
    for rule, ours in zip(load("all").order_rules, bare.order_rules, strict=True):
        assert [i.condition for i in ours.instances] == [i.condition for i in rule.instances]
    assert (bare.suppressions, bare.faults) == ((), ())


def test_every_built_in_value_says_in_which_direction_it_is_weaker():
    for name, value in load("all").values.items():
        assert value.weaker in WEAKER, name
        assert value.called != name
        assert value.parts or any(value.keyed.values()) or value.form, name


@of_each(
    ("parts", "message"),
    [
        ("§valeus: {}\n", f"a site policy has no key valeus{NEAR}values?"),
        (values(f"§windw_min: {{value: 5 mmHg, {LOCAL}}}"), f"windw_min{NEAR}window_min?"),
        (
            values(f"window_min: §{{value: 5 mL, {LOCAL}}}"),
            "form is pressure, and this is volume",
        ),
        (
            values(f"window_min: §{{value: gravity, {LOCAL}}}"),
            "form is pressure, and this is choice",
        ),
        (
            values(f"rate_range: §{{value: 5 mL/h, {LOCAL}}}"),
            "range of flow, and this is flow",
        ),
        (values(f"bags: §{{list: [5 mL/h], {LOCAL}}}"), "list of volume, and this is list of flow"),
        (values(f"window_min: {{value: §5, {LOCAL}}}"), "has no unit"),
        (values("window_min: §{value: 5 mmHg}"), "source: is missing"),
        (values(f"window_min: {{value: 5 mmHg, §weaker: lower, {LOCAL}}}"), "built-in policy"),
        (values(f"level_step: §{{value: 1 mmHg, {LOCAL}}}"), "has a table by: display_unit"),
        (values(f"bags: §{{by: therapy, {LOCAL}}}"), "has no table in the built-in policy"),
        (
            values(f"level_step: §{{by: display_unit, mmHg: 1 mmHg, {LOCAL}}}"),
            "cmH2O: is missing",
        ),
        (
            values(f"level_step: {{by: display_unit, mmHg: 1 mmHg, cmH2O: §1 mL, {LOCAL}}}"),
            "the first value of the table is a pressure",
        ),
        (values(f"drain_scale_range: §{{value: 5 mmHg, {LOCAL}}}"), "is range of pressure"),
        (values(f"rate_step: §{{value: 0 mL/h, {LOCAL}}}"), "0 mL/h is no value"),
        (values(f"fluids: §{{list: [tea], {LOCAL}}}"), "'tea' is not one of"),
        (values("window_min: {value: 5 mmHg, source: {kind: published, cite: §x}}"), "no source x"),
        ("sources: {§severe-tbi: Another.}\n", "there is a source severe-tbi already"),
    ],
)
def test_a_value_is_of_the_form_of_the_built_in_one(parts, message):
    assert message in refused(parts)


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        (level("§pause-limit-reversed", "note"), f"rule pause-limit-reversed{NEAR}pause-limits-re"),
        (level("pause-limits-reversed", "§note"), "cannot be lowered: it follows from the order"),
        (level("missing-therapy", "§clarify"), "cannot be lowered: no order is started without it"),
        (level("suppression-expired", "§note"), "cannot be lowered: it says something of the poli"),
        (
            level("bag-not-stocked", "§claryfy"),
            f"level is one of: do-not-start, clarify, note{NEAR}clarify",
        ),
        (level("bag-not-stocked", "note") + "completeness: {§bag: note}\n", "no rule asks for bag"),
        ("levels:\n  - §{rule: bag-not-stocked, level: note, approved_by: x}\n", "reason: is miss"),
        ("levels: §{rule: bag-not-stocked}\n", "levels: is a list"),
        ("completeness: {therapy: §silent}\n", "cannot be silenced"),
        ("completeness: {§prescribre: note}\n", f"prescribre{NEAR}prescriber?"),
        ("completeness: {prescriber: §quiet}\n", "a level is one of"),
    ],
)
def test_a_level_is_changed_only_where_it_may_be(parts, message):
    assert message in refused(parts)


def test_a_level_is_not_set_twice():
    twice = "completeness: {prescriber: note}\n" + level("§missing-prescriber", "do-not-start")
    assert "set twice" in refused(twice)


def test_a_changed_level_is_told_with_each_finding():
    rule = local(level("treating-window-narrow", "note")).rules["treating-window-narrow"]
    assert rule.level is Level.NOTE
    assert "invented (approved by a group)" in rule.sources[-1].text
    same = local(level("treating-window-narrow", "clarify")).rules["treating-window-narrow"]
    assert same.sources == load("all").rules["treating-window-narrow"].sources


def test_a_rule_that_is_made_lighter_covers_nothing_heavier():
    name, rule = next(
        (name, rule)
        for name, rule in load("all").rules.items()
        if any(source.kind != "logic" for source in rule.sources)
        and rule.level is Level.DO_NOT_START
        and rule.covers
        and isinstance(rule, OrderRule)
    )
    lighter = local(level(name, "note")).rules[name]
    assert lighter.covers == {
        other for other in rule.covers if load("all").rules[other].level is Level.NOTE
    }


def test_what_is_missing_is_asked_for_as_the_policy_has_it():
    book = local("completeness: {prescriber: silent, position.head_up: clarify}\n")
    assert book.rules["missing-position-head-up"].level is Level.CLARIFY
    silent = book.rules["missing-prescriber"]
    assert (silent.instances, silent.inactive) == ((), ("the policy does not ask for it",))


@pytest.mark.parametrize("part", ["notify.net_in", "notify.net_out"])
def test_what_is_missing_is_silenced_by_the_name_that_its_finding_has(part):
    rule = f"missing-{part.replace('.', '-').replace('_', '-')}"
    assert load("all").rules[rule].main_path == part
    if why_it_must_stand(load("all").rules[rule]):
        assert "cannot be silenced" in refused(f"completeness: {{{part}: §silent}}\n")
        return
    assert local(f"completeness: {{{part}: silent}}\n").rules[rule].instances == ()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("rule: demo", "rule: §bag-not-stocked", "there is a rule bag-not-stocked already"),
        ("level: clarify", "level: clarify\n    found_by: §schema", "has a condition"),
        ("ask: What?", "ask: What?\n    covers: [§bag-not-stocked]", "cannot cover it"),
        ("ask: What?", "ask: What?\n    covers: [§bag-not-stoked]", f"stoked{NEAR}bag-not-stock"),
        ("ask: What?", "asks: What?", "ask: is missing"),
        ("pause.upper - pause.lower >= wide", "§pause.upper >= irrigation.bag", "beside"),
        ("pause.upper - pause.lower >= wide", "§pause.uper >= wide", "did you mean pause.upper?"),
        ("pause.upper - pause.lower", "§__import__('os').system('x')", "in the language"),
        ("pause.upper - pause.lower", "not " * 12 + "§not given(zone) and pause.upper", "nest"),
        ("pause.upper - pause.lower", "pause.upper ** §9 ** 9", "a condition has + and -"),
        ("pause.upper - pause.lower >= wide", "§" + " and ".join(["irrigates"] * 99), "600"),
        ("The band is {pause.lower}", "The band is §{pause.loewr}", "pause.lower"),
        ("    source: {kind: local-policy}\n", "", "source: is missing"),
    ],
)
def test_a_rule_of_a_policy_is_held_to_what_a_built_in_one_is(old, new, message):
    parts = RULE.replace(old, new)
    if "§" not in parts:
        parts = parts.replace("- rule", "- §rule", 1)
        if "asks" in parts:
            parts = RULE.replace("ask: What?", "§asks: What?")
            message = "a rule has no key asks; did you mean ask"
    assert message in refused(parts)


def test_rules_of_a_policy_may_cover_each_other_and_be_covered_by_ours():
    second = RULE.partition("\n")[2].replace("demo", "other").replace("wide", "wider")
    covering = RULE.replace("ask: What?", "ask: What?\n    covers: [other]")
    book = local(covering + second.replace("ask:", "covered_by: [pause-limits-reversed]\n    ask:"))
    assert book.rules["demo"].covers == {"other"}
    assert "other" in book.rules["pause-limits-reversed"].covers
    assert book.rules["demo"].family == "local"


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        (suppression("bag-not-stocked", paths="x").replace("paths", "§paths"), "did you mean path"),
        (suppression("bag-not-stocked", path="§irigation"), "did you mean irrigation"),
        (suppression("bag-not-stocked", until="§tomorrow"), "a date and time with its offset"),
        (suppression("bag-not-stocked", until='§"2030-01-01T00:00:00"'), "with its offset"),
        (suppression("bag-not-stocked", until=None).replace("{", "§{"), "until: is missing"),
        (suppression("bag-not-stocked", reason="§[a, b]"), "one text"),
        ("suppressions: [§bag-not-stocked]\n", "a section with keys of its own"),
    ],
)
def test_a_suppression_that_does_not_read_is_refused(parts, message):
    assert message in refused(parts)


def test_a_source_of_the_policy_may_be_cited():
    cited = "sources: {protocol: An invented protocol.}\n" + RULE.replace(
        "{kind: local-policy}", "{kind: published, cite: protocol}"
    )
    assert local(cited).rules["demo"].sources[0].text == "An invented protocol."


@pytest.mark.parametrize(
    ("examples", "message"),
    [
        ("{§broken: [{}]}", "an example is one of: breaks, passes, unknown"),
        ("{breaks: §{}}", "breaks: is a list of examples"),
        ("{breaks: [§x]}", "an example is settings with values"),
        ("{breaks: [{at: §today}]}", "a date and time with its offset"),
        ("{breaks: [{§puase.lower: sample}]}", "is nothing that an order holds"),
    ],
)
def test_an_example_is_written_as_an_example_is(examples, message):
    text = site_policy(f"{RULE}    examples: {examples}\n")
    (rule,) = (
        rule
        for rule in local(f"{RULE}    examples: {examples.replace(MARK, '', 1)}\n").rules.values()
        if rule.family == POLICY_FAMILY
    )
    with pytest.raises(Refused) as caught:
        list(examples_of(rule))
    assert message in caught.value.message
    assert caught.value.place == place_of_mark(text, "unit.yaml")


def test_a_rule_that_is_not_asked_is_not_put_to_the_solver():
    (item,) = check_own_rules(
        local(RULE.replace("require:", "assumes: site.outflow == 'pump'\n    require:"))
    )
    assert (item.possible, item.faults) == (None, ())


def test_a_refusal_that_no_value_leads_to_is_left_as_it_is():
    ours = Refused("a mistake of ours", Place("rules/band.yaml", 1, 1))
    document = read(
        site_policy(values(f"window_min: {{value: 5 mmHg, {LOCAL}}}")).encode(), "u.yaml"
    )
    assert locate_cause(ours, document, lambda _: None) is ours


def test_a_table_may_be_given_again_with_a_pressure_for_each_unit_of_the_display():
    table = "by: patient.group, adult: {by: display_unit, mmHg: 21 mmHg, cmH2O: 29 cmH2O}"
    found = local(values(f"icp_threshold: {{{table}, child: 20 mmHg, infant: left out, {LOCAL}}}"))
    assert found.values["icp_threshold"].keyed["adult"][".cmH2O"].text == "29 cmH2O"


def test_a_value_that_a_rule_names_in_its_words_cannot_be_left_out():
    message = refused(values(f"fluids: §{{value: left out, {LOCAL}}}"))
    assert message.startswith("fluids: the policy has no site.fluids")


def test_a_value_that_only_conditions_read_may_be_left_out():
    assert local(values(f"window_min: {{value: left out, {LOCAL}}}")).weaker
