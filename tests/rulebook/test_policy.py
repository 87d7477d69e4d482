"""A policy's values are of known forms, plainly written, and alike within a table."""

from __future__ import annotations

import pytest
from each_case import of_each
from rule_files import only, policy, record, refused, rulebook

from orderlint.finding import Refused
from orderlint.language.types import Choice, Listed, Quantity
from orderlint.reading import read
from orderlint.reading.node import Section
from orderlint.rulebook.policy.policy_values import read_policy

MMHG, CMH2O = 13_595_100, 10_000_000  # ticks; conventional mercury, 13.5951 g/mL
CATALOGUE = {"handbook": "An invented handbook"}


def local(form: str) -> str:
    """A value with a source."""
    return f"{{{form}, source: {{kind: local-policy}}}}"


def constants(key: str | None = None, **values: str):
    document = read(policy(**values).encode(), "policy.yaml")
    return dict(read_policy(document, CATALOGUE).constants(key))


def site(text: str) -> dict:
    """What an example may put in the place of local values."""
    node = read(f"document: rules\nformat: 1\nsite: {text}\n".encode(), "e.yaml").root.get("site")
    assert isinstance(node, Section)
    return {entry.key.text: entry.value for entry in node.entries}


def test_every_form_of_value_has_its_names():
    found = constants()
    assert found["narrowest"] == Quantity("pressure", 5 * MMHG, "5 mmHg")
    assert found["outflow"] == Choice("gravity")
    assert found["band.highest"] == Quantity("pressure", 30 * MMHG, "30 mmHg")
    assert found["units"] == Listed((Choice("mmHg"), Choice("cmH2O")))
    assert found["units.1"] == Choice("cmH2O")
    assert found["steps.1"] == Quantity("pressure", 2 * CMH2O, "2 cmH2O")
    assert not {name for name in found if name.startswith("scale")}


def test_a_table_has_its_names_for_one_key_and_of_every_key():
    assert constants("cmH2O")["step"] == Quantity("pressure", 2 * CMH2O, "2 cmH2O")
    assert constants("mmHg")["step"] == Quantity("pressure", MMHG, "1 mmHg")
    assert "step" not in constants()
    assert constants()["step.cmH2O"] == constants("cmH2O")["step"]
    assert "threshold.child" not in constants("child")
    assert "threshold" not in constants("child")


def test_a_table_may_hold_ranges_or_lists():
    ranged = "by: display_unit, mmHg: {lowest: 1 mmHg, highest: 2 mmHg}"
    assert constants("mmHg", wide=local(ranged))["wide.highest"].text == "2 mmHg"
    listed = "by: display_unit, mmHg: {list: [1 mmHg]}, cmH2O: {list: [1 cmH2O, 2 cmH2O]}"
    found = constants("cmH2O", wide=local(listed))
    assert (found["wide.1"].text, found["wide.mmHg.0"].text) == ("2 cmH2O", "1 mmHg")


BY_UNIT = "{by: display_unit, mmHg: 22 mmHg, cmH2O: 30 cmH2O}"


def test_a_pressure_of_a_table_may_differ_by_unit_of_the_display():
    table = local(f"by: patient.group, adult: {BY_UNIT}, child: 20 mmHg")
    document = read(policy(limit=table).encode(), "policy.yaml")
    made = read_policy(document, CATALOGUE)
    for unit, text in (("mmHg", "22 mmHg"), ("cmH2O", "30 cmH2O"), (None, "22 mmHg")):
        found = dict(made.constants("adult", unit))
        assert found["limit"].text == found["limit.adult"].text == text
        assert found["limit.child"].text == "20 mmHg"


def test_a_table_of_names_has_them_all_in_a_list():
    rows = "by: irrigation.additive.name, 'a, b c': 2 mL, d: 3 mL"
    found = constants("a, b c", made=local(rows))
    assert found["made"].text == "2 mL"
    assert found["made.d"].text == "3 mL"
    assert [item.text for item in found["made.names"].items] == ["a", "b c", "d"]


def test_how_many_times_as_much_is_a_whole_number():
    assert constants(most=local("value: 2 times"))["most"] == Quantity("number", 2, "2 times")


def test_a_choice_is_found_by_name_and_only_a_choice():
    document = read(policy().encode(), "policy.yaml")
    made = read_policy(document, CATALOGUE)
    named = ("outflow", "narrowest", "scale", "step", "nothing")
    assert [made.choice(name) for name in named] == ["gravity", None, None, None, None]


