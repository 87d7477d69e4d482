"""Questionnaires that are not understood: refused, or a set of which nothing is proved."""

from __future__ import annotations

import json
from copy import deepcopy

import pytest
from each_case import of_each
from order_sets import AT, some_rules
from questionnaire_forms import (
    CODES,
    choice,
    form_of,
    items,
    question,
    set_of,
    when,
    written,
    yaml_of,
)

from orderlint.fhir.questionnaire.elements import HARMLESS, HARMLESS_EXTENSIONS
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.order import State
from orderlint.set_review import review_set

THERAPY = choice("therapy", "irrigation", "drainage")
LEVEL = choice("treat_above", "8 mmHg", "10 mmHg")
EXTENSION = {"url": "https://elsewhere.example/x", "valueBoolean": True}
CODE = {"system": CODES, "code": "treat_above"}
ANSWERS = LEVEL["answerOption"]


def group(path, *inner, **more):
    code = {"system": CODES, "code": path}
    return {"linkId": path, "code": [code], "type": "group", "item": [*inner], **more}


BLEED = {"display": "a bleed"}
ONE_WATER = {"display": "water of one kind"}
VALUE = {"valueString": "8 mmHg"}
URL = "https://orderlint.example/fhir/set-"
STEP = {"url": f"{URL}step", "valueString": "2 mmHg"}
OF_BLANK = {"url": f"{URL}blank", "valueBoolean": True}
OUTSIDE = {"url": f"{URL}preset-not-listed", "valueBoolean": True}


def open_choice(picked):
    option = {"valueString": "8 mmHg", "initialSelected": picked}
    return {"type_": "open-choice", "answerOption": [option]}


def without(item, key):
    return {k: v for k, v in item.items() if k != key}


def shown(*terms, **more):
    return form_of(THERAPY, {**LEVEL, "enableWhen": [*terms], **more})


IRRIGATES = when("therapy", "=", answerCoding={"display": "irrigation"})
TICK = {"linkId": "tick", "type": "boolean"}
TICKED = when("tick", "=", answerBoolean=True)
GOAL = question("titration.goal", "string")
NOT_UNDERSTOOD = "set-entry-not-understood"
LISTED = {"resourceType": "ValueSet", "id": "levels", "status": "active"}
LISTED["compose"] = {"include": [{"concept": [{"code": "8 mmHg"}, {"code": "10 mmHg"}]}]}


@of_each(
    ("form", "says"),
    [
        (form_of(THERAPY, THERAPY), "same linkId"),
        (form_of(group("pause", LEVEL), LEVEL), "same linkId"),
        (form_of(without(LEVEL, "linkId")), "no linkId"),
        (form_of({**LEVEL, "linkId": 7}), "no linkId"),
        (form_of(LEVEL, modifierExtension=[EXTENSION]), "modifierExtension"),
        (form_of(LEVEL, implicitRules="https://elsewhere.example/rules"), "implicitRules"),
        (form_of({**LEVEL, "modifierExtension": [EXTENSION]}), "modifierExtension"),
        (shown({**IRRIGATES, "modifierExtension": [EXTENSION]}), "modifierExtension"),
        (
            form_of({**LEVEL, "answerOption": [{**ANSWERS[0], "modifierExtension": [EXTENSION]}]}),
            "modifierExtension",
        ),
        (form_of(), "no items"),
        (form_of(item=THERAPY), "no items"),
        (form_of({"linkId": "x", "type": "display", "text": "read this"}), "no question"),
        (form_of({"linkId": "x", "type": "string", "text": "Name"}), "no question"),
    ],
)
def test_what_cannot_be_told_apart_is_refused_at_its_place(form, says):
    with pytest.raises(Refused, match=says) as refused:
        set_of(form)
    assert refused.value.place.line >= 1
    assert refused.value.place.element.startswith("Questionnaire")


def test_items_nested_too_deeply_are_refused():
    inner = LEVEL
    for number in range(20):
        inner = {"linkId": f"g{number}", "type": "group", "item": [inner]}
    with pytest.raises(Refused, match="inside one another"):
        set_of(form_of(inner))


