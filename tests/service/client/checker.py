"""What CDS Hooks 2.0 asks of the answers of a service, and what of it this service keeps from.

The schemas are written from the specification (https://cds-hooks.hl7.org/2.0/): discovery, card
attributes, feedback. Beyond it: no suggestion and no system action, since both change an order.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from jsonschema import Draft202012Validator

if TYPE_CHECKING:
    from collections.abc import Iterator

    from service.client.wire import Answer

LONGEST_SUMMARY = 139
TEXT = {"type": "string", "pattern": r"\S"}
URL = {"type": "string", "pattern": r"^https?://[^\s/?#]+"}
EXTENSION = {"type": "object"}
CODING = {
    "type": "object",
    "required": ["code", "system"],
    "properties": {
        "code": {"type": "string", "pattern": r"^\S+( \S+)*$"},
        "system": {"type": "string", "pattern": r"^[A-Za-z][A-Za-z0-9+.-]*:\S+$"},
        "display": TEXT,
    },
    "additionalProperties": False,
}
NAMED_CODING = {**CODING, "required": ["code", "system", "display"]}
SERVICE = {
    "type": "object",
    "required": ["hook", "description", "id"],
    "properties": {
        "hook": {"type": "string", "pattern": "^[a-z]+(-[a-z]+)*$"},
        "title": TEXT,
        "description": TEXT,
        "id": {"type": "string", "pattern": r"^[A-Za-z0-9._~-]+$"},
        "prefetch": {"type": "object", "additionalProperties": TEXT},
        "usageRequirements": TEXT,
        "extension": EXTENSION,
    },
    "additionalProperties": False,
}
DISCOVERY = {
    "type": "object",
    "required": ["services"],
    "properties": {
        "services": {"type": "array", "items": SERVICE, "minItems": 1},
        "extension": EXTENSION,
    },
    "additionalProperties": False,
}
LINK = {
    "type": "object",
    "required": ["label", "url", "type"],
    "properties": {
        "label": TEXT,
        "url": URL,
        "type": {"enum": ["absolute", "smart"]},
        "appContext": {"type": "string"},
        "extension": EXTENSION,
    },
    "additionalProperties": False,
    # "appContext" goes to a SMART app alone.
    "if": {"required": ["appContext"]},
    "then": {"properties": {"type": {"const": "smart"}}},
}
SOURCE = {
    "type": "object",
    "required": ["label"],
    "properties": {
        "label": TEXT,
        "url": URL,
        "icon": URL,
        "topic": CODING,
        "extension": EXTENSION,
    },
    "additionalProperties": False,
}
UUID = "^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$"
CARD = {
    "type": "object",
    # Of the standard uuid may be left out; feedback has need of it.
    "required": ["uuid", "summary", "indicator", "source"],
    "properties": {
        "uuid": {"type": "string", "pattern": UUID},
        "summary": {"type": "string", "pattern": r"\S", "maxLength": LONGEST_SUMMARY},
        "detail": TEXT,
        "indicator": {"enum": ["info", "warning", "critical"]},
        "source": SOURCE,
        "overrideReasons": {"type": "array", "items": NAMED_CODING, "minItems": 1},
        "links": {"type": "array", "items": LINK, "minItems": 1},
        "extension": EXTENSION,
    },
    # Neither suggestions nor selectionBehavior, which goes with them.
    "additionalProperties": False,
}
CARDS = {
    "type": "object",
    "required": ["cards"],
    "properties": {"cards": {"type": "array", "items": CARD}, "extension": EXTENSION},
    "additionalProperties": False,
}
_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


_DISCOVERY, _CARDS = Draft202012Validator(DISCOVERY), Draft202012Validator(CARDS)


def _found(schema: Draft202012Validator, data: Any) -> Iterator[str]:
    for error in schema.iter_errors(data):
        yield f"{error.json_path}: {error.message[:300]}"


def _sent(answer: Answer) -> Iterator[str]:
    """What is wrong with how JSON was sent."""
    if answer.status != 200:
        yield f"status {answer.status}"
    kind, _, parameters = answer.fields.get("content-type", "").partition(";")
    if kind.strip().lower() != "application/json":
        yield f"content-type {answer.fields.get('content-type')}"
    if parameters.strip().lower() not in {"", "charset=utf-8"}:
        yield f"content-type with {parameters.strip()}"


def _faults(answer: Answer, schema: Draft202012Validator) -> tuple[list[str], Any]:
    faults = list(_sent(answer))
    try:
        data = answer.json
    except ValueError as error:
        return [*faults, f"no JSON: {error}"], None
    return [*faults, *_found(schema, data)], data


def faults_of_discovery(answer: Answer) -> list[str]:
    """What is wrong with the answer to `GET {base}/cds-services`."""
    faults, data = _faults(answer, _DISCOVERY)
    if not faults:
        faults += _named_twice("service", (service["id"] for service in data["services"]))
    return faults


def faults_of_cards(answer: Answer) -> list[str]:
    """What is wrong with the answer to a call of a service."""
    faults, data = _faults(answer, _CARDS)
    if faults:
        return faults
    faults += _named_twice("card", (card["uuid"] for card in data["cards"]))
    for place, card in enumerate(data["cards"]):
        faults += [f"$.cards[{place}]: {fault}" for fault in _of_card(card)]
    return faults


def faults_of_feedback(answer: Answer) -> list[str]:
    """What is wrong with the answer to feedback: of it the standard asks status 200 alone."""
    faults = [] if answer.status == 200 else [f"status {answer.status}"]
    if answer.body and not faults:
        try:
            _ = answer.json
        except ValueError as error:
            faults.append(f"no JSON: {error}")
    return faults


def _of_card(card: dict[str, Any]) -> Iterator[str]:
    """What a schema does not say."""
    if _UNSEEN.search(card["summary"]):
        yield f"summary is no single plain line: {card['summary']!r}"
    reasons = [(one["system"], one["code"]) for one in card.get("overrideReasons", [])]
    yield from _named_twice("reason", reasons)
    for link in card.get("links", []):
        parts = urlsplit(link["url"])
        if parts.username is not None or not parts.hostname:
            yield f"link to {link['url']}"


def _named_twice(kind: str, names: Any) -> list[str]:
    return [f"{kind} {name} twice" for name, times in Counter(names).items() if times > 1]