FORMS = {
    "no form": ("§{source: {kind: logic}}", "has a value, a list, or lowest and highest"),
    "a key that is none": (local("§valu: 5 mmHg"), "a local value has no key valu"),
    "two forms": ("§" + local("value: 5 mmHg, list: [5 mmHg]"), "has a value, a list, or"),
    "half a range": ("§" + local("lowest: 5 mmHg"), "has a value, a list, or"),
    "no section": ("§5 mmHg", "made is a section"),
    "a section for a value": (local("value: §{a: b}"), "value: is one text"),
    "a list for a value": (local("value: §[5 mmHg]"), "value: is one text"),
    "a list of nothing": (local("list: §[]"), "list: is a list of one text or more"),
    "no list": (local("list: §5 mmHg"), "list: is a list of one text or more"),
    "a list of lists": (local("list: [§[5 mmHg]]"), "list: is a list of texts"),
    "no source": ("§{value: 5 mmHg}", "source: is missing"),
    "no list of sources": ("{value: 5 mmHg, source: §[]}", "source: is missing"),
    "a source that is none": ("{value: 5 mmHg, source: {kind: §lore}}", "a kind of source is"),
    "an unknown cite": (
        "{value: 5 mmHg, source: {kind: published, cite: §handbok}}",
        "there is no source handbok",
    ),
}


@pytest.mark.parametrize("case", FORMS)
def test_a_value_of_no_known_form_is_refused(case):
    text, message = FORMS[case]
    assert message in refused(values=policy(made=text))


NUMBERS = {
    "no times": ("§0 times", "times is not a standard unit"),
    "a broken number of times": ("§2.5 times", "times is not a standard unit"),
    "a bare number": ("§5", "has no unit"),
    "a decimal": ("§0.5", "has no unit"),
    "an unknown unit": ("§5 kPa", "kPa is not a standard unit"),
    "another spelling": ("§5 ml/hr", "write mL/h"),
    "a power of ten": ("§5e1 mmHg", "is not a plain number with a unit"),
    "a decimal without its zero": ("§.5 mmHg", "is not written plainly"),
    "another minus": ("§−5 mmHg", "is not written plainly"),
    "a plus": ("§+5 mmHg", "mmHg"),
    "a sign of comparison": ('§"<5 mmHg"', "is not a plain number with a unit"),
    "too fine": ("§0.00000001 cmH2O", "more decimals than can be kept"),
}


@pytest.mark.parametrize("form", ["value: {}", "list: [5 mmHg, {}]", "lowest: {}, highest: 5 mmHg"])
@pytest.mark.parametrize("case", NUMBERS)
def test_a_quantity_that_is_not_plain_is_refused(case, form):
    text, message = NUMBERS[case]
    assert message in refused(values=policy(made=local(form.format(text))))


UNLIKE = {
    "a choice among quantities": ("list: [5 mmHg, §gravity]", "this is a choice"),
    "a quantity among choices": ("list: [gravity, §5 mmHg]", "this is a pressure"),
    "a volume among pressures": ("list: [5 mmHg, 6 cmH2O, §5 mL]", "this is a volume"),
    "left out in a list": ("list: [5 mmHg, §left out]", "a value is left out as a whole"),
    "a range upside down": ("lowest: 5 mmHg, highest: §4 mmHg", "the highest, 4 mmHg, is below"),
    "a range upside down in two units": ("lowest: 5 mmHg, highest: §6 cmH2O", "is below"),
    "a range from pressure to volume": (
        "lowest: 5 mmHg, highest: §6 mL",
        "this is a volume, and the lowest a pressure",
    ),
    "a range of choices": ("lowest: §low, highest: high", "is not a plain number with a unit"),
    "left out in a range": ("lowest: 5 mmHg, highest: §left out", "is not a plain number"),
}


@pytest.mark.parametrize("keyed", [False, True])
@pytest.mark.parametrize("case", UNLIKE)
def test_values_that_do_not_go_together_are_refused(case, keyed):
    text, message = UNLIKE[case]
    form = f"by: display_unit, mmHg: {{{text}}}" if keyed else text
    assert message in refused(values=policy(made=local(form)))


def test_a_range_may_be_one_point_in_either_unit():
    # 1 mmHg is 1.35951 cmH2O (conventional mercury, 13.5951 g/mL).
    found = constants(point=local("lowest: 1 mmHg, highest: 1.35951 cmH2O"))
    assert found["point.lowest"].ticks == found["point.highest"].ticks


