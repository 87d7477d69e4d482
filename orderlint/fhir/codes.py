"""The code system of the settings, where each stands in a Bundle, and the UCUM codes of units.

One table of the fields' paths. Never what is written there.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING

from orderlint.field import casefold_spaces
from orderlint.fields import field_table

if TYPE_CHECKING:
    from collections.abc import KeysView, Mapping

CODES = "https://orderlint.example/fhir/order-settings"
"""The system of our codes: a name in a reserved domain, which nobody fetches."""
ORDER = "order"
"""The code of an order as a whole; the others are the paths of its settings."""
UCUM = "http://unitsofmeasure.org"

HEAD = frozenset({"document", "format"})
"""What every order begins with, and is no setting."""

NAMED: Mapping[str, str] = {
    "id": "groupIdentifier.value",
    "status": "status",
    "written": "authoredOn",
    "starts": "occurrence.start",
    "prescriber": "requester.display",
    "indication": "reasonCode[0].text",
    "instructions": "note[0].text",
}
"""The settings that have an element of their own in a DeviceRequest, each with its FHIRPath."""

UCUM_CODES: Mapping[str, str] = {
    "mmHg": "mm[Hg]",
    "cmH2O": "cm[H2O]",
    "mL": "mL",
    "L": "L",
    "mL/h": "mL/h",
    "mL/min": "mL/min",
    "s": "s",
    "min": "min",
    "h": "h",
    "kg": "kg",
    "g": "g",
    "deg": "deg",
    "mg/L": "mg/L",
    "mg/mL": "mg/mL",
    "mcg/mL": "ug/mL",
    "mcg/L": "ug/L",
    "g/L": "g/L",
}
"""Unit → its UCUM code. Units of activity have none: they are no unit of UCUM by themselves."""

UNITS_BY_CODE: Mapping[str, str] = {
    **{code: unit for unit, code in UCUM_CODES.items()},
    **{code.replace("L", "l"): unit for unit, code in UCUM_CODES.items()},
    "mg": "mg",
    "ug": "mcg",
    "d": "d",
}
"""UCUM code → unit; UCUM writes a litre as L and as l. The last stand in ratios alone."""


@functools.cache
def setting_codes() -> KeysView[str]:
    """The paths of all settings, which are the codes of our code system beside ORDER."""
    return {path: None for path in field_table().fields if path not in HEAD}.keys()


@functools.cache
def codes_by_name() -> Mapping[str, str]:
    """The codes of all settings by what the settings are called."""
    fields = field_table().fields
    return {casefold_spaces(fields[path].name): path for path in setting_codes()}


@functools.cache
def codes_by_words() -> Mapping[str, str]:
    """The codes of all settings by the words in their names, and in paths below a section."""
    below = {words_of(path): path for path in setting_codes() if "." in path}
    return below | {words_of(name): path for name, path in codes_by_name().items()}


def words_of(text: str) -> str:
    """The words of a text, without what stands between them."""
    return " ".join(_WORD.findall(text.casefold()))


_WORD = re.compile(r"[^\W_]+")
