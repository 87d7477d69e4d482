"""A record's condition is made for each path and each key, or it says why it cannot be."""

from __future__ import annotations

import pytest
from rule_files import only, policy, record, refused

from orderlint.fields import field_table
from orderlint.language.tree import And, Compare, Given, Member, Not, Or, Subject, Term

MMHG = 13_595_100  # ticks; conventional mercury, 13.5951 g/mL


def x(path: str, factor: int = 1) -> Term:
    return Term(factor, (path,))


def test_a_condition_without_a_scene_is_its_requirement():
    (instance,) = only(record()).instances
    assert instance.condition == Compare((x("pause.lower"), x("pause.upper", -1)), "<", 0)
    assert (instance.it, instance.paths) == (None, ("pause.lower", "pause.upper"))


def test_a_condition_with_a_scene_is_kept_outside_it():
    (instance,) = only(record(when="given(treat_above)")).instances
    require = Compare((x("pause.lower"), x("pause.upper", -1)), "<", 0)
    assert instance.condition == Or((Not(And((Given(("treat_above",)),))), require))


def test_the_paths_of_a_finding_are_as_written_and_then_what_the_scene_compares():
    scene = "given(access) and therapy == 'irrigation' and treat_above > pause.upper"
    (instance,) = only(record(when=scene, require="pause.upper > pause.lower")).instances
    assert instance.paths == ("pause.upper", "pause.lower", "treat_above")


def test_a_section_counts_with_its_leaves():
    (instance,) = only(record(require="given(notify.net_in) or given(access)")).instances
    assert instance.paths == ("notify.net_in.above", "notify.net_in.within", "access")


def test_names_are_found_in_every_part_of_a_condition():
    require = (
        "not (- pause.upper + pause.lower < treat_above) or multiple(pause.upper, site.step) "
        "or display_unit in {'mmHg', 'cmH2O'} or irrigates"
    )
    (first, second) = only(record(require=require)).instances
    assert first.paths == second.paths
    assert first.paths == ("pause.upper", "pause.lower", "treat_above", "display_unit", "therapy")


def test_a_rule_holds_for_each_path_it_is_over():
    made = only(
        record(over="[pause.lower, treat_above]", require="it < pause.upper", when="given(it)")
    )
    assert [instance.it for instance in made.instances] == ["pause.lower", "treat_above"]
    assert made.instances[1].paths == ("treat_above", "pause.upper")


def test_a_path_is_filled_into_names_too():
    made = only(record(over="[notify, transport]", require="given(access) or given({it})"))
    assert made.instances[1].paths == ("access", *field_table().sections["transport"])


@pytest.mark.parametrize("key", ["kind", "dimension"])
def test_a_rule_is_over_all_fields_of_a_kind_or_dimension(key):
    wanted = {"kind": "instant", "dimension": "pressure"}[key]
    made = only(record(over=f"{{{key}: {wanted}}}", require="given(it)"))
    fields = field_table().fields.values()
    paths = [field.path for field in fields if getattr(field, key) == wanted]
    assert len(paths) > 1
    assert [instance.it for instance in made.instances] == paths


def test_a_rule_is_over_all_fields_of_several_kinds():
    made = only(record(over="{kind: [text, quantity]}", require="given(it)"))
    fields = field_table().fields.values()
    paths = [field.path for field in fields if field.kind in {"quantity", "text"}]
    assert [instance.it for instance in made.instances] == paths


OVER = {
    "an unknown path": ("[pause.lower, §pause.uper]", "did you mean pause.upper?"),
    "an unknown kind": ("{kind: §number}", "a kind is one of: choice, count, instant"),
    "an unknown dimension": ("{dimension: §length}", "a dimension is one of: angle, concentration"),
    "another key": ("§{name: Access}", "over: is a list of settings, or kinds"),
    "two keys": ("§{kind: quantity, dimension: pressure}", "over: is a list of settings"),
    "an empty section": ("§{}", "over: is a list of settings"),
    "an empty list": ("§[]", "over: is a list of one text or more"),
    "one word": ("§pause.lower", "over: is a list of one text or more"),
    "a list of sections": ("[§{kind: quantity}]", "over: is a list of texts"),
    "an empty list of kinds": ("{kind: §[]}", "kind: is a list of one text or more"),
    "a kind that is a section": ("{kind: §{kind: text}}", "kind: is one text"),
    "an unknown kind among others": ("{kind: [text, §number]}", "a kind is one of: choice, count"),
}


@pytest.mark.parametrize("case", OVER)
def test_a_wrong_over_is_refused(case):
    text, message = OVER[case]
    assert message in refused(record(over=text, require="given(it)"))


def test_a_mistake_for_one_path_alone_is_refused():
    over = "[pause.lower, irrigation.rate]"
    assert "beside" in refused(record(over=over, require="§it < pause.upper"))


def test_a_table_makes_an_instance_for_each_key():
    made = only(record(require="multiple(pause.upper, site.step)"))
    contexts = [Member(Subject("display_unit"), (unit,)) for unit in ("mmHg", "cmH2O")]
    assert [instance.condition.items[0] for instance in made.instances] == [
        Not(And((context,))) for context in contexts
    ]
    assert [instance.condition.items[1].step for instance in made.instances] == [MMHG, 20_000_000]
    assert made.inactive == ()


def test_a_key_comes_after_the_scene():
    made = only(record(when="given(pause.upper)", require="multiple(pause.upper, site.step)"))
    (scene, key) = made.instances[0].condition.items[0].item.items
    assert scene == Given(("pause.upper",))
    assert key == Member(Subject("display_unit"), ("mmHg",))


