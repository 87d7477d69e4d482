"""A rule's words and figures are held against what could be filled in, at load."""

from __future__ import annotations

import pytest
from rule_files import only, policy, record, refused

WORDS = ("says", "expected", "why", "ask")
GOOD = {
    "a setting": {"says": "At {pause.lower}, that is {pause.lower shown}."},
    "what is written": {"says": "In {pause.lower unit}, {pause.lower number}."},
    "a name": {"says": "The {pause.lower name}."},
    "the name of a section": {"says": "The {notify.net_in name}."},
    "it": {"over": "[pause.lower]", "require": "it < pause.upper", "says": "The {it name}, {it}."},
    "a limit": {
        "limits": "{most: 5 mmHg}",
        "require": "pause.lower < most",
        "says": "Above {most}.",
    },
    "a value of the policy": {"says": "Above {site.narrowest}, {site.units}, {site.band.lowest}."},
    "one key of a table": {"says": "Above {site.threshold.adult}."},
    "a table that the condition names": {
        "require": "multiple(pause.lower, site.step)",
        "says": "Not a multiple of {site.step}.",
    },
    "a figure": {"figures": "{gap: pause.upper - pause.lower}", "says": "It is {gap}."},
    "nothing": {"says": "It is so."},
}


@pytest.mark.parametrize("case", GOOD)
def test_words_may_name_all_that_can_be_filled(case):
    assert only(record(**GOOD[case])).instances


BAD = {
    "an unknown field": ("The limit is §{pause.uper}.", "did you mean pause.upper?"),
    "an unknown value": ("Above §{site.narowest}.", "did you mean site.narrowest?"),
    "a value left out": ("Above §{site.scale}.", "the policy has no site.scale"),
    "a table that the condition does not name": ("By §{site.step}.", "the policy has no site.step"),
    "it, where there is none": ("The §{it name}.", "there is no field it"),
    "the time of checking": ("At §{checked_at}.", "checked_at is nothing that an order holds"),
    "a section": ("The §{notify.net_in}.", "there is no field notify.net_in"),
    "the unit of a section": ("The §{notify.net_in unit}.", "there is no field notify.net_in"),
    "the name of nothing": ("The §{pause.uper name}.", "there is no field pause.uper"),
    "a part that is none": ("In §{pause.lower units}.", "in braces stands a name"),
    "nothing": ("The §{}.", "in braces stands a name"),
    "a blank before the name": ("The §{ pause.lower}.", "in braces stands a name"),
    "an opening brace": ("The §{pause.lower.", "in braces stands a name"),
    "a closing brace": ("The pause.lower§}.", "in braces stands a name"),
    "a second opening brace": ("The §{{pause.lower}}.", "in braces stands a name"),
    "a unit of a policy's value": ("In §{site.narrowest unit}.", "so it has no unit"),
    "a name of a figure": ("The §{gap name}.", "so it has no name"),
}


@pytest.mark.parametrize("key", WORDS)
@pytest.mark.parametrize("case", BAD)
def test_words_that_could_not_be_filled_are_refused_where_they_stand(case, key):
    text, message = BAD[case]
    figures = "{gap: pause.upper - pause.lower}"
    assert message in refused(record(**{key: f'"{text}"', "figures": figures}))


def test_words_in_a_folded_text_are_refused_where_they_stand():
    assert "acces" in refused(record(why=">-\n      It is so, {access},\n      and so, §{acces}."))


def test_words_are_held_against_every_path():
    over = {"over": "[pause.lower, notify.net_in]", "require": "given(it)"}
    assert "there is no field notify.net_in" in refused(record(**over, says="It is §{it}."))


def test_words_of_a_rule_that_is_not_asked_are_not_read():
    rule = only(record(require="pause.lower < site.scale", says="It is {nothing}."))
    assert rule.inactive == ("the policy gives no scale",)


FIGURES = {
    "an unknown name": ("pause.upper - §pause.uper", "did you mean pause.upper?"),
    "a wrong dimension": ("§pause.upper - irrigation.rate", "cannot stand beside"),
    "a setting without a number": ("pause.upper - §therapy", "therapy has no number"),
    "an unknown function": ("§rounded(pause.upper)", "there is no function rounded"),
    "a value left out": ("pause.upper - §site.scale", "the policy has no site.scale"),
}


@pytest.mark.parametrize("case", FIGURES)
def test_a_wrong_figure_is_refused_where_it_stands(case):
    text, message = FIGURES[case]
    assert message in refused(record(figures=f"{{gap: {text}}}"))


def test_a_figure_is_held_against_every_path():
    changed = {
        "over": "[pause.lower, irrigation.rate]",
        "require": "given(it)",
        "says": "It is so.",
    }
    assert "beside" in refused(record(**changed, figures="{gap: §pause.upper - it}"))


def test_a_figure_is_held_against_every_key_of_a_table():
    values = policy(step="{by: display_unit, mmHg: 1 mmHg, source: {kind: logic}}")
    figure = "settable_below(pause.lower, site.step)"
    rule = only(
        record(require="multiple(pause.lower, site.step)", figures=f"{{below: '{figure}'}}"),
        values=values,
    )
    assert len(rule.instances) == 1
    assert rule.figures is not None
    assert list(rule.figures) == ["below"]


NAMES = {
    "a field": "therapy",
    "a section": "pause",
    "a fact": "irrigates",
    "a function": "given",
    "a function of figures": "keyed",
    "the path of a rule": "it",
    "the policy": "site",
    "the order before": "before",
    "the time": "checked_at",
}


@pytest.mark.parametrize("value", ["limits", "figures"])
@pytest.mark.parametrize("case", NAMES)
def test_a_name_that_is_taken_is_refused(case, value):
    text = "5 mmHg" if value == "limits" else "pause.upper"
    message = f"{NAMES[case]} is the name of something else"
    assert refused(record(**{value: f"{{§{NAMES[case]}: {text}}}"})) == message


@pytest.mark.parametrize("name", ["5th", "most-of-it", "Most", "most.of.it", "möst", "class", "or"])
@pytest.mark.parametrize("value", ["limits", "figures"])
def test_a_name_that_no_condition_could_hold_is_refused(name, value):
    text = "5 mmHg" if value == "limits" else "pause.upper"
    assert f"{name} is no name" in refused(record(**{value: f"{{§{name}: {text}}}"}))


LIMITS = {
    "a bare number": ("§5", "has no unit"),
    "an unknown unit": ("§5 kPa", "kPa is not a standard unit"),
    "another spelling": ("§5 mmhg", "write mmHg"),
    "a power of ten": ("§5e1 mmHg", "is not a plain number with a unit"),
    "a zero too many": ("§5.0 mmHg", "is not written plainly"),
    "a decimal alone": ("§.5 mmHg", "is not written plainly"),
    "too fine": ("§0.0000000001 mmHg", "more decimals than can be kept"),
    "a word": ("§much", "is not a plain number with a unit"),
    "a list": ("§[5 mmHg]", "most: is one text"),
}


@pytest.mark.parametrize("case", LIMITS)
def test_a_limit_that_is_no_quantity_is_refused(case):
    text, message = LIMITS[case]
    assert message in refused(record(limits=f"{{most: {text}}}"))


@pytest.mark.parametrize("key", ["limits", "figures"])
def test_limits_and_figures_are_sections(key):
    assert f"{key}: is a section" in refused(record(**{key: "§[5 mmHg]"}))
