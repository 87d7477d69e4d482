"""What a Questionnaire says of a value beside it, under its name with a low line before it."""

from __future__ import annotations

from each_case import of_each
from questionnaire_forms import choice, form_of, set_of, when

from orderlint.fhir.questionnaire.elements import HARMLESS_EXTENSIONS

UNKNOWN = {"url": "https://elsewhere.example/x", "valueString": "20 mL/h"}
KNOWN = {"url": next(iter(HARMLESS_EXTENSIONS)), "valueString": "x"}


def form_with(where, key, companion):
    """A form in which a companion stands in one of its elements."""
    asks = when("therapy", "=", answerCoding={"display": "irrigation"})
    therapy, level = choice("therapy", "irrigation", "drainage"), choice("treat_above", "8 mmHg")
    level["enableWhen"] = [asks]
    form = form_of(therapy, level, effectivePeriod={"end": "2027-01-01"})
    age = {"code": {"code": "age"}, "valueCodeableConcept": {"text": "adult"}}
    form |= {"title": "A set", "meta": {}, "identifier": [{}], "useContext": [age]}
    elements = {
        "form": form,
        "item": level,
        "code": level["code"][0],
        "condition": asks,
        "answer asked": asks["answerCoding"],
        "option": level["answerOption"][0],
        "answer": level["answerOption"][0]["valueCoding"],
        "period": form["effectivePeriod"],
        "meta": form["meta"],
        "identifier": form["identifier"][0],
        "group of patients": age["valueCodeableConcept"],
    }
    elements[where][key] = companion
    return form


COMPANIONS = [
    *(("form", key) for key in ("_title", "_version", "_publisher", "_status", "_url")),
    *(("item", key) for key in ("_text", "_prefix", "_linkId", "_type", "_required")),
    *(("code", key) for key in ("_display", "_code")),
    *(("condition", key) for key in ("_question", "_operator")),
    *((where, key) for where in ("answer asked", "answer") for key in ("_display", "_code")),
    *(("option", "_initialSelected"), ("period", "_start"), ("meta", "_versionId")),
    *(("identifier", "_value"), ("group of patients", "_text")),
]


@of_each(("where", "key"), COMPANIONS)
def test_an_unknown_extension_of_a_value_is_not_understood(where, key):
    for companion in ({"extension": [UNKNOWN]}, {"extension": [KNOWN, UNKNOWN]}, {"x": 1}):
        unsettled = set_of(form_with(where, key, companion)).unsettled
        assert [key in fault.details["reason"] for fault in unsettled] == [True], companion
        assert unsettled[0].place.element.endswith(f".{key.removeprefix('_')}")


@of_each(("where", "key"), COMPANIONS)
def test_what_changes_nothing_beside_a_value_changes_nothing(where, key):
    for companion in ({"id": "a"}, {"extension": [KNOWN]}, {"id": "a", "extension": [KNOWN]}):
        assert set_of(form_with(where, key, companion)).unsettled == (), companion


@of_each("where", ["code", "answer asked", "meta", "identifier", "group of patients"])
def test_an_unknown_extension_of_a_part_is_not_understood(where):
    for extensions, understood in (([UNKNOWN], False), ([KNOWN], True)):
        made = set_of(form_with(where, "extension", extensions))
        assert (made.unsettled == ()) is understood