@of_each(
    ("form", "says"),
    [
        # Items that hold no setting that is read.
        (form_of(LEVEL, {"linkId": "x", "type": "string", "text": "Rate"}), "no code of a setting"),
        (form_of(LEVEL, question("pause.midway", "string")), "pause.midway"),
        (form_of(LEVEL, {**LEVEL, "linkId": "again"}), "there twice"),
        (
            form_of(THERAPY, {**LEVEL, "code": [CODE, {**CODE, "code": "pause.lower"}]}),
            "several settings",
        ),
        (form_of(LEVEL, group("treat_below", {**GOAL, "code": []})), "treat_below"),
        (form_of({**LEVEL, "type": "display"}, THERAPY), "no answer"),
        (form_of({**LEVEL, "type": "attachment"}), "type attachment"),
        (form_of({**LEVEL, "type": "slider"}), "type slider"),
        (form_of(without(LEVEL, "type")), "type none"),
        (form_of({**LEVEL, "type": "decimal"}), "type decimal"),
        (form_of(question("treat_above", "boolean")), "yes or no"),
        (form_of({**LEVEL, "item": [{**GOAL}]}), "under its answer"),
        # What may be answered.
        (form_of({**LEVEL, "repeats": True}), "several answers"),
        (form_of({**LEVEL, "required": False}), "without an answer"),
        (form_of({**LEVEL, "required": "true"}), "neither true nor false"),
        (form_of({**LEVEL, "readOnly": True}), "read-only"),
        (form_of(question("treat_above", "string", readOnly=True)), "read-only"),
        (form_of(question("treat_above")), "no options"),
        (form_of(question("treat_above", answerValueSet="https://x.example/vs")), "bring along"),
        (form_of(question("treat_above", answerValueSet="#levels")), "bring along"),
        (form_of(question("treat_above", "string", answerValueSet="#levels")), "bring along"),
        (
            form_of(
                question(
                    "treat_above",
                    "string",
                    readOnly=True,
                    initial=[{"valueString": "8 mmHg"}],
                    answerValueSet="#levels",
                )
            ),
            "read-only",
        ),
        (form_of({**LEVEL, "answerValueSet": "#levels"}, contained=[LISTED]), "beside a value set"),
        (form_of({**LEVEL, "initial": [{"valueCoding": {"display": "8 mmHg"}}]}), "initial value"),
        (
            form_of(
                question(
                    "treat_above",
                    answerValueSet="#levels",
                    initial=[{"valueCoding": {"code": "9 mmHg"}}],
                ),
                contained=[LISTED],
            ),
            "none of its options",
        ),
        (
            form_of(
                {**LEVEL, "answerOption": [{**each, "initialSelected": True} for each in ANSWERS]}
            ),
            "several of its options",
        ),
        (
            form_of({**LEVEL, "answerOption": [{"valueReference": {"reference": "x"}}]}),
            "not one value",
        ),
        (form_of({**LEVEL, "answerOption": [{"valueCoding": {"system": "x"}}]}), "no coding"),
        (form_of({**LEVEL, "answerOption": ["8 mmHg"]}), "answerOption"),
        (
            form_of(
                question(
                    "treat_above",
                    answerOption=[{"valueCoding": {"code": "80 mmHg", "display": "8 mmHg"}}],
                )
            ),
            "another as its code",
        ),
        (form_of(question("treat_above", "string", initial=[{"valueString": "8 mmHg"}])), "over"),
        (
            form_of(question("treat_above", "quantity", initial=[{"valueQuantity": {"value": 8}}])),
            "over",
        ),
        (form_of(question("treat_above", "text", answerOption=ANSWERS)), "type text"),
        (form_of(question("written", "dateTime", answerOption=ANSWERS)), "type dateTime"),
        (form_of(question("start_checks.imaging", "boolean", answerOption=ANSWERS)), "yes or no"),
        (
            form_of(question("start_checks.imaging", "boolean", initial=[{"valueString": "yes"}])),
            "not one value",
        ),
        (
            form_of(
                question("treat_above", "decimal", readOnly=True, initial=[{"valueDecimal": 8}])
            ),
            "type decimal",
        ),
        (
            form_of(question("treat_above", "string", readOnly=True, initial=[VALUE, VALUE])),
            "several",
        ),
        (
            form_of(question("treat_above", "string", readOnly=True, initial=[{"valueString": 8}])),
            "as the standard has it",
        ),
        (
            form_of(question("treat_above", answerOption=[{"valueCoding": {"display": 8}}])),
            "no coding that has a text",
        ),
        (
            form_of(
                question(
                    "treat_above",
                    answerOption=[{"valueCoding": {"display": "8 mmHg", "extension": [EXTENSION]}}],
                )
            ),
            "extension",
        ),
        (form_of(question("treat_above", **open_choice(True))), "written over"),
        # What a set says beside the options.
        (
            form_of(question("treat_above", extension=[STEP], answerOption=[])),
            "no options",
        ),
        (form_of({**LEVEL, "extension": [STEP, STEP]}), "twice"),
        (form_of({**LEVEL, "extension": [{**STEP, "valueString": "3 mmHg"}]}), "from one another"),
        (form_of({**LEVEL, "extension": [{**STEP, "valueString": "much"}]}), "from one another"),
        (
            form_of({**LEVEL, "extension": [{"url": STEP["url"], "valueBoolean": True}]}),
            "not a text",
        ),
        (form_of({**LEVEL, "extension": [OF_BLANK]}), "without bounds"),
        (
            form_of({**LEVEL, "answerOption": [{**ANSWERS[0], "extension": [OUTSIDE]}]}),
            "not its preset",
        ),
        # Elements that are not understood.
        (form_of({**LEVEL, "repeats": {}}), "repeats"),
        (form_of({**LEVEL, "code": CODE}, THERAPY), "code"),
        (form_of({**LEVEL, "extension": [EXTENSION]}), "extension"),
        (form_of({**LEVEL, "maxLength": 5}), "maxLength"),
        (form_of({**LEVEL, "definition": "https://x.example/d"}), "definition"),
        (form_of({**LEVEL, "_required": {"extension": [EXTENSION]}}), "_required"),
        (form_of({**LEVEL, "answerConstraint": "optionsOrString"}), "answerConstraint"),
        (form_of(LEVEL, extension=[EXTENSION]), "extension"),
        (form_of(LEVEL, status="retired"), "retired"),
        (form_of(LEVEL, text={"status": "additional", "div": "<div>x</div>"}), "says more"),
        (form_of(LEVEL, meta={"tag": [{"code": "SUBSETTED"}]}), "left out"),
        (form_of({**LEVEL, "text": "Upper pause  Limit"}), "name of another"),
        (form_of({**LEVEL, "code": [{**CODE, "display": "Drain height"}]}), "name of another"),
        (
            form_of({**LEVEL, "answerOption": [{**ANSWERS[0], "extension": [EXTENSION]}]}),
            "extension",
        ),
        # Conditions.
        (shown(when("treat_above", "exists", answerBoolean=True)), "treat-above level"),
        (shown(when("therapy", "~", answerString="irrigation")), "~ compares"),
        (shown(when("therapy", ">", answerString="irrigation")), "> compares"),
        (shown(when("nothing", "exists", answerBoolean=True)), "asks of nothing"),
        (shown(when("therapy", "exists", answerString="true")), "true or false"),
        (shown(when("therapy", "=", answerString="monitoring")), "none of the options"),
        (shown(when("therapy", "=", answerString="irrigation")), "none of the options"),
        (
            shown(when("therapy", "=", answerCoding={"system": "x", "code": "irrigation"})),
            "none of the options",
        ),
        (shown(when("therapy", "=", answerCoding={"code": "a", "display": "b"})), "as its code"),
        (shown(when("therapy", "=", answerQuantity={"value": 8})), "text or a coding"),
        (shown(when("therapy", "=")), "text or a coding"),
        (shown({**IRRIGATES, "extension": [EXTENSION]}), "extension"),
        (shown(IRRIGATES, IRRIGATES), "all or any"),
        (shown(IRRIGATES, IRRIGATES, enableBehavior="some"), "all or any"),
        (
            form_of(
                question("therapy", "string"),
                {**LEVEL, "enableWhen": [when("therapy", "=", answerString="irrigation")]},
            ),
            "written in a blank",
        ),
        (
            form_of(
                {**THERAPY, "enableWhen": [when("treat_above", "exists", answerBoolean=True)]},
                {**LEVEL, "enableWhen": [when("therapy", "exists", answerBoolean=True)]},
            ),
            "by way of",
        ),
        (
            form_of(
                THERAPY,
                {**LEVEL, "enableWhen": [IRRIGATES]},
                choice(
                    "access",
                    "lumbar",
                    enableWhen=[when("treat_above", "!=", answerCoding={"display": "8 mmHg"})],
                ),
            ),
            "two ways",
        ),
        (
            form_of(
                choice("irrigation.fluid", "water of one kind", "water of another"),
                {
                    **LEVEL,
                    "enableWhen": [when("irrigation.fluid", "=", answerCoding=ONE_WATER)],
                },
            ),
            "tells answers apart",
        ),
        (
            form_of(
                choice("access", "lumbar"),
                {**LEVEL, "enableWhen": [when("access", "!=", answerCoding={"display": "lumbar"})]},
            ),
            "no answer makes it true",
        ),
        (
            form_of(
                choice("indication", "a bleed", "an infection"),
                {**LEVEL, "enableWhen": [when("indication", "=", answerCoding=BLEED)]},
            ),
            "tells answers apart",
        ),
        (shown(*[IRRIGATES] * 201, enableBehavior="any"), "more than one condition"),
        (
            form_of(
                {
                    **LEVEL,
                    "required": False,
                    "extension": [STEP, OF_BLANK],
                },
                choice(
                    "access",
                    "lumbar",
                    enableWhen=[when("treat_above", "!=", answerCoding={"display": "8 mmHg"})],
                ),
            ),
            "two ways",
        ),
        # Ticks.
        (form_of(TICK, LEVEL), "no code of a setting"),
        (form_of(TICK, {**LEVEL, "enableWhen": [TICKED]}), "whole section"),
        (
            form_of(
                TICK, group("titration", GOAL, enableWhen=[when("tick", "!=", answerBoolean=False)])
            ),
            "tick",
        ),
        (
            form_of(
                TICK,
                group("titration", GOAL, enableWhen=[TICKED]),
                group("targets", choice("targets.map", "85 mmHg"), enableWhen=[TICKED]),
            ),
            "another section",
        ),
        *(
            (form_of({**TICK, key: value}, group("titration", GOAL, enableWhen=[TICKED])), key)
            for key, value in (("item", [LEVEL]), ("answerOption", []), ("answerValueSet", "x"))
        ),
        (
            form_of({**TICK, "readOnly": True}, group("titration", GOAL, enableWhen=[TICKED])),
            "readOnly",
        ),
        (
            form_of(
                {**TICK, "initial": [{"valueString": "yes"}]},
                group("titration", GOAL, enableWhen=[TICKED]),
            ),
            "true or false",
        ),
        # Groups.
        (form_of(TICK, group("titration", enableWhen=[TICKED]), GOAL), "outside its group"),
        (form_of(group("titration", GOAL, repeats=True)), "repeats"),
        (form_of(group("titration", GOAL, repeats="yes")), "neither true nor false"),
        (form_of(group("titration", GOAL, initial=[])), "initial"),
        (form_of(group("titration", GOAL, answerOption=[])), "answerOption"),
        (form_of(group("titration", GOAL, answerValueSet="x")), "answerValueSet"),
        (
            form_of(group("titration", {**GOAL, "required": False}, required=True)),
            "one answer at least",
        ),
        (
            form_of(group("titration", GOAL), {**group("titration", LEVEL), "linkId": "b"}),
            "there twice",
        ),
        (
            form_of(
                question(
                    "irrigation.additive",
                    "string",
                    readOnly=True,
                    initial=[{"valueString": "none"}],
                ),
                question("irrigation.additive.name", "string"),
            ),
            "one value",
        ),
        # The head.
        (
            form_of(LEVEL, useContext=[{"code": {"code": "age"}, "valueRange": {}}]),
            "patient group",
        ),
        (
            form_of(LEVEL, approvalDate="2026-01-01", _approvalDate={"extension": [EXTENSION]}),
            "beside the date",
        ),
        (
            form_of(LEVEL, effectivePeriod={"end": "2027-01-01", "extension": [EXTENSION]}),
            "extension",
        ),
    ],
)
def test_what_is_not_understood_is_said_and_nothing_is_proved(form, says):
    made = set_of(form)
    assert made.unsettled
    words = " ".join(" ".join(fault.details.values()) for fault in made.unsettled)
    assert says in words
    for fault in made.unsettled:
        assert fault.place.file == "form.json"
        assert fault.place.element.startswith("Questionnaire")
    # With any, nothing is proved.
    assert all(fault.rule in {NOT_UNDERSTOOD, "shown-when-cycle"} for fault in made.unsettled)


