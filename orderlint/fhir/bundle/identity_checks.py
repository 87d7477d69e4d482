"""Whether the parts of an order are about one patient, of one stay and by one requester.

By their names alone. Never who a person is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.bundle.drug import fault_at
from orderlint.fhir.bundle.elements import modifiers_in, whole_not_understood
from orderlint.fhir.bundle.resources import id_of, type_of
from orderlint.fhir.element import as_written
from orderlint.field import casefold_spaces

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.fhir.bundle.resources import Parts
    from orderlint.fhir.element import Element
    from orderlint.finding import Fault, NotUnderstood

TWO_PATIENTS = "fhir-two-patients"


def faults_of_people(requests: Sequence[Element], parts: Parts) -> Iterator[Fault | NotUnderstood]:
    """What the parts of an order say of whom it is about, and by whom."""
    subjects = _all(requests, "subject")
    for subject in subjects:
        yield from _faults_of_patient(subject, parts)
    for other in subjects[1:]:
        yield from _faults_of_two(subjects[0], other, parts)
    stays, requesters = _all(requests, "encounter"), _all(requests, "requester")
    for other in stays[1:]:
        if not parts.is_same(stays[0], other):
            yield whole_not_understood(other, "may be another stay", may_hold=False)
    for other in requesters[1:]:
        if not _is_one_person(requesters[0], other, parts):
            yield whole_not_understood(other, "may be another requester", may_hold=False)


def faults_of_another(requests: Sequence[Element], patient: str) -> Iterator[Fault]:
    """The parts that are about another patient than that in whose record they stand, by its id."""
    for subject in _all(requests, "subject"):
        if type_of(subject) == "Patient" and id_of(subject) != patient:
            yield fault_at(TWO_PATIENTS, subject, other=f"Patient/{patient}")


def _all(requests: Sequence[Element], key: str) -> list[Element]:
    return [found for each in requests if (found := each.section(key))]


def _faults_of_patient(subject: Element, parts: Parts) -> Iterator[Fault | NotUnderstood]:
    found = parts.target_of(subject)
    kinds = {type_of(subject), subject.text("type"), found.resource.resource_type if found else ""}
    if not kinds <= {"", "Patient"}:
        yield whole_not_understood(subject, "is no patient", may_hold=False)


def faults_of_other_patients(requests: Sequence[Element], parts: Parts) -> Iterator[NotUnderstood]:
    """The patients in the file who are not known to be the subject of an order's part."""
    subjects = _all(requests, "subject")
    targets = [found.resource.path for each in subjects if (found := parts.target_of(each))]
    called = {_called(each.section("identifier")) for each in subjects} - {("", "")}
    for part in parts.parts:
        patient = part.resource
        if patient.resource_type != "Patient" or patient.path in targets:
            continue
        if called.isdisjoint(map(_called, patient.items("identifier"))):
            yield whole_not_understood(patient, "is not known to be the subject", may_hold=False)


def _called(identifier: Element | None) -> tuple[str, str]:
    return (identifier.text("system"), identifier.text("value")) if identifier else ("", "")


def _faults_of_two(first: Element, other: Element, parts: Parts) -> Iterator[Fault | NotUnderstood]:
    is_same = parts.is_same(first, other)
    if is_same is False:
        yield fault_at(TWO_PATIENTS, other, other=as_written(first.node))
    elif is_same is None:
        yield whole_not_understood(other, "may be another patient", may_hold=False)
    elif len(_shown(first, other)) > 1:
        yield whole_not_understood(other, "is shown by another name", may_hold=False)


def _shown(*references: Element) -> set[str]:
    return {casefold_spaces(each.text("display")) for each in references} - {""}


def _is_one_person(first: Element, other: Element, parts: Parts) -> bool:
    """Whether two requesters are one; of two that only one has an address, by what is shown."""
    is_same, shown = parts.is_same(first, other), _shown(first, other)
    both = all(each.text("display") for each in (first, other))
    return len(shown) <= 1 and (is_same is True or (is_same is None and both))


def faults_of_bystander(resource: Element) -> Iterator[Fault | NotUnderstood]:
    """What a resource that is no part of the order may not say."""
    yield from modifiers_in(resource.node, resource.path)
    kind = resource.resource_type
    if kind == "Patient":
        for key in ("deceasedBoolean", "deceasedDateTime", "active", "link"):
            if resource.node.get(key) is not None and resource.text(key) != _USUAL.get(key):
                yield whole_not_understood(resource, "is a patient to be asked about")
                return
    if kind == "Provenance" and resource.node.get("activity") is not None:
        yield whole_not_understood(resource, "says what became of a record")


_USUAL = {"deceasedBoolean": "false", "active": "true"}
