"""Whether the patient whom an order names can be of its age group, by the date of birth.

Only what no meaning of the groups allows is a fault. Never which group a patient is of.
"""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from orderlint.fhir.bundle.elements import not_understood
from orderlint.fields import field_table
from orderlint.finding import Fault
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.fhir.bundle.resources import Part, Parts
    from orderlint.fhir.element import Element
    from orderlint.finding import NotUnderstood
    from orderlint.reading.node import Scalar

RULE, GROUP = "fhir-age-not-of-group", "patient.group"
AGES: Mapping[str, tuple[int, int]] = {"infant": (0, 2), "child": (1, 22), "adult": (12, 200)}
"""The years of age that a group can have, from the first up to but not with the second.

The field table calls them age groups and gives no age, for usage differs: an infant is under 1 or
under 2; who is a child up to 18 may stay with a children's unit up to 21; and a unit for adults may
take adolescents, but no child under 12. Within these bounds nothing is said.
"""
_BIRTH = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?")


def faults_of_age(
    own: Sequence[Part], parts: Parts, values: Mapping[str, Scalar]
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
            yield Fault(RULE, GROUP, said, written.place, details)


def _patients(own: Sequence[Part], parts: Parts) -> list[Element]:
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
