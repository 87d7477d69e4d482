"""The definitions of FHIR R4 (4.0.1), read from the archive that its authors publish."""

from __future__ import annotations

import json
import re
import tarfile
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

Json = dict[str, Any]

KINDS = ("StructureDefinition", "ValueSet", "CodeSystem")
REGEX = "http://hl7.org/fhir/StructureDefinition/regex"


class Constraint(NamedTuple):
    """A rule of the standard in FHIRPath, by its key: `qty-3`, `bdl-7`."""

    key: str
    expression: str


@dataclass(frozen=True)
class Element:
    """One element of a type: how often it stands, of which types, with which codes."""

    path: str
    lowest: int
    highest: int | None
    types: tuple[str, ...]
    targets: tuple[str, ...]
    same_as: str | None
    codes: str | None
    constraints: tuple[Constraint, ...]

    @property
    def repeats(self) -> bool:
        """Whether it is an array in JSON."""
        return self.highest is None or self.highest > 1


@dataclass
class Definitions:
    """Types, value sets and code systems by name or address."""

    types: dict[str, Json] = field(default_factory=dict)
    value_sets: dict[str, Json] = field(default_factory=dict)
    code_systems: dict[str, Json] = field(default_factory=dict)
    _elements: dict[str, dict[str, Element]] = field(default_factory=dict)
    _codes: dict[str, frozenset[tuple[str, str]] | None] = field(default_factory=dict)

    def elements(self, name: str) -> Mapping[str, Element]:
        """The elements of a type by path, the type itself first."""
        if name not in self._elements:
            written = self.types[name]["snapshot"]["element"]
            self._elements[name] = {each["path"]: _element(each) for each in written}
        return self._elements[name]

    def children(self, name: str, path: str) -> dict[str, Element]:
        """The elements directly under a path of a type, by their last name (`value[x]`)."""
        below = f"{path}."
        return {
            each.removeprefix(below): element
            for each, element in self.elements(name).items()
            if each.startswith(below) and "." not in each.removeprefix(below)
        }

    def is_resource(self, name: str) -> bool:
        """Whether a name is that of a resource that can be sent."""
        return name in self.types and self._is(name, "resource")

    def is_primitive(self, name: str) -> bool:
        """Whether a type is written in JSON as one value."""
        return name in self.types and self._is(name, "primitive-type")

    def _is(self, name: str, kind: str) -> bool:
        return self.types[name]["kind"] == kind and not self.types[name]["abstract"]

    def pattern(self, name: str) -> re.Pattern[str] | None:
        """The form that the standard gives for the text of a primitive type."""
        for each in self.types[name]["snapshot"]["element"]:
            if each["path"] == f"{name}.value":
                for extension in each["type"][0].get("extension", ()):
                    if extension["url"] == REGEX:
                        return re.compile(extension["valueString"], re.ASCII)
        return None

    def codes(self, address: str) -> frozenset[tuple[str, str]] | None:
        """All (system, code) of a value set; None where they do not all stand in the archive."""
        address = address.partition("|")[0]
        if address not in self._codes:
            self._codes[address] = self._expanded(address)
        return self._codes[address]

    def _expanded(self, address: str) -> frozenset[tuple[str, str]] | None:
        composed = self.value_sets[address]["compose"]
        if "exclude" in composed:
            return None
        found: set[tuple[str, str]] = set()
        for part in composed["include"]:
            codes = self._included(part)
            if codes is None:
                return None
            found |= codes
        return frozenset(found)

    def _included(self, part: Json) -> set[tuple[str, str]] | None:
        if "filter" in part:
            return None
        found: set[tuple[str, str]] = set()
        for address in part.get("valueSet", ()):
            codes = self.codes(address)
            if codes is None:
                return None
            found |= codes
        if "concept" in part:
            return found | {(part["system"], each["code"]) for each in part["concept"]}
        if "system" not in part:
            return found
        system = self.code_systems.get(part["system"])
        if system is None or system["content"] != "complete":
            return None
        return found | {(part["system"], code) for code in _all_codes(system["concept"])}


def read_definitions(archive: Path) -> Definitions:
    """Read the archive `hl7.fhir.r4.core.tgz`.

    Raises: OSError where it is not there; AssertionError where it is of another version.
    """
    found: dict[str, dict[str, Json]] = defaultdict(dict)
    with tarfile.open(archive) as files:
        for member in files:
            kind = member.name.removeprefix("package/").split("-")[0]
            if kind in KINDS and (stream := files.extractfile(member)):
                each = json.load(stream)
                assert each.get("fhirVersion", "4.0.1") == "4.0.1"
                if kind == "StructureDefinition" and each.get("derivation") == "constraint":
                    continue
                found[kind][each["name" if kind == "StructureDefinition" else "url"]] = each
    return Definitions(found["StructureDefinition"], found["ValueSet"], found["CodeSystem"])


def _element(written: Json) -> Element:
    binding = written.get("binding", {})
    types = written.get("type", [])
    return Element(
        path=written["path"],
        lowest=written["min"],
        highest=None if written["max"] == "*" else int(written["max"]),
        types=tuple(each["code"] for each in types),
        targets=tuple(
            url.rsplit("/", 1)[1] for each in types for url in each.get("targetProfile", ())
        ),
        same_as=written.get("contentReference", "").removeprefix("#") or None,
        codes=binding.get("valueSet") if binding.get("strength") == "required" else None,
        constraints=tuple(
            Constraint(each["key"], each["expression"])
            for each in written.get("constraint", ())
            if each["severity"] == "error" and "expression" in each
        ),
    )


def _all_codes(concepts: list[Json]) -> Iterator[str]:
    for each in concepts:
        yield each["code"]
        yield from _all_codes(each.get("concept", []))
