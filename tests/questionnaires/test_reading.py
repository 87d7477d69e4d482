"""What a Questionnaire may say in other words than those in which a set is written."""

from __future__ import annotations

import pytest
from each_case import of_each
from questionnaire_forms import CODES, choice, form_of, question, root_of, set_of, when, yaml_of

from orderlint.fhir.concept_map import ConceptMap
from orderlint.fhir.questionnaire.reading import set_document
from orderlint.finding import Place
from orderlint.order_set.model import preset_order

THERAPY = choice("therapy", "irrigation", "drainage")
LEVEL = choice("treat_above", "8 mmHg", "10 mmHg", "12.0 mmHg")
PICKED, OF_SITE = {"initialSelected": True}, {"system": "https://site.example"}
CALL = {**question("notify.call", "string"), "required": False}


def group(path, *inner, **more):
    code = {"system": CODES, "code": path}
    return {"linkId": path, "code": [code], "type": "group", "item": [*inner], **more}


def entry(item, **more):
    """The line of YAML that a question comes to."""
    return yaml_of(form_of(item, **more)).splitlines()[-1].strip()


@of_each(
    ("item", "line"),
    [
        (LEVEL, "treat_above: {choose: [8 mmHg, 10 mmHg, 12.0 mmHg]}"),
        (
            question(
                "treat_above", answerOption=[{"valueString": "8 mmHg", "initialSelected": True}]
            ),
            "treat_above: {choose: [8 mmHg], preset: 8 mmHg}",
        ),
        (
            question("treat_above", "string", answerOption=[{"valueString": "8 mmHg"}]),
            "treat_above: {choose: [8 mmHg]}",
        ),
        (
            question(
                "treat_above", answerOption=[{"valueCoding": {"system": "x", "code": "8 mmHg"}}]
            ),
            "treat_above: {choose: [8 mmHg]}",
        ),
        (
            question("revision", "integer", answerOption=[{"valueInteger": 1}]),
            "revision: {choose: [1]}",
        ),
        (
            question("start_checks.imaging", "boolean", initial=[{"valueBoolean": True}]),
            'imaging: {choose: ["true", "false"], preset: "true"}',
        ),
        (
            question("treat_above", "string", readOnly=True, initial=[{"valueString": "8 mmHg"}]),
            "treat_above: 8 mmHg",
        ),
        (
            question("treat_above", readOnly=True, initial=[{"valueCoding": {"code": "8 mmHg"}}]),
            "treat_above: 8 mmHg",
        ),
        (
            question("treat_above", "quantity", text="Level"),
            "treat_above: {blank: required, label: Level}",
        ),
        (question("indication", "text"), "indication: {blank: required}"),
        (CALL, "call: {blank: optional}"),
        (question("written", "dateTime"), "written: {blank: required}"),
        (question("revision", "integer"), "revision: {blank: required}"),
        (
            choice("indication", "haemorrhage", type_="open-choice", text="Why"),
            "indication: {blank: required, label: Why}",
        ),
    ],
)
def test_a_question_is_an_entry(item, line):
    assert entry(item) == line


def test_options_may_stand_in_a_value_set_that_comes_along():
    listed = [{"code": "a", "display": "8 mmHg"}, {"code": "b", "display": "10 mmHg"}]
    values = {"resourceType": "ValueSet", "id": "levels", "status": "active"}
    values["compose"] = {"include": [{"system": "https://site.example", "concept": listed}]}
    initial = [{"valueCoding": {"system": "https://site.example", "code": "b", "display": "x"}}]
    item = question("treat_above", answerValueSet="#levels", initial=initial)
    assert entry(item, contained=[values]) == (
        "treat_above: {choose: [8 mmHg, 10 mmHg], preset: 10 mmHg}"
    )


@of_each(
    "change",
    [
        {"compose": {"include": [{"system": "https://site.example"}]}},
        {"compose": {"include": [{"valueSet": ["https://site.example"]}]}},
        {"compose": {"include": [{"concept": [{"code": "8 mmHg"}]}], "exclude": []}},
        {"compose": {"include": [{"concept": [{"code": "8 mmHg"}], "filter": []}]}},
        {"compose": {"include": [{"concept": [{"code": "8 mmHg", "extension": []}]}]}},
        {"compose": {"include": [{"concept": ["8 mmHg"]}]}},
        {"compose": {"include": []}},
        {"compose": {"include": [{"concept": [{}]}]}},
        {"expansion": {"contains": [{"code": "8 mmHg"}]}},
        {},
    ],
)
def test_a_value_set_that_is_no_plain_list_is_not_understood(change):
    values = {"resourceType": "ValueSet", "id": "levels", "status": "active", **change}
    made = set_of(form_of(question("treat_above", answerValueSet="#levels"), contained=[values]))
    assert ["value set" in fault.details["reason"] for fault in made.unsettled] == [True]


