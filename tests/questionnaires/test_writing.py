"""How an order set is written as a Questionnaire, and what has no place in one."""

from __future__ import annotations

import pytest
from each_case import of_each
from order_sets import HEAD
from questionnaire_forms import CODES, items, written, written_set

from orderlint.finding import Refused

BASE = "https://orderlint.example/fhir/"
NOT_LISTED = f"{BASE}set-preset-not-listed"
THERAPY = "therapy: {choose: [irrigation, drainage]}\n"
LEVELS = "treat_above: {choose: [8 mmHg, 10 mmHg]}\n"


def parts(item):
    """All of an item but for what names it."""
    return {k: v for k, v in item.items() if k not in {"linkId", "code", "text"}}


def coding(text):
    return {"code": text, "display": text}


@of_each(
    ("entry", "item"),
    [
        (
            "treat_above: 8 mmHg",
            {
                "type": "string",
                "required": True,
                "readOnly": True,
                "initial": [{"valueString": "8 mmHg"}],
            },
        ),
        (
            "treat_above: {choose: [8 mmHg, 10 mmHg], preset: 10 mmHg}",
            {
                "type": "choice",
                "required": True,
                "answerOption": [
                    {"valueCoding": coding("8 mmHg")},
                    {"valueCoding": coding("10 mmHg"), "initialSelected": True},
                ],
            },
        ),
        (
            "treat_above: {from: 8 mmHg, to: 9.0 mmHg, step: 1 mmHg}",
            {
                "extension": [{"url": f"{BASE}set-step", "valueString": "1 mmHg"}],
                "type": "choice",
                "required": True,
                "answerOption": [
                    {"valueCoding": coding("8 mmHg")},
                    {"valueCoding": coding("9.0 mmHg")},
                ],
            },
        ),
        (
            "treat_above: {blank: optional, label: T, from: 8 mmHg, to: 8 mmHg, step: 1 mmHg}",
            {
                "extension": [
                    {"url": f"{BASE}set-step", "valueString": "1 mmHg"},
                    {"url": f"{BASE}set-blank", "valueBoolean": True},
                ],
                "type": "choice",
                "answerOption": [{"valueCoding": coding("8 mmHg")}],
            },
        ),
        (
            "treat_above: {choose: [8 mmHg], preset: 9 mmHg}",
            {
                "type": "choice",
                "required": True,
                "answerOption": [
                    {"valueCoding": coding("8 mmHg")},
                    {
                        "valueCoding": coding("9 mmHg"),
                        "initialSelected": True,
                        "extension": [
                            {"url": f"{BASE}set-preset-not-listed", "valueBoolean": True}
                        ],
                    },
                ],
            },
        ),
        ("treat_above: {blank: required, label: T}", {"type": "string", "required": True}),
        ("indication: {blank: optional, label: T}", {"type": "text"}),
        ("written: {blank: required, label: T}", {"type": "dateTime", "required": True}),
        ("revision: {blank: required, label: T}", {"type": "integer", "required": True}),
        (
            "revision: 3",
            {
                "type": "integer",
                "required": True,
                "readOnly": True,
                "initial": [{"valueInteger": 3}],
            },
        ),
    ],
)
def test_an_entry_is_a_question(entry, item):
    assert [parts(each) for each in items(written(entry)).values()] == [item]


def test_a_question_has_the_code_of_its_setting_and_a_blank_its_label():
    form = written("treat_above: 8 mmHg\nindication: {blank: required, label: Why}")
    level, why = form["item"]
    assert level["code"] == [
        {"system": CODES, "code": "treat_above", "display": "Treat-above level"}
    ]
    assert (level["text"], why["text"]) == ("Treat-above level", "Why")


def enabled(entries, link_id):
    item = items(written(entries))[link_id]
    terms = [tuple(term.values()) for term in item["enableWhen"]]
    return terms, item.get("enableBehavior")


@of_each(
    ("condition", "terms", "behavior"),
    [
        ("therapy == 'drainage'", [("therapy", "=", coding("drainage"))], None),
        ("not therapy == 'drainage'", [("therapy", "=", coding("irrigation"))], None),
        (
            "irrigates and given(pause.upper)",
            [("therapy", "=", coding("irrigation")), ("pause.upper", "exists", True)],
            "all",
        ),
        ("irrigates or not given(pause.upper)", [("therapy", "=", coding("irrigation"))], None),
        ("not given(notify.call)", [("notify.call", "exists", False)], None),
        ("pause.lower < pause.upper or irrigates", None, None),
        ("given(notify)", [("notify.call", "exists", True)], None),
        (
            "irrigates or given(notify.call)",
            [("therapy", "=", coding("irrigation")), ("notify.call", "exists", True)],
            "any",
        ),
    ],
)
def test_a_condition_asks_for_answers(condition, terms, behavior):
    entries = (
        THERAPY
        + "pause: {lower: 2 mmHg, upper: 22 mmHg}\nnotify: {call: {blank: optional, label: Call}}\n"
        + f'access: {{fixed: lumbar, shown_when: "{condition}"}}'
    )
    if terms is None:
        with pytest.raises(Refused, match="compares two settings"):
            written(entries)
    else:
        assert enabled(entries, "access") == (terms, behavior)


