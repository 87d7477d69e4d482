"""Writes settings as the YAML of an order. Each value as it was written, and none of our own."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from orderlint.fields import field_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


def order_yaml(values: Mapping[str, str], comment: str = "") -> str:
    """The order that has these texts by path, in the order of the field table.

    ValueError where a section is one value and has parts as well, which no order can.
    """
    nested: dict[str, Any] = {}
    for path in field_table().fields:
        if path in values:
            put(nested, path, _scalar(path, values[path]))
    head = "document: order\nformat: 1\n"
    return comment + head + "".join(f"{line}\n" for line in _lines(nested, ""))


def put(document: dict[str, Any], path: str, value: object) -> None:
    """Put a value into a document, in sections inside one another. ValueError as above."""
    *sections, key = path.split(".")
    inner = document
    for section in sections:
        inner = inner.setdefault(section, {})
        if not isinstance(inner, dict):
            raise ValueError(f"{section} is one value and has parts as well")
    inner[key] = value


def _lines(section: Mapping[str, object], indent: str) -> Iterator[str]:
    for key, value in section.items():
        if isinstance(value, dict):
            yield f"{indent}{key}:"
            yield from _lines(value, f"{indent}  ")
        else:
            yield f"{indent}{key}: {value}"


_PLAIN = re.compile(r"\d+(?:\.\d+)? [A-Za-z][A-Za-z0-9/]*|0|[1-9]\d*")


def _scalar(path: str, text: str) -> str:
    """A value so that it is read as it is written: quantities and counts plain, else in quotes."""
    is_number = field_table().fields[path].kind in {"quantity", "count"}
    return text if is_number and _PLAIN.fullmatch(text) else quoted(text)


def quoted(text: str) -> str:
    """A text in quotes, with escapes that YAML and JSON share."""
    return json.dumps(text, ensure_ascii=False)
