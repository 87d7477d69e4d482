"""A row as the document that it is: JSON, with the text of each cell at its path.

The definition of what an audit judges. Never a column.
"""

from __future__ import annotations

import json
import re
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.reading import read
from orderlint.reading.quantity_text import MOST_DIGITS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.field import Field


# More digits are refused as a number, and as a text.
_COUNT = re.compile(rf"0|[1-9][0-9]{{0,{MOST_DIGITS - 1}}}")


def is_count(field: Field | None, text: str) -> bool:
    """Whether a cell stands in its document as a number: the only field that must be one is a
    count, and this is the text of a count.
    """
    return field is not None and field.kind == "count" and _COUNT.fullmatch(text) is not None


def document_of(
    texts: Mapping[str, str], unknown: Mapping[str, str] = MappingProxyType({})
) -> bytes:
    """The document of a row, from its texts by path. No path stands below another one.

    `unknown` has the texts of what is no setting, each by its name, which is its key.
    """
    root: dict[str, Any] = {"document": "order", "format": 1}
    for path, text in texts.items():
        *sections, key = path.split(".")
        inner = root
        for section in sections:
            inner = inner.setdefault(section, {})
        inner[key] = int(text) if is_count(field_table().fields.get(path), text) else text
    root |= unknown
    return json.dumps(root, ensure_ascii=False).encode("utf-8", "surrogatepass")


def refusal_of(texts: Mapping[str, str]) -> str:
    """Why the document of a row is not read; '' if it is."""
    try:
        read(document_of(texts), "row", "order", json=True)
    except Refused as reason:
        return reason.message
    return ""