@of_each(
    "form",
    [
        form_of({**LEVEL, "maxLength": 5}),
        form_of(LEVEL, {"linkId": "x", "type": "string", "text": "Rate"}),
        shown(when("treat_above", "exists", answerBoolean=True)),
    ],
)
def test_nothing_is_proved_of_what_is_not_understood(form):
    found = review_set(set_of(form), AT, some_rules(1))
    assert found.assessment.verdict == "do-not-start"
    results = {proof.result.value for proof in found.proofs}
    assert "not-proved" in results
    assert results <= {"not-proved", "inactive", "at-signing"}


def test_a_set_that_is_not_understood_is_not_written():
    form = form_of({**LEVEL, "repeats": True})
    with pytest.raises(Refused, match=r"no place in an order set.*several answers") as refused:
        yaml_of(form)
    place, lines = refused.value.place, json.dumps(form, indent=1).splitlines()
    assert place.element == "Questionnaire.item[0].repeats"
    assert lines[place.line - 1][place.column - 1 :] == "true"


def test_where_a_setting_may_hide_no_other_is_missing():
    made = set_of(form_of(LEVEL, {"linkId": "x", "type": "string", "text": "Rate"}))
    hidden = {path for path, slot in made.slots.items() if slot.options and not slot.signed}
    hidden = {path for path in hidden if made.slots[path].options[0].state is State.UNREADABLE}
    absent = {path for path, slot in made.slots.items() if slot.options[:1] and path not in hidden}
    absent = {path for path in absent if made.slots[path].options[0].state is State.ABSENT}
    additive = {*field_table().sections["irrigation.additive"]} - {"irrigation.additive"}
    assert absent == {"document", "format", "zone", *additive}
    assert "irrigation.rate" in hidden


