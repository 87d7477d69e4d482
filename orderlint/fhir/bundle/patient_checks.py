"""Whether all parts of an order are about one patient, and one who can be of its age group.

By names and the date of birth alone. Of ages only what no meaning of the groups allows is a fault.
Never who a person is, and never which group a patient is of.
"""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from orderlint.fhir.bundle.drug import fault_at
from orderlint.fhir.bundle.elements import faults_of_modifiers, not_understood, whole_not_understood
from orderlint.fhir.bundle.resources import BundleResources, PlacedResource, id_of, type_of
from orderlint.fhir.element import Element, as_written
from orderlint.field import casefold_spaces
from orderlint.fields import field_table
from orderlint.finding import Fault, NotUnderstood
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.reading.node import Scalar

TWO_PATIENTS = "fhir-two-patients"
NOT_OF_GROUP, GROUP = "fhir-age-not-of-group", "patient.group"
AGES: Mapping[str, tuple[int, int]] = {"infant": (0, 2), "child": (1, 22), "adult": (12, 200)}
"""The years of age that a group can have, from the first up to but not with the second.

The field table calls them age groups and gives no age, for usage differs: an infant is under 1 or
under 2; who is a child up to 18 may stay with a children's unit up to 21; and a unit for adults may
take adolescents, but no child under 12. Within these bounds nothing is said.
"""
_BIRTH = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?")


def faults_of_people(
    requests: Sequence[Element], parts: BundleResources
) -> Iterator[Fault | NotUnderstood]:
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


def _faults_of_patient(subject: Element, parts: BundleResources) -> Iterator[Fault | NotUnderstood]:
    found = parts.target_of(subject)
    kinds = {type_of(subject), subject.text("type"), found.resource.resource_type if found else ""}
    if not kinds <= {"", "Patient"}:
        yield whole_not_understood(subject, "is no patient", may_hold=False)


def faults_of_other_patients(
    requests: Sequence[Element], parts: BundleResources
) -> Iterator[NotUnderstood]:
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


def _faults_of_two(
    first: Element, other: Element, parts: BundleResources
) -> Iterator[Fault | NotUnderstood]:
    is_same = parts.is_same(first, other)
    if is_same is False:
        yield fault_at(TWO_PATIENTS, other, other=as_written(first.node))
    elif is_same is None:
        yield whole_not_understood(other, "may be another patient", may_hold=False)
    elif len(_shown(first, other)) > 1:
        yield whole_not_understood(other, "is shown by another name", may_hold=False)


def _shown(*references: Element) -> set[str]:
    return {casefold_spaces(each.text("display")) for each in references} - {""}


def _is_one_person(first: Element, other: Element, parts: BundleResources) -> bool:
    """Whether two requesters are one; of two that only one has an address, by what is shown."""
    is_same, shown = parts.is_same(first, other), _shown(first, other)
    both = all(each.text("display") for each in (first, other))
    return len(shown) <= 1 and (is_same is True or (is_same is None and both))


def faults_of_bystander(resource: Element) -> Iterator[Fault | NotUnderstood]:
    """What a resource that is no part of the order may not say."""
    yield from faults_of_modifiers(resource.node, resource.path)
    kind = resource.resource_type
    if kind == "Patient":
        for key in ("deceasedBoolean", "deceasedDateTime", "active", "link"):
            if resource.node.get(key) is not None and resource.text(key) != _USUAL.get(key):
                yield whole_not_understood(resource, "is a patient to be asked about")
                return
    if kind == "Provenance" and resource.node.get("activity") is not None:
        yield whole_not_understood(resource, "says what became of a record")


_USUAL = {"deceasedBoolean": "false", "active": "true"}


def faults_of_age(
    own: Sequence[PlacedResource], parts: BundleResources, values: Mapping[str, Scalar]
) -> Iterator[Fault | NotUnderstood]:
    """Where a date of birth and the group of an order contradict each other on the day it starts.

    `own` are the parts of the order, and `values` its settings. Where group or day are not known,
    nothing is said of the age.
    """
    written, day = values.get(GROUP), _day_of(values)
    group = field_table().fields[GROUP].choice_of(written.text) if written else None
    ages = AGES.get(group or "")
    for patient in _patients(own, parts):
        born = patient.scalar("birthDate")
        between = _days_between(born.text) if born else None
        if born and between is None:
            entry = next(each for each in patient.node.entries if each.key.text == "birthDate")
            yield not_understood(patient, entry, "is no date of birth")
        elif born and between and written and day and ages and not _can_be(ages, between, day):
            said = f"{written.text}; born {born.text} in row {born.place.line}"
            details = {"group": written.text, "born": born.text}
            yield Fault(NOT_OF_GROUP, GROUP, said, written.place, details)


def _patients(own: Sequence[PlacedResource], parts: BundleResources) -> list[Element]:
    """The patients in the file to whom the parts of an order refer."""
    found: dict[str, Element] = {}
    for request in (part.resource for part in own):
        subject = request.section("subject")
        target = parts.target_of(subject) if subject else None
        name = subject.text("reference") if subject else ""
        inner = [e for e in request.items("contained") if name == f"#{e.text('id')}"]
        for each in (*([target.resource] if target else []), *inner):
            if each.resource_type == "Patient":
                found.setdefault(each.path, each)
    return [*found.values()]


def _day_of(values: Mapping[str, Scalar]) -> date | None:
    """The day on which an order starts, or is written, in UTC."""
    for path in ("starts", "written"):
        instant = parse_instant(values[path].text.strip()) if path in values else None
        if instant is not None:
            return datetime.fromtimestamp(instant // 1000, UTC).date()
    return None


def _days_between(text: str) -> tuple[date, date] | None:
    """The first and the last day that a date, a month or a year can mean; None if it is none."""
    found = _BIRTH.fullmatch(text)
    if found is None:
        return None
    year, month, day = (int(part) if part else None for part in found.groups())
    try:
        first = date(year or 0, month or 1, day or 1)
    except ValueError:
        return None
    end = month or 12
    return first, date(first.year, end, day or monthrange(first.year, end)[1])


def _can_be(ages: tuple[int, int], between: tuple[date, date], day: date) -> bool:
    """Whether someone born between two days can be of these ages, a day more or less."""
    youngest, oldest = _years(between[1], _beside(day, -1)), _years(between[0], _beside(day, 1))
    return oldest >= ages[0] and youngest < ages[1]


def _beside(day: date, days: int) -> date:
    """The day before or after, if the calendar has one."""
    return date.fromordinal(min(max(day.toordinal() + days, 1), date.max.toordinal()))


def _years(born: date, day: date) -> int:
    """The whole years from a day to another; below 0 before it."""
    had = (day.month, day.day) >= (born.month, born.day)
    return day.year - born.year - (0 if had else 1)
