"""The facts at the top of an order set, and the elements of a Questionnaire that hold them.

Both ways. What an element cannot hold as it is written stands beside it, in an extension.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from orderlint.fhir.codes import CODES, ORDER
from orderlint.fhir.questionnaire.elements import AS_WRITTEN, QUESTIONNAIRE, SET_ID, unread
from orderlint.fhir.questionnaire.items import form_fault
from orderlint.reading.node import KeyValue, Listing, Node, Scalar

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from orderlint.fhir.element import Element
    from orderlint.finding import Fault

AGE: Mapping[str, str] = {
    "system": "http://terminology.hl7.org/CodeSystem/usage-context-type",
    "code": "age",
}
"""The standard's code of a context that is an age group."""
_DATE = r"\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])"
_TIME = r"(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d(?:\.\d+)?(?:Z|[+-](?:0\d|1[0-3]):[0-5]\d)"
DATE = re.compile(_DATE, re.ASCII)
"""How the standard writes a date, at the beginning of what a set says."""
INSTANT = re.compile(f"{_DATE}(?:T{_TIME})?", re.ASCII)
"""How the standard writes a date, or a date and time with its offset from UTC."""

_TEXTS = {"title": "title", "version": "version", "owner": "publisher"}
"""Fact of a set → the element that has just its text."""


def head_elements(facts: Mapping[str, str]) -> dict[str, Any]:
    """The elements for the facts of a set, each as it is written there, by its key."""
    made: dict[str, Any] = {"resourceType": QUESTIONNAIRE}
    if "id" in facts:
        made["identifier"] = [{"system": SET_ID, "value": facts["id"]}]
    for key, element in _TEXTS.items():
        if key in facts:
            made[element] = facts[key]
    made["status"] = "unknown"  # a set says nothing of it
    if "population" in facts:
        made["useContext"] = [
            {"code": {**AGE}, "valueCodeableConcept": {"text": group}}
            for group in facts["population"].split(", ")
        ]
    if "approved" in facts:
        made.update(_dated("approvalDate", facts["approved"], DATE))
    if "review_due" in facts:
        made["effectivePeriod"] = _dated("end", facts["review_due"], INSTANT)
    made["code"] = [{"system": CODES, "code": ORDER, "display": "Order"}]
    return made


def _dated(key: str, text: str, form: re.Pattern[str]) -> dict[str, Any]:
    """A date as the standard writes it; all that is written, beside it, where that is more."""
    found = form.match(text)
    made: dict[str, Any] = {key: found[0]} if found else {}
    if not found or found[0] != text:
        made[f"_{key}"] = {"extension": [{"url": AS_WRITTEN, "valueString": text}]}
    return made


def read_head_elements(root: Element) -> tuple[Mapping[str, Node], Sequence[Fault]]:
    """The facts of a set in the elements at the top of a Questionnaire, by their keys, and what is
    not understood.
    """
    faults: list[Fault] = []
    ours = (each for each in root.items("identifier") if each.text("system") == SET_ID)
    found: dict[str, Node | None] = {
        "id": next((each.scalar("value") for each in ours), None),
        **{key: root.scalar(element) for key, element in _TEXTS.items()},
        "population": _population(root, faults),
        "approved": _date(root, "approvalDate", faults),
    }
    period = root.section("effectivePeriod")
    if period is not None:
        found["review_due"] = _date(period, "end", faults)
        faults += [_unread(period, entry) for entry in unread(period, "Period")]
    status = root.scalar("status")
    if status is not None and status.text not in _IN_USE:
        said = f"a Questionnaire that is {status.text} is not one to sign from"
        faults.append(form_fault(status.place, said, status.text))
    return {key: node for key, node in found.items() if node is not None}, faults


_IN_USE = frozenset({"draft", "active", "unknown"})


def _population(root: Element, faults: list[Fault]) -> Listing | None:
    """The patient groups; a context that is no age is no part of a population."""
    groups: list[Scalar] = []
    for context in root.items("useContext"):
        code, concept = context.section("code"), context.section("valueCodeableConcept")
        if code is None or code.text("code") != AGE["code"]:
            continue
        group = concept.scalar("text") if concept is not None else None
        if group is None:
            said = "a patient group is the text of a CodeableConcept"
            faults.append(form_fault(context.place, said, name="population"))
        else:
            groups.append(group)
    return Listing(tuple(groups), groups[0].place) if groups else None


def _date(element: Element, key: str, faults: list[Fault]) -> Scalar | None:
    """What a set says of a date: all that is written beside it, where that begins with it."""
    date, beside = element.scalar(key), element.section(f"_{key}")
    if beside is None:
        return date
    written = [each for each in beside.items("extension") if each.text("url") == AS_WRITTEN]
    text = written[0].scalar("valueString") if len(written) == 1 else None
    begins = date is None or (text is not None and text.text.startswith(date.text))
    if text is None or not begins or len(beside.node.entries) != 1:
        said = "what stands beside the date is not understood, or is another date"
        faults.append(form_fault(beside.place, said))
        return date
    return text


def _unread(element: Element, entry: KeyValue) -> Fault:
    return form_fault(element.place_of(entry), f"its {entry.key.text} is not understood")