def every_element():
    """A Questionnaire with every kind of element that is read."""
    form = written("therapy: {choose: [irrigation, drainage], preset: irrigation}")
    form |= {"effectivePeriod": {"end": "2027-01-01"}}
    return form


KINDS = {
    "Questionnaire": lambda form: form,
    "item": lambda form: items(form)["therapy"],
    "Coding": lambda form: items(form)["therapy"]["answerOption"][0]["valueCoding"],
    "Period": lambda form: form["effectivePeriod"],
}


@of_each(("kind", "key"), [(kind, key) for kind, keys in HARMLESS.items() for key in keys])
def test_what_changes_nothing_changes_nothing(kind, key):
    form = every_element()
    plain = set_of(form)
    KINDS[kind](form).setdefault(key, {"extension": [EXTENSION]})
    made = set_of(form)
    assert made.unsettled == ()
    assert {p: [o.text for o in s.options] for p, s in made.slots.items()} == {
        p: [o.text for o in s.options] for p, s in plain.slots.items()
    }


def test_a_narrative_of_what_stands_in_the_elements_changes_nothing():
    narrative = {"status": "generated", "div": "<div>a form</div>"}
    made = set_of({**every_element(), "text": narrative, "meta": {"versionId": "3"}})
    assert made.unsettled == ()


@of_each(("kind", "key"), [(kind, key) for kind in KINDS for key in ("strange", "_strange")])
def test_what_is_on_no_list_is_not_understood(kind, key):
    form = every_element()
    KINDS[kind](form)[key] = {"extension": [EXTENSION]}
    assert [key in fault.details["reason"] for fault in set_of(form).unsettled] == [True]


@of_each("url", HARMLESS_EXTENSIONS)
def test_how_a_form_looks_changes_nothing(url):
    form = every_element()
    items(form)["therapy"]["extension"] = [{"url": url, "valueString": "x"}]
    assert set_of(form).unsettled == ()
    items(form)["therapy"]["extension"].append(EXTENSION)
    assert set_of(form).unsettled


def test_a_form_of_thousands_of_items_is_read_in_time():
    form = form_of(LEVEL)
    text = json.dumps(form)
    many = ",".join(json.dumps({**deepcopy(TICK), "linkId": f"x{n}"}) for n in range(1_000))
    made = set_of(text.replace('"item": [', f'"item": [{many},'))
    assert len(made.unsettled) == 1_000
