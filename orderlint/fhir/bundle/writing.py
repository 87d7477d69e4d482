"""Writes an order as a FHIR R4 Bundle: a DeviceRequest and, where there is a fluid, its drug part.

Each value as it was written. What has no place there is named; never left out, never changed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.fhir.codes import CODES, HEAD, NAMED, ORDER, UCUM, UCUM_CODES
from orderlint.fhir.json_text import Json, JsonNumber, json_text
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.reading.node import Form, KeyValue, Scalar, Section
from orderlint.schema_check import has_allowed_form, is_empty
from orderlint.tables.row_document import is_count
from orderlint.units import find_unit, parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document

SUBJECT = "the patient for whom the order is signed"
"""An order names no patient, and each request must have a subject."""
_STATUSES = {"draft": "draft", "active": "active", "ended": "completed"}
# What every program reads as the same number: no zero at its end, and not more digits than a
# program may keep of it.
_PLAIN_QUANTITY = re.compile(
    r"(?!-0 )(-?(?:0|[1-9]\d{0,8})(?:\.\d{0,5}[1-9])?) (\S(?:.*\S)?)", re.ASCII
)
# https://hl7.org/fhir/R4/datatypes.html#dateTime, as far as it has a time.
_DATE_TIME = re.compile(
    r"\d{4}-\d\d-\d\dT([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?"
    r"(Z|[+-](0\d|1[0-3]):[0-5]\d|[+-]14:00)",
    re.ASCII,
)


def bundle_text(texts: Mapping[str, str]) -> str:
    """The Bundle that says these texts by path, as JSON; the same texts, the same bytes."""
    resources = [_device_request(texts)]
    if _has_drug_part(texts):
        resources.append(_medication_request(texts))
    entries = [_entry(resource) for resource in resources]
    return json_text({"resourceType": "Bundle", "type": "collection", "entry": [*entries]})


def _has_drug_part(texts: Mapping[str, str]) -> bool:
    """Whether there is a fluid, a status to order it with, and no additive without a name."""
    additive = [path for path in texts if f"{path}.".startswith("irrigation.additive.")]
    is_named = "irrigation.additive.name" in texts
    is_known = is_named or not additive or texts.get("irrigation.additive") == "none"
    return "irrigation.fluid" in texts and bool(_status(texts)) and is_known


def texts_of(document: Document) -> tuple[dict[str, str], tuple[Refused, ...]]:
    """The texts of an order by path, as they are written, and why another part has no place."""
    texts: dict[str, str] = {}
    refused = tuple(_collect(document.root, "", texts))
    return texts, refused


def _collect(section: Section, path: str, texts: dict[str, str]) -> Iterator[Refused]:
    table = field_table()
    for entry in section.entries:
        below, node = table.keys[path].get(entry.key.text), entry.value
        if below in HEAD or (below and is_empty(node)):
            continue
        if below is not None and below in table.keys and isinstance(node, Section):
            yield from _collect(node, below, texts)
        elif below is None or below not in table.fields or not isinstance(node, Scalar):
            yield _no_place(entry, path, below)
        elif not _is_kept_by_text(below, node):
            what = f"{table.display_name(below)} is written as no text"
            yield Refused(f"{what}, and would be one in FHIR.", node.place)
        else:
            texts[below] = node.text


def _no_place(entry: KeyValue, section: str, path: str | None) -> Refused:
    if path is None:
        within = f" of {section}" if section else ""
        message = f"“{entry.key.text}”{within} is no setting of an order, and has no place in FHIR."
        return Refused(message, entry.key.place)
    name = field_table().display_name(path)
    return Refused(f"{name} is not one value here, and has no place in FHIR.", entry.value.place)


def _is_kept_by_text(path: str, node: Scalar) -> bool:
    """Whether the order's reader says the same of a value when it comes as a text."""
    field = field_table().fields[path]
    form: Form = "number" if is_count(field, node.text) else "text"
    as_text = node._replace(form=form)
    return node.form == form or (has_allowed_form(field, node) and has_allowed_form(field, as_text))


def _entry(resource: dict[str, Json]) -> Json:
    from uuid import NAMESPACE_URL, uuid5  # noqa: PLC0415 - cold start

    # The same text of a resource, the same name; another text, another.
    return {
        "fullUrl": f"urn:uuid:{uuid5(NAMESPACE_URL, f'{CODES}#{json_text(resource)}')}",
        "resource": resource,
    }


def _device_request(texts: Mapping[str, str]) -> dict[str, Json]:
    named = {path: texts[path] for path in NAMED if _fits_named(path, texts)}
    others = [path for path in field_table().fields if path in texts and path not in named]
    starts, reason = named.get("starts"), named.get("indication")
    note = named.get("instructions")
    return _filled(
        {
            "resourceType": "DeviceRequest",
            **_identified(named),
            "intent": "order",
            "codeCodeableConcept": _code(ORDER, "Order"),
            "parameter": [_parameter(path, texts[path]) for path in others],
            "subject": {"display": SUBJECT},
            "occurrencePeriod": _filled({"start": starts or ""}),
            **_signed(named),
            "reasonCode": [{"text": reason}] if reason else [],
            "note": [{"text": note}] if note else [],
        }
    )


