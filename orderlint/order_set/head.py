"""Reads the facts at the top of an order set: title, population, version, owner, approval, review.

How they are written. Never whether one is missing or out of date, and never the order below them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Place
from orderlint.leaf_reader import read_leaf
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.rulebook.yaml_fields import most_like
from orderlint.schema_check import is_empty
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


FACTS = {
    "title": "Title",
    "population": "Population",
    "version": "Version",
    "owner": "Owner",
    "approved": "Approval",
    "review_due": "Date of review",
}
"""Key of each fact → its name."""
ID = "id"
"""Key of the set's own name, by which its findings are known when its file gets another name."""
TOP_KEYS = ("document", "format", ID, *FACTS, "order")
"""Keys that an order set may have at its top level."""
GROUP_FIELD = "patient.group"
"""The field of an order whose choices make up a population."""

_NAMES = {ID: "Id", **FACTS}
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_DAY = 86_400_000  # milliseconds
_DATE_FORM = "a date, such as 2027-01-31, or a date and time with its offset from UTC"


class Head(NamedTuple):
    """The facts as written, the place of each, and their faults.

    The groups of a population are joined by `, `, each by its standard word.
    """

    facts: Mapping[str, str]
    places: Mapping[str, Place]
    faults: tuple[Fault, ...]


def read_head(root: Section) -> Head:
    """Read the head of an order set."""
    facts: dict[str, str] = {}
    places: dict[str, Place] = {}
    faults: list[Fault] = []
    for entry in root.entries:
        key, node = entry.key.text, entry.value
        if key not in TOP_KEYS:
            faults.append(_unknown_key(entry.key))
        elif key in _NAMES and not is_empty(node):
            places[key] = node.place
            facts[key] = ", ".join(_texts(key, node, faults))
    return Head({key: text for key, text in facts.items() if text}, places, tuple(faults))


def population_groups(facts: Mapping[str, str]) -> tuple[str, ...]:
    """Return the patient groups for which the set is written."""
    return tuple(facts["population"].split(", ")) if "population" in facts else ()


def review_deadline(facts: Mapping[str, str]) -> int | None:
    """Return when the review is overdue, in milliseconds since 1970 UTC, or None.

    A date without a time ends with its day in UTC.
    """
    written = facts.get("review_due", "")
    if not _DATE.fullmatch(written):
        return parse_instant(written)
    begins = parse_instant(f"{written}T00:00Z")
    return None if begins is None else begins + _DAY


def _texts(key: str, node: Node, faults: list[Fault]) -> Iterator[str]:
    """Yield the text of a fact; add what cannot be read to the faults."""
    if key == "population" and isinstance(node, Listing):
        for item in node.items:
            yield from _group(item, faults)
    elif not isinstance(node, Scalar):
        met = "a list" if isinstance(node, Listing) else "a group of settings"
        faults.append(_wrong_kind(key, node, met, "a text"))
    elif key == "population":
        yield from _group(node, faults)
    else:
        text = node.text.strip()
        if key == "review_due" and review_deadline({key: text}) is None:
            faults.append(_wrong_kind(key, node, "no date", _DATE_FORM))
        yield text


def _group(node: Node, faults: list[Fault]) -> Iterator[str]:
    field = field_table().fields[GROUP_FIELD]._replace(path="population", name=FACTS["population"])
    if not isinstance(node, Scalar) or is_empty(node):
        form = f"one or more of: {', '.join(field.choices)}"
        faults.append(_wrong_kind("population", node, "no patient group", form))
        return
    judged = read_leaf(field, node)
    if judged.fault:
        faults.append(judged.fault)
    else:
        yield str(judged.leaf.value)


def _wrong_kind(key: str, node: Node, met: str, form: str) -> Fault:
    details = {"name": in_sentence(_NAMES[key]), "met": met, "form": form}
    written = node.text.strip() if isinstance(node, Scalar) else met
    return Fault("kind-not-expected", key, written, node.place, details)


def _unknown_key(key: Scalar) -> Fault:
    close = most_like(key.text, TOP_KEYS) if len(key.text) <= 60 else None
    near = f"; the nearest is {close}" if close else ""
    return Fault("key-not-known", f'"{key.text}"', key.text, key.place, {"nearest": near})