TABLES = {
    "a key that is no choice": (
        "by: display_unit, mmHg: 1 mmHg, §kPa: 1 mmHg",
        "kPa is not a choice of display_unit: mmHg, cmH2O",
    ),
    "the form of a value": ("by: display_unit, §value: 1 mmHg", "value is not a choice"),
    "by no field": ("by: §display, mmHg: 1 mmHg", "by: names a field with choices"),
    "a name with a point": ("by: stop_when, §a.b: 1 mmHg", "a name in a table has no point in it"),
    "a row of another kind": ("by: stop_when, a: 1 mmHg, b: §1 mL", "this is a volume"),
    "by a quantity": ("by: §pause.upper, mmHg: 1 mmHg", "by: names a field with choices"),
    "by a section": ("by: §pause, mmHg: 1 mmHg", "by: names a field with choices"),
    "by a list": ("by: §[display_unit], mmHg: 1 mmHg", "by: is one text"),
    "by nothing": ("by: §~, mmHg: 1 mmHg", "by: is one text"),
    "a list for a key": ("by: display_unit, mmHg: §[1 mmHg]", "a value is a section"),
    "a bare number": ("by: display_unit, mmHg: §1", "has no unit"),
    "a pressure and a volume": (
        "by: display_unit, mmHg: 1 mmHg, cmH2O: §1 mL",
        "this is a volume, and the first value of the table is a pressure",
    ),
    "a pressure and a range": (
        "by: display_unit, mmHg: 1 mmHg, cmH2O: §{lowest: 1 mmHg, highest: 2 mmHg}",
        "this is a range of pressure",
    ),
    "a pressure and a list": (
        "by: display_unit, mmHg: 1 mmHg, cmH2O: §{list: [1 mmHg]}",
        "this is a list of pressure",
    ),
    "half of what differs by unit of the display": (
        "by: patient.group, adult: §{by: display_unit, mmHg: 22 mmHg}",
        "cmH2O: is missing",
    ),
    "by another field within a table": (
        "by: patient.group, adult: {by: §patient.group, mmHg: 22 mmHg, cmH2O: 30 cmH2O}",
        "by: within a table is display_unit",
    ),
    "a volume by unit of the display": (
        "by: patient.group, adult: {by: display_unit, mmHg: §2 mL, cmH2O: 3 mL}",
        "a display shows pressures",
    ),
    "lists of two kinds": (
        "by: display_unit, mmHg: {list: [1 mmHg]}, cmH2O: §{list: [gravity]}",
        "this is a list of choice",
    ),
    "ranges of two kinds, one left out between them": (
        "by: patient.group, adult: {lowest: 1 mL, highest: 2 mL}, child: left out, "
        "infant: §{lowest: 1 mmHg, highest: 2 mmHg}",
        "the first value of the table is a range of volume",
    ),
}


@of_each("case", TABLES)
def test_a_wrong_table_is_refused(case):
    text, message = TABLES[case]
    assert message in refused(values=policy(made=local(text)))


@pytest.mark.parametrize("name", ["Step", "5th", "in", "step-of-level", "step.low"])
def test_a_value_has_a_name_that_a_condition_can_hold(name):
    assert f"{name} is no name" in refused(values=policy(**{f"§{name}": local("value: 5 mmHg")}))


def test_a_policy_has_a_title_and_values():
    whole = policy()
    assert refused(values="§" + whole.replace("title: demo policy\n", "")) == "title: is missing"
    assert "values: is a section" in refused(values="§" + whole.partition("values:")[0])
    assert "values: is a section" in refused(values=whole.partition("values:")[0] + "values: §[]")


NAMED = {"narrowest": "multiple(pause.upper, site.narrowest)", "step": "multiple(it, site.step)"}


def test_a_value_is_replaced_by_one_of_any_form_without_a_table():
    stepped = record(over="[pause.upper]", require=NAMED["step"])
    replaced = rulebook(stepped, site=site("{step: 3 mmHg}")).rules["demo"]
    (instance,) = replaced.instances
    assert instance.scope.policy_values["step"] == Quantity("pressure", 3 * MMHG, "3 mmHg")
    ranged = rulebook(record(), site=site("{scale: {lowest: 1 mmHg, highest: 2 mmHg}}"))
    assert ranged.rules["demo"].instances[0].scope.policy_values["scale.lowest"].text == "1 mmHg"
    assert rulebook(record(), site=site("{outflow: pump}")).outflow == "pump"


def test_a_value_replaced_by_left_out_is_lacking():
    lacking = rulebook(record(require=NAMED["narrowest"]), site=site("{narrowest: left out}"))
    assert lacking.rules["demo"].inactive == ("the policy gives no narrowest",)


def test_a_value_that_the_policy_does_not_know_cannot_be_replaced():
    with pytest.raises(Refused, match="the policy has no value narowest") as caught:
        rulebook(record(), site=site("{narowest: 5 mmHg}"))
    assert (caught.value.place.line, caught.value.place.column) == (3, 18)


def test_the_sources_of_values_are_read_like_those_of_rules():
    cited = "{value: 5 mmHg, source: {kind: published, cite: handbook, note: adults}}"
    document = read(policy(made=cited).encode(), "policy.yaml")
    made = read_policy(document, CATALOGUE)
    assert made.values["made"].sources[0].text == "An invented handbook (adults)"
    assert only(record(), values=policy(made=cited)).id == "demo"


def test_how_a_value_is_weaker_is_one_of_a_few_words():
    odd = "{value: 5 mmHg, weaker: §smaller, source: {kind: local-policy}}"
    assert "weaker: is one of" in refused(values=policy(narrowest=odd))
