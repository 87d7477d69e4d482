"""What a Questionnaire shows beside its answers and may say otherwise: never passed over."""

from __future__ import annotations

import json

from each_case import of_each
from order_sets import AT, some_rules
from questionnaire_forms import choice, form_of, items, set_of, written

from orderlint.set_review import review_set

LEVEL = choice("treat_above", "8 mmHg", "10 mmHg")


def shown(text):
    return {"linkId": "shown", "type": "display", "text": text}


def reasons(made):
    return [fault.details["reason"] for fault in made.unsettled]


@of_each(
    "text",
    [
        "irrigation rate 20 mL/h",
        "Keep irrigation at twenty",
        "Treat-above level",
        "Drainage settings: as on the ward",
        "Hold drainage",
        "Do not irrigate",
        "Do not clamp",
        "Double the rate overnight",
        "Sterile water only",
        "Continue all previous orders",
        "Regardless of the limits",
        "See page 20",
        20,
    ],
)
def test_a_text_to_be_read_that_names_a_setting_is_not_understood(text):
    made = set_of(form_of(LEVEL, shown(text)))
    assert ["names a setting" in reason for reason in reasons(made)] == [True]
    (fault,) = made.unsettled
    assert (fault.place.element, fault.written) == ("Questionnaire.item[1].text", str(text))
    found = review_set(made, AT, some_rules(1))
    assert found.assessment.verdict == "do-not-start"


def test_a_text_to_be_read_within_a_group_is_not_passed_over():
    around = {"linkId": "around", "type": "group", "item": [LEVEL, shown("Run at 20 mL/h")]}
    assert reasons(set_of(form_of(around)))


@of_each(
    "text",
    ["No setting.", "Please sign below", "Fields marked * are required", "Irrigation:", "", None],
)
def test_a_text_to_be_read_without_a_setting_or_a_number_changes_nothing(text):
    form = written("therapy: {choose: [irrigation, drainage], preset: irrigation}")
    plain = set_of(json.dumps(form))
    form["item"].append(shown(text))
    made = set_of(form)
    assert made.unsettled == ()
    assert {p: [o.text for o in s.options] for p, s in made.slots.items()} == {
        p: [o.text for o in s.options] for p, s in plain.slots.items()
    }
    assert "shown" in items(form)


@of_each(
    ("key", "value"),
    [
        ("answerOption", [{"valueString": "20 mL/h"}]),
        ("answerValueSet", "#levels"),
        ("initial", [{"valueString": "20 mL/h"}]),
        ("repeats", True),
        ("readOnly", True),
    ],
)
def test_a_text_to_be_read_has_no_answers(key, value):
    made = set_of(form_of(LEVEL, {**shown("Please sign below"), key: value}))
    assert [key in reason for reason in reasons(made)] == [True]


@of_each(
    "prefix",
    [
        "Do not give:",
        "at least",
        "20 mL/h",
        "-1",
        "≥ 1",
        "1. Run at",
        "0.5",
        "1,5",
        "1000",
        "Step twenty",
        "no",
        {"value": "1."},
        ["1."],
    ],
)
def test_a_prefix_that_is_more_than_a_numbering_is_not_understood(prefix):
    made = set_of(form_of({**LEVEL, "prefix": prefix}))
    assert ["prefix" in reason for reason in reasons(made)] == [True]
    assert made.unsettled[0].place.element == "Questionnaire.item[0].prefix"
    assert made.unsettled[0].spoils == ("treat_above",)


@of_each(
    "prefix",
    [
        *("1", "1.", "a)", "(a)", "A.1", "1.2.3", "12.b", "iv.", "IX)", "[3]", "1:", "Q7", 1),
        *("Step 2:", "No. 4", "Part B", "§ 2", " 3. ", "•", "-", "*", ""),
    ],
)
def test_a_prefix_that_numbers_an_item_changes_nothing(prefix):
    made = set_of(form_of({**LEVEL, "prefix": prefix}))
    assert made.unsettled == ()
    assert [option.text for option in made.slots["treat_above"].options] == ["8 mmHg", "10 mmHg"]
