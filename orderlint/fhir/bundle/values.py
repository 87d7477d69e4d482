"""Reads one value of a resource as the text that an order would have: number and unit, or a word.

The text is as it is written. Whether it is a value of the setting, the order's reader says.
"""

from __future__ import annotations

from typing import TypeAlias

from orderlint.fhir.codes import UCUM, UNITS_BY_CODE
from orderlint.fhir.element import Element, as_written, at, located, made
from orderlint.field import casefold_spaces, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Place
from orderlint.reading.node import Scalar
from orderlint.tables.row_document import is_count
from orderlint.units import find_unit

Value: TypeAlias = Scalar | Fault
"""The text of a setting, or the fault for which it has none."""

NOT_PLAIN, UNIT_DIFFERS = "fhir-value-not-plain", "fhir-unit-and-code-differ"


def _unplain(path: str, written: str, place: Place, why: str) -> Fault:
    details = {"name": _name(path), "why": why}
    return Fault(NOT_PLAIN, path, written, place, details, (path,))


def not_plain(path: str, element: Element, why: str) -> Fault:
    """The fault of an element that is not one plain value of a setting."""
    return _unplain(path, as_written(element.node), element.place, why)


def _name(path: str) -> str:
    return in_sentence(field_table().display_name(path))


def value_in(element: Element, path: str) -> Value:
    """The value of a parameter, as the text of the setting at `path`."""
    found = [entry for entry in element.node.entries if entry.key.text.startswith("value")]
    if len(found) != 1:
        why = "has several values" if found else "has no value"
        return not_plain(path, element, why)
    key = found[0].key.text
    inner = element.section(key)
    if inner and key in _OF_SECTIONS:
        return _OF_SECTIONS[key](inner, path)
    scalar = element.scalar(key)
    if key == "valueBoolean" and scalar and scalar.form == "truth":
        return scalar
    if key == "valueString" and scalar:
        return plain_text(scalar, path)
    place = at(found[0].value.place, element.below(key))
    return _unplain(path, as_written(found[0].value), place, "is not one plain value")


def plain_text(scalar: Scalar, path: str) -> Value:
    """A text as it stands; a count is a number, as it is in an order."""
    if scalar.form != "text":
        return _unplain(path, scalar.text, scalar.place, "is no text")
    count = is_count(field_table().fields.get(path), scalar.text)
    return scalar._replace(form="number") if count else scalar


def concept(element: Element, path: str) -> Value:
    """The text of a concept; its codes say no other than that text."""
    text = element.scalar("text")
    if text is None:
        why = "has a code and no text" if element.items("coding") else "has no text"
        return not_plain(path, element, why)
    said = casefold_spaces(text.text)
    for coding in element.items("coding"):
        if casefold_spaces(shown_of(coding)) != said:
            written = f"{text.text}, {shown_of(coding)}"
            return _unplain(path, written, element.place, "has a code beside it")
    return plain_text(located(text, element.path), path)


def shown_of(coding: Element) -> str:
    """What is shown of a code."""
    return coding.text("display") or coding.text("code")


def quantity(element: Element, path: str) -> Value:
    """The number and unit of a quantity, with a blank between them; without one, the number."""
    number, unit = element.scalar("value"), _unit(element)
    if element.node.get("comparator") is not None:
        return not_plain(path, element, "has a comparator, and so is a bound")
    if number is None or number.form != "number":
        return not_plain(path, element, "has no number")
    if unit is None:
        written = as_written(element.node)
        details = {"name": _name(path), "unit": element.text("unit") or "no unit"}
        details |= {"code": element.text("code") or "no code"}
        return Fault(UNIT_DIFFERS, path, written, element.place, details, (path,))
    if not unit:
        return located(number, element.path)
    return made(f"{number.text} {unit}", at(number.place, element.path))


def _unit(element: Element) -> str | None:
    """The unit of a quantity as it is written; None where its unit and its code do not agree."""
    written, code = element.text("unit").strip(), element.text("code").strip()
    if not code:
        return written
    system = element.text("system")
    symbol = UNITS_BY_CODE.get(code) if system in {"", UCUM} else None
    if not written:
        return symbol if system else None  # a code of no system says no unit by itself
    if symbol is None:
        return None
    unit = find_unit(written)
    agrees = (unit.symbol if unit else _DAYS.get(written, written)) == symbol
    return written if agrees else None


_DAYS = {"day": "d", "days": "d"}


def _ends(element: Element, path: str) -> tuple[Scalar, Scalar] | Fault:
    """The two quantities of a ratio."""
    above, below = element.section("numerator"), element.section("denominator")
    if above is None or below is None:
        return not_plain(path, element, "is no whole ratio")
    first, second = quantity(above, path), quantity(below, path)
    if isinstance(first, Fault):
        return first
    if isinstance(second, Fault):
        return second
    return located(first, element.path), second


def ratio(element: Element, path: str) -> Value:
    """A ratio to one of a unit: `60 mL` to `1 h` is 60 mL/h."""
    ends = _ends(element, path)
    if isinstance(ends, Fault):
        return ends
    first, second = ends
    number, _, unit = second.text.partition(" ")
    if number != "1" or not unit:
        return not_plain(path, element, "is no ratio to 1")
    return made(f"{first.text}/{unit}", first.place)


_OF_SECTIONS = {
    "valueQuantity": quantity,
    "valueCodeableConcept": concept,
    "valueRatio": ratio,
}


def numerator(element: Element, path: str, denominators: frozenset[str], to: str = "1") -> Value:
    """What there is of a ratio to one of these denominators; `to` says in words what they are."""
    ends = _ends(element, path)
    if isinstance(ends, Fault):
        return ends
    first, second = ends
    if second.text not in denominators:
        return not_plain(path, element, f"is no ratio to {to}")
    return first