def condition(*terms, **more):
    """The condition on the stopping criterion in a form of two choices and a blank."""
    criterion = question("stop_when", "text", enableWhen=[*terms], **more)
    made = set_of(form_of(THERAPY, LEVEL, CALL, criterion))
    assert made.unsettled == ()
    return yaml_of(form_of(THERAPY, LEVEL, CALL, criterion)).splitlines()[-1].strip()


def is_text(text):
    return {"answerCoding": {"display": text}}


@of_each(
    ("terms", "behavior", "said"),
    [
        ([when("therapy", "=", **is_text("drainage"))], None, "therapy == 'drainage'"),
        ([when("therapy", "!=", **is_text("drainage"))], None, "therapy == 'irrigation'"),
        ([when("notify.call", "exists", answerBoolean=True)], None, "given(notify.call)"),
        ([when("notify.call", "exists", answerBoolean=False)], None, "not given(notify.call)"),
        (
            [when("therapy", "=", **is_text(t)) for t in ("irrigation", "drainage")],
            "any",
            "therapy in {'irrigation', 'drainage'}",
        ),
        (
            [
                when("therapy", "=", **is_text("drainage")),
                when("notify.call", "exists", answerBoolean=True),
            ],
            "all",
            "therapy == 'drainage' and given(notify.call)",
        ),
        (
            [
                when("therapy", "=", **is_text("drainage")),
                when("notify.call", "exists", answerBoolean=True),
            ],
            "any",
            "therapy == 'drainage' or given(notify.call)",
        ),
        (
            [when("treat_above", "=", **is_text("12.0 mmHg"))],
            None,
            "treat_above == answer_1, limits: {answer_1: 12 mmHg}",
        ),
        (
            [when("treat_above", "=", **is_text("8 mmHg"))] * 2
            + [when("therapy", "=", **is_text("drainage"))],
            "all",
            "treat_above == answer_1 and therapy == 'drainage', limits: {answer_1: 8 mmHg}",
        ),
        (
            [when("treat_above", "!=", **is_text("8 mmHg"))],
            None,
            "treat_above in {answer_1, answer_2}, limits: {answer_1: 10 mmHg, answer_2: 12 mmHg}",
        ),
    ],
)
def test_what_is_asked_is_a_condition(terms, behavior, said):
    more = {"enableBehavior": behavior} if behavior else {}
    assert said in condition(*terms, **more).replace('"', "")


def test_groups_without_a_code_hide_what_stands_in_them():
    inner = {"linkId": "b", "type": "group", "item": [LEVEL]}
    inner["enableWhen"] = [when("notify.call", "exists", answerBoolean=True)]
    outer = {"linkId": "a", "type": "group", "item": [inner]}
    outer["enableWhen"] = [when("therapy", "=", **is_text("irrigation"))]
    made = set_of(form_of(THERAPY, CALL, outer))
    assert [gate.path for gate in made.gates] == ["treat_above"]
    text = yaml_of(form_of(THERAPY, CALL, outer))
    assert "shown_when: \"given(notify.call) and therapy == 'irrigation'\"" in text


def test_of_two_conditions_each_holds_as_a_whole():
    any_of = {"enableBehavior": "any"}
    any_of["enableWhen"] = [
        when("therapy", "=", **is_text("irrigation")),
        when("notify.call", "exists", answerBoolean=True),
    ]
    criterion = question(
        "stop_when", "text", enableWhen=[when("access", "exists", answerBoolean=True)]
    )
    around = {"linkId": "a", "type": "group", "item": [criterion], **any_of}
    form = form_of(THERAPY, CALL, choice("access", "lumbar"), around)
    said = "given(access) and (therapy == 'irrigation' or given(notify.call))"
    assert f'shown_when: "{said}"' in yaml_of(form)


def test_a_tick_that_is_not_made_leaves_its_section_out():
    tick = {"linkId": "t", "type": "boolean"}
    ticked = when("t", "=", answerBoolean=True)
    goal = question("titration.goal", "string", readOnly=True, initial=[{"valueString": "clear"}])
    made = set_of(form_of(tick, group("titration", goal, enableWhen=[ticked])))
    assert made.unsettled == ()
    assert made.offered_sections["titration"].preset is False
    assert not preset_order(made).leaves["titration.goal"].given