def test_a_table_in_the_scene_counts_like_one_in_the_requirement():
    made = only(record(when="multiple(pause.upper, site.step)"))
    assert len(made.instances) == 2


def test_a_key_without_a_value_is_a_reason_and_no_instance():
    # Left out for a child, and not mentioned for an infant.
    made = only(record(require="pause.upper <= site.threshold"))
    (instance,) = made.instances
    assert instance.condition.items[0] == Not(And((Member(Subject("patient.group"), ("adult",)),)))
    assert made.inactive == (
        "the policy gives no threshold for child",
        "the policy gives no threshold for infant",
    )


def test_a_reason_is_given_once_for_all_paths():
    made = only(record(over="[pause.lower, treat_above]", require="it <= site.threshold"))
    assert len(made.instances) == 2
    assert len(made.inactive) == 2


def test_one_key_of_a_table_is_named_and_makes_no_other_instance():
    (instance,) = only(record(require="pause.upper <= site.threshold.adult")).instances
    assert instance.condition == Compare((x("pause.upper"),), "<=", 22 * MMHG)


@pytest.mark.parametrize("key", ["child", "infant"])
def test_one_key_without_a_value_is_a_reason(key):
    made = only(record(require=f"pause.upper <= site.threshold.{key}"))
    assert (made.instances, made.inactive) == ((), (f"the policy gives no threshold for {key}",))


def test_one_key_beside_its_table_makes_the_instances_of_the_table():
    made = only(record(require="pause.upper <= site.threshold + site.threshold.adult"))
    assert len(made.instances) == 1


def test_a_key_that_is_none_is_no_name():
    assert "the policy has no site.threshold.aged" in refused(
        record(require="pause.upper <= §site.threshold.aged")
    )


def test_a_value_left_out_is_a_reason_and_no_instance():
    for text in ("pause.lower < site.scale", "pause.lower < site.scale.lowest"):
        made = only(record(require=text))
        assert (made.instances, made.inactive) == ((), ("the policy gives no scale",))


def test_a_whole_table_left_out_is_inactive_for_every_key():
    values = policy(step="{by: display_unit, source: {kind: local-policy}}")
    made = only(record(require="multiple(pause.upper, site.step)"), values=values)
    assert made.instances == ()
    assert len(made.inactive) == 2


TWO_TABLES = {
    "in one text": {"require": "site.step < pause.upper < §site.threshold"},
    "in two texts": {
        "when": "multiple(pause.upper, site.step)",
        "require": "pause.upper < §site.threshold",
    },
    "in the scene": {"when": "multiple(pause.upper, site.step) and treat_above < §site.threshold"},
}


@pytest.mark.parametrize("case", TWO_TABLES)
def test_two_tables_with_different_keys_in_one_condition_are_refused(case):
    message = "site.threshold has a value by patient.group, and step by display_unit"
    assert refused(record(**TWO_TABLES[case])) == message


def test_two_tables_with_the_same_keys_share_them():
    other = "{by: display_unit, mmHg: 3 mmHg, source: {kind: local-policy}}"
    made = only(
        record(require="multiple(pause.upper, site.step) or multiple(pause.upper, site.other)"),
        values=policy(other=other),
    )
    assert len(made.instances) == 1
    assert made.inactive == ("the policy gives no other for cmH2O",)


def test_a_table_and_one_key_of_another_go_together():
    made = only(
        record(require="multiple(pause.upper, site.step) or treat_above < site.threshold.adult")
    )
    assert len(made.instances) == 2


def test_a_list_of_the_policy_is_spread():
    made = only(record(require="treat_above in site.steps"))
    assert made.instances[0].condition == Or(
        (
            Compare((x("treat_above"),), "==", MMHG),
            Compare((x("treat_above"),), "==", 20_000_000),
        )
    )


def test_an_assumption_that_holds_changes_nothing():
    assumed = only(record(assumes="site.outflow == 'gravity'"))
    assert assumed.instances == only(record()).instances
    assert assumed.inactive == ()


def test_an_assumption_that_does_not_hold_is_the_reason():
    made = only(record(assumes="site.outflow == 'pump'", require="pause.lower < site.scale"))
    assert made.instances == ()
    assert made.inactive == ("it assumes site.outflow is pump; here it is gravity",)


def test_an_assumption_about_a_value_left_out_does_not_hold():
    made = only(record(assumes="site.scale == 'pump'"))
    assert made.inactive == ("it assumes site.scale is pump; the policy gives no scale",)


def test_a_rule_that_is_not_asked_is_checked_all_the_same():
    assert "acces" in refused(record(assumes="site.outflow == 'pump'", require="given(§acces)"))


ASSUMES = {
    "another sign": "§site.outflow != 'gravity'",
    "the other way round": "\"§'gravity' == site.outflow\"",
    "an order's setting": "§therapy == 'irrigation'",
    "a chain": "§site.outflow == 'gravity' == 'gravity'",
    "a fact": "§irrigates",
    "two": "§site.outflow == 'gravity' and site.outflow == 'gravity'",
}


@pytest.mark.parametrize("case", ASSUMES)
def test_a_malformed_assumption_is_refused(case):
    assert refused(record(assumes=ASSUMES[case])) == "an assumption reads: site.name == 'choice'"


@pytest.mark.parametrize("name", ["outflw", "narrowest", "step", "units", "band"])
def test_an_assumption_about_what_is_no_choice_is_refused(name):
    message = f"the policy has no choice site.{name}"
    assert refused(record(assumes=f"§site.{name} == 'gravity'")) == message
