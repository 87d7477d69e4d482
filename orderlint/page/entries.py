"""What is entered in the form, by path, and the order that it makes. Never a value of our own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.order_reader import read_order
from orderlint.reading.quantity_text import split_quantity
from orderlint.reading.unicode_checks import first_refused_offset, refusal_message
from orderlint.report.form.model import UnitTwice
from orderlint.report.visible_text import safe
from orderlint.tables.table_map import HEAD_PATHS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document

UNIT = "unit:"
"""What the name of a unit picker begins with, before the path of its setting."""
NAME = "order on the page"
"""What the order is called in places."""


def entered(sent: Mapping[str, str]) -> dict[str, str]:
    """The texts of a form by path, without those that are empty; a picked unit stands after its
    number. Raises Refused for a text that holds what does not show.
    """
    texts = as_typed(sent)
    for path, text in texts.items():
        offset = first_refused_offset(text)
        if offset is not None:
            raise Refused(refusal_message(text[offset]), field_table().display_name(path))
    return texts


def as_typed(sent: Mapping[str, str]) -> dict[str, str]:
    """The same texts, whatever they hold."""
    texts = {}
    for path, field in field_table().fields.items():
        text = sent.get(path, "").strip().replace("\r\n", "\n")
        unit = sent.get(f"{UNIT}{path}", "")
        if unit in field.decimals and text:
            text = with_unit(text, unit)
        if text:
            texts[path] = text
    return texts


def with_unit(text: str, unit: str) -> str:
    """A number with the unit that is picked for it.

    A unit that is written already is left as it is; two that differ are for the reader.
    """
    split = split_quantity(text)
    return text if split is not None and split.unit == unit else f"{text} {unit}"


def unit_twice(sent: Mapping[str, str]) -> dict[str, UnitTwice]:
    """By path, what was typed with a unit while another unit is picked beside it."""
    found = {}
    for path, field in field_table().fields.items():
        text, picked = sent.get(path, "").strip(), sent.get(f"{UNIT}{path}", "")
        split = split_quantity(text) if picked in field.decimals and text else None
        if split is not None and split.unit not in {"", picked}:
            found[path] = UnitTwice(text, split.unit, picked)
    return found


def in_two_ways(values: Mapping[str, str]) -> tuple[str, ...]:
    """The paths of a section that is written as one value, and of its parts that are as well."""
    for whole in values:
        parts = [path for path in values if path.startswith(f"{whole}.")]
        if parts:
            return whole, *parts
    return ()


def in_two_ways_words(values: Mapping[str, str]) -> str:
    """Why such texts make no order, with the names of the fields; '' if they make one."""
    names = [f"{field_table().fields[p].name} (“{safe(values[p])}”)" for p in in_two_ways(values)]
    if not names:
        return ""
    return f"{' and '.join(names)} are both entered, and no order has both. Leave what is meant."


def entries_of(document: Document) -> Mapping[str, str]:
    """The texts of an order that was read from a file, by path.

    Raises Refused where the form has no field for something that is written.
    """
    order = read_order(document)
    for fault in order.faults:
        leaf = order.leaves.get(fault.path)
        if fault.rule == "key-not-known" or leaf is None or not leaf.text:
            raise Refused("The form has no field for what is written here.", fault.place)
    given = ((path, leaf.text) for path, leaf in order.leaves.items() if leaf.given)
    return {path: text for path, text in given if text and path not in HEAD_PATHS}