def _fits_named(path: str, texts: Mapping[str, str]) -> bool:
    """Whether a setting can stand in the element of its own; else it is a parameter as others."""
    text = texts.get(path)
    if text is None:
        return False
    if path == "status":
        return text in _STATUSES
    is_time = field_table().fields[path].kind == "instant"
    return not is_time or bool(_DATE_TIME.fullmatch(text) and parse_instant(text) is not None)


def _status(texts: Mapping[str, str]) -> str:
    return _STATUSES.get(texts.get("status", ""), "")


def _identified(named: Mapping[str, str]) -> dict[str, Json]:
    return {
        "groupIdentifier": _filled({"value": named.get("id", "")}),
        "status": _status(named),
    }


def _signed(named: Mapping[str, str]) -> dict[str, Json]:
    return {
        "authoredOn": named.get("written", ""),
        "requester": _filled({"display": named.get("prescriber", "")}),
    }


def _parameter(path: str, text: str) -> Json:
    code = _code(path, field_table().display_name(path))
    quantity = _quantity(path, text)
    if quantity:
        return {"code": code, "valueQuantity": quantity}
    return {"code": code, "valueCodeableConcept": {"text": text}}


def _code(code: str, display: str) -> Json:
    return {"coding": [{"system": CODES, "code": code, "display": display}]}


def _quantity(path: str, text: str) -> dict[str, Json]:
    """A Quantity, where a text is plainly a number, a blank and a unit of UCUM; else nothing."""
    number, unit, symbol = _plain(path, text)
    if symbol not in UCUM_CODES:
        return {}
    return {"value": JsonNumber(number), "unit": unit, "system": UCUM, "code": UCUM_CODES[symbol]}


def _plain(path: str, text: str) -> tuple[str, str, str]:
    """Number, unit and its symbol of a text that is plainly a quantity; each '' of another."""
    plain = _PLAIN_QUANTITY.fullmatch(text)
    unit = find_unit(plain[2]) if plain else None
    if plain is None or unit is None or unit.flag or field_table().fields[path].kind != "quantity":
        return "", "", ""
    return plain[1], plain[2], unit.symbol


def _medication_request(texts: Mapping[str, str]) -> dict[str, Json]:
    """What the pharmacy is sent: which fluid, with what in it, from which bag, and how fast."""
    named = {path: texts[path] for path in NAMED if _fits_named(path, texts)}
    return _filled(
        {
            "resourceType": "MedicationRequest",
            "contained": [_medication(texts)],
            **_identified(named),
            "intent": "order",
            "medicationReference": {"reference": "#fluid"},
            "subject": {"display": SUBJECT},
            **_signed(named),
            "dosageInstruction": _dosage(texts),
        }
    )


_CONCENTRATION = "irrigation.additive.concentration"


def _medication(texts: Mapping[str, str]) -> Json:
    bag, name = _said("irrigation.bag", texts), texts.get("irrigation.additive.name")
    strength = _strength(_CONCENTRATION, texts.get(_CONCENTRATION, ""))
    ingredient = _filled({"itemCodeableConcept": {"text": name or ""}, "strength": strength})
    return _filled(
        {
            "resourceType": "Medication",
            "id": "fluid",
            "code": {"text": texts["irrigation.fluid"]},
            "amount": {"numerator": bag, "denominator": {"value": JsonNumber("1")}} if bag else {},
            "ingredient": [ingredient] if name else [],
        }
    )


def _said(path: str, texts: Mapping[str, str]) -> dict[str, Json]:
    return _quantity(path, texts[path]) if path in texts else {}


def _strength(path: str, text: str) -> dict[str, Json]:
    """A concentration as a ratio to one of its second unit; nothing where it is not plainly one."""
    number, unit, _ = _plain(path, text)
    above, _, below = unit.partition("/")
    if not below:
        return {}
    return {
        "numerator": {"value": JsonNumber(number), "unit": above},
        "denominator": {"value": JsonNumber("1"), "unit": below},
    }


_A_DAY: Json = {"value": JsonNumber("1"), "unit": "d", "system": UCUM, "code": "d"}


def _dosage(texts: Mapping[str, str]) -> list[Json]:
    rate, most = _said("irrigation.rate", texts), _said("irrigation.daily_max", texts)
    dosage = _filled(
        {
            "doseAndRate": [{"rateQuantity": rate}] if rate else [],
            "maxDosePerPeriod": {"numerator": most, "denominator": _A_DAY} if most else {},
        }
    )
    return [dosage] if dosage else []


def _filled(members: Mapping[str, Json]) -> dict[str, Json]:
    """What has something in it: no element of FHIR is empty."""
    return {name: member for name, member in members.items() if member}