def test_a_condition_on_a_number_asks_for_the_options_that_meet_it():
    limits = "shown_when: treat_above > low, limits: {low: 9 mmHg}"
    terms, _ = enabled(LEVELS + f"access: {{fixed: lumbar, {limits}}}", "access")
    assert terms == [("treat_above", "=", coding("10 mmHg"))]


def test_conditions_of_two_kinds_need_a_group_around_another():
    both = "irrigates and (given(notify.call) or given(stop_when))"
    form = written(
        THERAPY
        + "notify: {call: {blank: optional, label: Call}}\nstop_when: {blank: optional, label: S}\n"
        + f"access: {{fixed: lumbar, shown_when: {both}}}"
    )
    outer = form["item"][-1]
    assert (outer["type"], [term["question"] for term in outer["enableWhen"]]) == (
        "group",
        ["therapy"],
    )
    (inner,) = outer["item"]
    assert (inner["linkId"], inner["enableBehavior"]) == ("access", "any")


def test_a_section_that_is_offered_hangs_on_a_tick_before_it():
    tick, section = written("titration: {offered: {preset: in}, goal: clear}")["item"]
    assert (tick["type"], tick["initial"]) == ("boolean", [{"valueBoolean": True}])
    asked = {"question": tick["linkId"], "operator": "=", "answerBoolean": True}
    assert section["enableWhen"] == [asked]


def test_the_head_stands_in_the_elements_of_the_standard():
    form = written_set(
        """document: order-set
format: 1
id: set-7
title: a form
population: [adult, child]
version: 3
owner: a committee
approved: 2026-02-01 by vote
review_due: 2027-02-01T08:00+01:00
order: {access: lumbar}
"""
    )
    assert (form["title"], form["version"], form["publisher"]) == ("a form", "3", "a committee")
    assert form["identifier"] == [{"system": f"{BASE}order-set", "value": "set-7"}]
    groups = [each["valueCodeableConcept"]["text"] for each in form["useContext"]]
    assert groups == ["adult", "child"]
    assert form["approvalDate"] == "2026-02-01"
    written_so = {"url": f"{BASE}set-as-written", "valueString": "2026-02-01 by vote"}
    assert form["_approvalDate"] == {"extension": [written_so]}
    # Without seconds it is no date and time of the standard, but its day is a date.
    assert form["effectivePeriod"]["end"] == "2027-02-01"
    assert form["status"] == "unknown"


STEPS = "{from: 0 mL, to: 999 mL, step: 1 mL}"


@of_each(
    ("text", "says"),
    [
        (f"{HEAD}  treat_above: {{choose: 8 mmHg}}\n", "treat-above level is not understood"),
        (f"{HEAD}  treat_abov: 8 mmHg\n", "treat_abov"),
        (f"tilte: x\n{HEAD}  treat_above: 8 mmHg\n", "tilte"),
        (f"{HEAD}  indication: true\n", "indication is not a text"),
        (f'{HEAD}  revision: "3"\n', "revision number is not a text"),
        (
            f"{HEAD}  access: {{fixed: lumbar, shown_when: given(stop_when)}}\n",
            "catheter site has no place in a Questionnaire: no answer",
        ),
        (
            f"{HEAD}  therapy: {{blank: required}}\n"
            "  access: {fixed: lumbar, shown_when: irrigates}\n",
            "blank of the therapy",
        ),
        (
            f"{HEAD}  treat_above: {{choose: [10 mmHg, 10 cmH2O]}}\n"
            "  access: {fixed: lumbar, shown_when: treat_above > pause.upper}\n",
            "compares two settings",
        ),
        (
            f"{HEAD}  drainage: {{height: {{choose: [10 mmHg, 13.5951 cmH2O]}}}}\n"
            "  access: {fixed: lumbar, shown_when: unit_of(drainage.height) == 'mmHg'}\n",
            "tells answers apart",
        ),
        (
            f"{HEAD}  irrigation: {{bag: {STEPS}, daily_max: {STEPS}}}\n"
            f"  drainage: {{bag: {STEPS}}}\n",
            "20,000 keys and values",
        ),
        (
            HEAD + "  therapy: {choose: [irrigation, drainage]}\n"
            "  notify: {call: {blank: optional}, events: {blank: optional}}\n"
            "  stop_when: {blank: optional}\n  instructions: {blank: optional}\n"
            "  access: {fixed: lumbar, shown_when: "
            "(irrigates and given(notify.call)) or (drains and given(stop_when)) or "
            "(given(notify.events) and given(instructions)) or (irrigates and given(stop_when))}\n",
            "too many groups",
        ),
        (f"{HEAD}  pause: {{shown_when: irrigates}}\n  therapy: irrigation\n", None),
        (f"{HEAD}  {{}}\n", "no items"),
    ],
)
def test_what_has_no_place_is_refused_by_name(text, says):
    if says is None:
        assert "pause.empty" in items(written_set(text))
        return
    with pytest.raises(Refused, match="no place in a Questionnaire") as refused:
        written_set(text)
    assert says in refused.value.message
    assert refused.value.place.file == "set.yaml"
