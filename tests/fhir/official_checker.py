"""A resource held against the official definitions: what is there, how often, of which form.

Written from the standard's own page on JSON (hl7.org/fhir/R4/json.html) and its definitions alone.
The rules in FHIRPath are listed with the place they hold at, for an engine that is not ours.
"""

from __future__ import annotations

import calendar
import re
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fhir.definitions import Constraint, Definitions, Element, Json

SYSTEM_TYPE = "http://hl7.org/fhirpath/System."
NUMBERS = ("decimal", "integer", "positiveInt", "unsignedInt")
UCUM = "http://unitsofmeasure.org"
Steps = tuple[str | int, ...]


class Issue(NamedTuple):
    """What is not as the standard has it, and where."""

    at: str
    says: str


class Rule(NamedTuple):
    """A rule of the standard that must hold at a place: `base` is the place's path in its type."""

    steps: Steps
    base: str
    constraint: Constraint


class Place(NamedTuple):
    """Where a value stands: within which type, as which of its elements, of which of its types."""

    within: str
    element: Element
    kind: str
    steps: Steps


class Checker:
    """One resource at a time; afterwards `rules` are those that bind it, `units` its UCUM codes."""

    def __init__(self, definitions: Definitions) -> None:
        self.definitions = definitions
        self.issues: list[Issue] = []
        self.rules: list[Rule] = []
        self.units: list[tuple[str, str]] = []
        self.addresses: dict[str, str] = {}

    def check(self, resource: Json) -> list[Issue]:
        """All that is wrong in a resource read from JSON with decimals as `Decimal`."""
        self.issues, self.rules, self.units = [], [], []
        self.addresses = dict(_addresses(resource))
        self._resource(resource, ())
        return self.issues

    def _say(self, steps: Steps, says: str) -> None:
        self.issues.append(Issue(_fhirpath(steps), says))

    def _resource(self, value: object, steps: Steps) -> None:
        name = value.get("resourceType") if isinstance(value, dict) else None
        if not isinstance(name, str) or not self.definitions.is_resource(name):
            self._say(steps, f"no resource of R4: {name!r}")
            return
        self._of_type({k: v for k, v in value.items() if k != "resourceType"}, name, name, steps)

    def _of_type(self, value: object, name: str, path: str, steps: Steps) -> None:
        """A value of a type, or of the part of it at `path`."""
        self._ruled(self.definitions.elements(name)[path], path, steps)
        if not isinstance(value, dict):
            self._say(steps, f"a {path} is an object")
        elif not value:
            self._say(steps, "an object is never empty")
        else:
            self._object(value, name, path, steps)
            if path == "Reference":
                self._reference(value, steps)
            if path == "Quantity" and value.get("system") == UCUM and "code" in value:
                self.units.append((_fhirpath(steps), str(value["code"])))

    def _ruled(self, element: Element, base: str, steps: Steps) -> None:
        self.rules += [Rule(steps, base, each) for each in element.constraints]

    def _object(self, value: Json, name: str, path: str, steps: Steps) -> None:
        known: set[str] = set()
        for last, element in self.definitions.children(name, path).items():
            named = [(key, of) for key, of in _names(last, element) if _any_of(value, key)]
            known |= {key for key, _ in named}
            if len(named) > 1:
                self._say(steps, f"more than one {last}")
            if element.lowest and not named:
                self._say(steps, f"{last} is missing")
            for key, of in named:
                self._element(value, key, Place(name, element, of, (*steps, key)))
        for key in value:
            if key.removeprefix("_") not in known:
                self._say(steps, f"{key} is not known here")

    def _element(self, of: Json, key: str, place: Place) -> None:
        values, beside = of.get(key), of.get(f"_{key}")
        if f"_{key}" in of and not self._primitive_type(place.kind):
            self._say(place.steps, f"_{key} stands beside a primitive only")
        if not place.element.repeats:
            if isinstance(values, list) or isinstance(beside, list):
                self._say(place.steps, "an array, where one value stands")
            else:
                self._value(values, beside, place)
            return
        for array in (values, beside):
            if array is not None and (not isinstance(array, list) or not array):
                self._say(place.steps, "an array that is not empty stands here")
                return
        self._array(values or [], beside or [], place)

    def _array(self, values: list[object], beside: list[object], place: Place) -> None:
        longest = max(len(values), len(beside))
        if place.element.highest is not None and longest > place.element.highest:
            self._say(place.steps, f"at most {place.element.highest}")
        for index in range(longest):
            each = values[index] if index < len(values) else None
            more = beside[index] if index < len(beside) else None
            self._value(each, more, place._replace(steps=(*place.steps, index)))

    def _primitive_type(self, kind: str) -> bool:
        return kind.startswith(SYSTEM_TYPE) or self.definitions.is_primitive(kind)

    def _primitive_name(self, kind: str, element: Element) -> str:
        """A resource's own id is of the type id, which its definition in R4 leaves unsaid."""
        if not kind.startswith(SYSTEM_TYPE):
            return kind
        of, _, last = element.path.rpartition(".")
        return "id" if last == "id" and self.definitions.is_resource(of) else "string"

    def _value(self, value: object, beside: object, place: Place) -> None:
        kind, element, steps = place.kind, place.element, place.steps
        if kind == "Resource":
            self._resource(value, steps)
        elif element.same_as:
            self._of_type(value, place.within, element.same_as, steps)
        elif kind in {"BackboneElement", "Element"}:
            self._of_type(value, place.within, element.path, steps)
        elif self._primitive_type(kind):
            self._primitive(value, beside, place)
        elif kind not in self.definitions.types:
            self._say(steps, f"no type {kind}")
        else:
            self._ruled(element, kind, steps)
            self._of_type(value, kind, kind, steps)
            self._codes(value, place)
            self._target(value, place)

    def _primitive(self, value: object, beside: object, place: Place) -> None:
        kind, element, steps = place.kind, place.element, place.steps
        if beside is not None:
            self._of_type(beside, "Element", "Element", _beside(steps))
        if value is None:
            if beside is None:
                self._say(steps, "null, where a value stands")
            return
        name = self._primitive_name(kind, element)
        if not _is_json_of(name, value):
            self._say(steps, f"{value!r} is no {name} in JSON")
            return
        text = str(value).lower() if isinstance(value, bool) else str(value)
        pattern = self.definitions.pattern(name)
        if (pattern and not pattern.fullmatch(text)) or not _is_day(name, text):
            self._say(steps, f"{text!r} has not the form of a {name}")
        codes = self.definitions.codes(element.codes) if element.codes else None
        if codes is not None and text not in {code for _, code in codes}:
            self._say(steps, f"{text!r} is not in {element.codes}")

    def _codes(self, value: object, place: Place) -> None:
        """A Coding or CodeableConcept whose codes are bound: one of them must be in the set."""
        bound = place.element.codes
        if not bound or not isinstance(value, dict):
            return
        codes = self.definitions.codes(bound)
        codings = value.get("coding", []) if place.kind == "CodeableConcept" else [value]
        if codes is not None and not any(
            (each.get("system"), each.get("code")) in codes for each in codings
        ):
            self._say(place.steps, f"no code of {bound}")

    def _reference(self, value: Json, steps: Steps) -> None:
        to = value.get("reference")
        here = isinstance(to, str) and to.startswith(("#", "urn:uuid:")) and to != "#"
        if here and to not in self.addresses:
            self._say(steps, f"{to} leads nowhere")

    def _target(self, value: object, place: Place) -> None:
        """What a reference leads to is of a type that may stand there."""
        targets = place.element.targets
        to = value.get("reference") if isinstance(value, dict) else None
        if not isinstance(to, str) or not targets or "Resource" in targets:
            return
        parts = to.split("/")
        found = self.addresses.get(to) or (parts[-2] if len(parts) > 1 else None)
        if found and self.definitions.is_resource(found) and found not in targets:
            self._say(place.steps, f"a {found} cannot stand here")


