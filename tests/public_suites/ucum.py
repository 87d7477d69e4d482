"""Reads UCUM's units exactly, from its table of them, the essence. Nothing of `orderlint` helps.

Left out: parentheses, and units on special scales that are no ratio (degrees Celsius, pH).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path

# UCUM 2.2, sections 2.1 and 2.2: terms with "." and "/" between them, each with an exponent.
_TERM = re.compile(r"([./]?)((?:\[[^\]]*\]|\{[^}]*\}|[^./\[{()])+)")
_PARTS = re.compile(r"(.*?[^-+\d])([-+]?\d+)?(?:\{[^}]*\})?")


class UnknownUnitError(ValueError):
    """A text that is no unit of UCUM, or one that is left out."""


class Measure(NamedTuple):
    """A product of base units: `size` of them, with the exponent of each."""

    size: Fraction
    powers: dict[str, int]


class Ucum:
    """The units of one essence."""

    def __init__(self, essence: Path) -> None:
        root = ET.parse(essence).getroot()
        units = [item for item in root.iter() if item.tag.endswith("unit")]
        self._base = {i.get("Code") for i in root.iter() if i.tag.endswith("base-unit")}
        self._metric = self._base | {i.get("Code") for i in units if i.get("isMetric") == "yes"}
        special = {item.get("Code") for item in units if item.get("isSpecial") == "yes"}
        self._units = {
            item.get("Code"): (Fraction(value.get("value", "1")), value.get("Unit", ""))
            for item in units
            if item.get("Code") not in special | self._base
            for value in item
            if value.tag.endswith("value")
        }
        self._prefixes = {
            item.get("Code", ""): Fraction(value.get("value", "1"))
            for item in root.iter()
            if item.tag.endswith("prefix")
            for value in item
            if value.tag.endswith("value")
        }

    def measure(self, text: str) -> Measure:
        """What a text in UCUM's case-sensitive codes measures. Raises UnknownUnitError."""
        size, powers, end = Fraction(1), Counter[str](), 0
        for found in _TERM.finditer(text):
            if found.start() != end:
                break
            end = found.end()
            term = self._term(found[2])
            sign = -1 if found[1] == "/" else 1
            size *= term.size**sign
            for base, exponent in term.powers.items():
                powers[base] += sign * exponent
        if not text or end < len(text):
            raise UnknownUnitError(text)
        return Measure(size, {base: exponent for base, exponent in powers.items() if exponent})

    def _term(self, text: str) -> Measure:
        if re.fullmatch(r"\{[^}]*\}", text):
            return Measure(Fraction(1), {})
        if text.isdecimal():
            return Measure(Fraction(int(text)), {})
        parts = _PARTS.fullmatch(text)
        if not parts:
            raise UnknownUnitError(text)
        unit, exponent = self._unit(parts[1]), int(parts[2] or 1)
        powers = {base: each * exponent for base, each in unit.powers.items()}
        return Measure(unit.size**exponent, powers)

    def _unit(self, code: str) -> Measure:
        if code in self._base:
            return Measure(Fraction(1), {code: 1})
        if code in self._units:
            value, of = self._units[code]
            unit = self.measure(of)
            return Measure(value * unit.size, unit.powers)
        for prefix, factor in self._prefixes.items():
            rest = code.removeprefix(prefix)
            if rest != code and rest in self._metric:
                unit = self._unit(rest)
                return Measure(factor * unit.size, unit.powers)
        raise UnknownUnitError(code)