def test_a_part_may_stand_outside_its_group_where_that_is_always_shown():
    made = set_of(
        form_of(group("pause", choice("pause.lower", "2 mmHg")), choice("pause.upper", "22 mmHg"))
    )
    assert made.unsettled == ()
    assert [len(made.slots[f"pause.{end}"].options) for end in ("lower", "upper")] == [1, 1]


@pytest.mark.parametrize(
    ("approved", "written", "read"),
    [
        ("2026-02-01", None, "2026-02-01"),
        ("2026-02-01", "2026-02-01 by vote", "2026-02-01 by vote"),
        (None, "by vote", "by vote"),
    ],
)
def test_a_date_is_read_with_all_that_is_written_there(approved, written, read):
    url = "https://orderlint.example/fhir/set-as-written"
    head = {} if approved is None else {"approvalDate": approved}
    if written is not None:
        head["_approvalDate"] = {"extension": [{"url": url, "valueString": written}]}
    made = set_of(form_of(LEVEL, **head))
    assert (made.head["approved"], made.unsettled) == (read, ())


def test_a_context_that_is_no_age_is_no_population():
    age = {"code": {"code": "age"}, "valueCodeableConcept": {"text": "adult"}}
    ward = {"code": {"code": "venue"}, "valueCodeableConcept": {"text": "intensive care"}}
    made = set_of(form_of(LEVEL, useContext=[ward, age]))
    assert (made.head["population"], made.unsettled) == ("adult", ())


def test_another_date_beside_a_date_is_not_understood():
    url = "https://orderlint.example/fhir/set-as-written"
    beside = {"extension": [{"url": url, "valueString": "2026-03-01 by vote"}]}
    made = set_of(form_of(LEVEL, approvalDate="2026-02-01", _approvalDate=beside))
    assert [fault.place.element for fault in made.unsettled] == ["Questionnaire.approvalDate"]


def test_a_place_is_the_very_element():
    made = set_of(form_of(THERAPY, LEVEL))
    place = made.slots["treat_above"].options[1].place
    assert place.element == "Questionnaire.item[1].answerOption[1].value.display"
    assert isinstance(place, Place)
    assert place.line > 1


def test_codings_of_two_settings_are_not_understood_by_a_map_either():
    system = "https://site.example"
    codes = ConceptMap({(system, "a"): "treat_above", (system, "b"): "pause.upper"})
    both = [{"system": system, "code": "a"}, {"system": system, "code": "b"}]
    again = [{"system": CODES, "code": "treat_above"}, {"system": system, "code": "a"}]
    for written, understood in ((both, False), (both[:1], True), (again, True)):
        form = form_of(THERAPY, {**LEVEL, "code": written})
        document = set_document(root_of(form), "form.json", codes)
        assert (document.not_understood == ()) is understood


def value_set(name, *texts):
    listed = [{"concept": [{"code": text} for text in texts]}]
    return {"resourceType": "ValueSet", "id": name, "compose": {"include": listed}}


WITHOUT_ID = {"resourceType": "ValueSet"}
OF_LEVELS = value_set("levels", "8 mmHg", "10 mmHg")
ASKS_FOR_THEM = question("treat_above", answerValueSet="#levels")


@of_each(
    ("item", "brought"),
    [
        (LEVEL, OF_LEVELS),
        (ASKS_FOR_THEM, value_set("other", "20 mmHg")),
        (ASKS_FOR_THEM, WITHOUT_ID),
        (LEVEL, WITHOUT_ID),
        (LEVEL, {"resourceType": "Library", "id": "levels"}),
        (LEVEL, {"resourceType": "MedicationRequest", "id": "drug"}),
        ({**ASKS_FOR_THEM, "type": "open-choice"}, {"resourceType": "Library", "id": "levels"}),
    ],
)
def test_a_resource_to_which_no_question_leads_is_not_understood(item, brought):
    others = [] if item is not ASKS_FOR_THEM else [OF_LEVELS]
    made = set_of(form_of(item, contained=[*others, brought]))
    (fault,) = made.unsettled
    assert "no question" in fault.details["reason"]
    assert fault.place.element == f"Questionnaire.contained[{len(others)}]"


def test_a_value_set_for_two_questions_is_brought_along_once():
    other = question("pause.upper", answerValueSet="#levels")
    assert set_of(form_of(ASKS_FOR_THEM, other, contained=[OF_LEVELS])).unsettled == ()
