"""Every element that the standard allows and the clean Bundle has not, put in one at a time."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fhir.definitions import Definitions, Element, Json

VALUES: dict[str, Any] = {
    "boolean": True,
    "decimal": 1,
    "integer": 1,
    "positiveInt": 1,
    "unsignedInt": 1,
    "date": "2026-03-02",
    "dateTime": "2026-03-02T15:00:00-06:00",
    "instant": "2026-03-02T15:00:00-06:00",
    "time": "15:00:00",
    "base64Binary": "YQ==",
    "xhtml": '<div xmlns="http://www.w3.org/1999/xhtml">a text</div>',
    "uri": "https://ward.example/a",
    "url": "https://ward.example/a",
    "canonical": "https://ward.example/a",
    "Reference": {"display": "a thing"},
    "Extension": {"url": "https://ward.example/e", "valueBoolean": True},
    "Coding": {"system": "https://ward.example/codes", "code": "a"},
    "CodeableConcept": {"text": "a text"},
    "Identifier": {"system": "https://ward.example/ids", "value": "1"},
    "Period": {"end": "2026-03-02T16:00:00-06:00"},
    "Annotation": {"text": "a text"},
    "Resource": {"resourceType": "Basic", "id": "more", "code": {"text": "a text"}},
}
CONTAINED_TWICE = "Medication.contained"
"""A resource in a resource that is contained, which a rule of the standard, dom-2, forbids."""
BESIDE = {"extension": [VALUES["Extension"]]}


class Insertion(NamedTuple):
    """An element put in, by its path in the type that holds it, and the Bundle with it."""

    path: str
    bundle: Json


def insertions(definitions: Definitions, bundle: Json) -> Iterator[Insertion]:
    """Each Bundle that one element more makes: each type of a choice is one."""
    for holder, name, path in _objects(definitions, bundle, "Bundle", "Bundle"):
        for last, element in definitions.children(name, path).items():
            if f"{path}.{last}" == CONTAINED_TWICE:
                continue
            keys = _keys(last, element)
            written = [key for key, _ in keys if key in holder]
            for key, kind in keys:
                if not written:
                    value = _value(definitions, kind, element, name)
                    held = [value] if element.repeats else value
                    yield Insertion(f"{path}.{key}", _with(bundle, holder, key, held))
                if definitions.is_primitive(kind) and written in ([], [key]):
                    beside = [BESIDE] if element.repeats else BESIDE
                    yield Insertion(f"{path}._{key}", _with(bundle, holder, f"_{key}", beside))


def _objects(
    definitions: Definitions, value: Any, name: str, path: str
) -> Iterator[tuple[Json, str, str]]:
    """Each object in a resource with its type, and the path in that type."""
    if name == "Resource":
        name = path = value["resourceType"]
    yield value, name, path
    for last, element in definitions.children(name, path).items():
        for key, kind in _keys(last, element):
            for each in value[key] if isinstance(value.get(key), list) else [value.get(key)]:
                if not isinstance(each, dict):
                    continue
                if element.same_as:
                    yield from _objects(definitions, each, name, element.same_as)
                elif kind in {"BackboneElement", "Element"}:
                    yield from _objects(definitions, each, name, element.path)
                else:
                    yield from _objects(definitions, each, kind, kind)


def _keys(last: str, element: Element) -> list[tuple[str, str]]:
    kinds = element.types or ("Element",)
    if not last.endswith("[x]"):
        return [(last, kinds[0])]
    return [(f"{last[:-3]}{kind[0].upper()}{kind[1:]}", kind) for kind in kinds]


def _value(definitions: Definitions, kind: str, element: Element, name: str) -> Any:
    """Some value of a type: what it must have, or its first element where it need have none."""
    if element.codes and kind == "code" and (codes := definitions.codes(element.codes)):
        return min(code for _, code in codes)
    if kind in VALUES:
        return deepcopy(VALUES[kind])
    if kind.startswith("http://hl7.org/fhirpath/") or definitions.is_primitive(kind):
        return "a"
    if kind in {"BackboneElement", "Element"}:
        return _filled(definitions, name, element.same_as or element.path)
    return _filled(definitions, kind, kind)


def _filled(definitions: Definitions, name: str, path: str) -> Json:
    children = definitions.children(name, path)
    wanted = [last for last, each in children.items() if each.lowest]
    own = [last for last in children if last not in {"id", "extension", "modifierExtension"}]
    made: Json = {}
    for last in wanted or own[:1]:
        key, kind = _keys(last, children[last])[0]
        value = _value(definitions, kind, children[last], name)
        made[key] = [value] if children[last].repeats else value
    return made


def _with(bundle: Json, holder: Json, key: str, value: Any) -> Json:
    """A copy of the Bundle in which one object has one key more."""
    holder[key] = value
    made = deepcopy(bundle)
    del holder[key]
    return made
