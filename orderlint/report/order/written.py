"""Makes blocks of the order as it is written, so that a page that is signed holds all of it.

Every setting that is written, readable or not. Never a value of our own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.report.blocks import Columns, PageOnly, ReportSection, list_section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf

WRITTEN = "The order as it is written"
_FORM = ("document", "format")
"""What says that a file is an order, and nothing of the order itself."""


def written_section(leaves: Mapping[str, Leaf]) -> PageOnly:
    """All that is written, by part of the order."""
    parts = [list_section(name, lines) for name, lines in _parts(leaves).items()]
    return PageOnly((ReportSection(WRITTEN, (Columns(tuple(parts)),), "whole"),))


def _parts(leaves: Mapping[str, Leaf]) -> dict[str, list[str]]:
    parts: dict[str, list[str]] = {}
    for path, said in _lines(leaves):
        top, dot, _ = path.partition(".")
        parts.setdefault(field_table().display_name(top) if dot else "Order", []).append(said)
    return parts


def _lines(leaves: Mapping[str, Leaf]) -> Iterator[tuple[str, str]]:
    table = field_table()
    for path in table.fields:
        leaf = leaves[path]
        if leaf.given and path not in _FORM:
            yield path, f"{table.display_name(path)}: {' '.join(leaf.text.split()) or 'empty'}"