def _addresses(resource: object) -> Iterator[tuple[str, str]]:
    """What a reference in a resource can lead to, and its type: an entry, or contained."""
    if isinstance(resource, list):
        for each in resource:
            yield from _addresses(each)
    if isinstance(resource, dict):
        held = resource.get("resource")
        if "fullUrl" in resource and isinstance(held, dict):
            yield str(resource["fullUrl"]), str(held.get("resourceType"))
        contained = resource.get("contained")
        for each in contained if isinstance(contained, list) else ():
            if isinstance(each, dict):
                yield f"#{each.get('id')}", str(each.get("resourceType"))
        for value in resource.values():
            yield from _addresses(value)


def _names(last: str, element: Element) -> Iterator[tuple[str, str]]:
    """The keys in JSON under which an element may stand, each with its type."""
    if last.endswith("[x]"):
        for kind in element.types:
            yield f"{last[:-3]}{kind[0].upper()}{kind[1:]}", kind
    else:
        yield last, element.types[0] if element.types else "Element"


def _beside(steps: Steps) -> Steps:
    """Where the extensions of a primitive stand: under its key with a low line before it."""
    *above, key, index = steps if isinstance(steps[-1], int) else (*steps, None)
    return (*above, f"_{key}") if index is None else (*above, f"_{key}", index)


def _any_of(value: Json, key: str) -> bool:
    return key in value or f"_{key}" in value


def _is_json_of(name: str, value: object) -> bool:
    if name == "boolean":
        return isinstance(value, bool)
    if name in NUMBERS:
        allowed = (int, Decimal) if name == "decimal" else (int,)
        return isinstance(value, allowed) and not isinstance(value, bool)
    return isinstance(value, str)


def _is_day(name: str, text: str) -> bool:
    """Whether a date is in the calendar; a text of another type always passes."""
    if name not in {"date", "dateTime", "instant"} or not re.match(r"\d{4}-\d\d-\d\d", text):
        return True
    year, month, day = (int(part) for part in text[:10].split("-"))
    return 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]


def _fhirpath(steps: Steps) -> str:
    text = "".join(f"[{each}]" if isinstance(each, int) else f".{each}" for each in steps)
    return text.removeprefix(".")
