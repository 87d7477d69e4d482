"""Reads what is opened on the page: an order, a draft, sentences or a table of orders.

Texts by path out, and what was not understood. Never checks anything, and drops nothing unsaid.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.api.sources import Content
from orderlint.finding import Place, Refused
from orderlint.intake.draft import drafted, read_draft
from orderlint.order_reader import nest_paths
from orderlint.page.entries import entries_of
from orderlint.reading import Document
from orderlint.reading.node import Scalar
from orderlint.reading.unicode_checks import decode_text
from orderlint.tables.order_table import SPREADSHEETS, as_document, is_table, read_order_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from orderlint.intake.draft import Draft, Line, Rest
    from orderlint.reading.node import Node
    from orderlint.tables.order_table import Row
    from orderlint.tables.table_map import Entry

NOTHING_READ = (
    "Nothing in this text is understood as a setting. What is opened here is an order or a draft "
    "in YAML or JSON, a prescriber's sentences, or a table with the names of settings in its "
    "first line."
)
_TABLES = (".csv", ".tsv")


class Opened(NamedTuple):
    """An order from elsewhere: its document, with the places in its file, and its texts by path.

    `name` is what the file is called, `said` what was not read of a table. `draft` is what a text
    was read as, each of its parts with its place; None where the order was no text.
    """

    name: str
    document: Document
    values: Mapping[str, str]
    said: tuple[str, ...] = ()
    draft: Draft | None = None


class Table(NamedTuple):
    """A table of several orders, of which a person picks one; `said` is what was not read of it."""

    name: str
    rows: tuple[Row, ...]
    said: tuple[str, ...]

    def opened(self, index: int) -> Opened:
        """The order of one row. Raises Refused where it holds what no order can."""
        return _of_order(as_document(self.rows[index], self.name), self.name, self.said)


def open_file(data: bytes, name: str, entries: Sequence[Entry] = ()) -> Opened | Table:
    """What a file, or a text that was pasted, holds; `entries` say which column is which setting.

    Raises Refused where it is none of what is opened here, or the form has no place for it.
    """
    shown = data.decode("utf-8-sig", "replace")
    if data.startswith(SPREADSHEETS) or name.lower().endswith(_TABLES) or is_table(shown, entries):
        table = Table(name, *read_order_table(data, name, entries))
        if not table.rows:
            raise Refused("The table has the names of its columns alone, and no order.", name)
        return table if len(table.rows) > 1 else table.opened(0)
    text = decode_text(data, name)
    is_json = text.lstrip().startswith("{")
    content = Content(name, data, is_json)
    if is_json or not text.strip() or re.search(r"^document[ \t]*:", text, re.MULTILINE):
        document = content.read_one_of("order", "draft")
        is_draft = document.kind == "draft"
        return _of_draft(read_draft(document), name) if is_draft else _of_order(document, name)
    draft = drafted(data, name, content.digest)
    if not draft.lines:
        raise Refused(NOTHING_READ, name)
    return _of_draft(draft, name)


def _of_draft(draft: Draft, name: str) -> Opened:
    """The lines of a draft, of each setting the first: no two of them differ."""

    def located(part: Line | Rest) -> Place:
        return part.place or Place(draft.name, part.source.line, part.source.column)

    lines = tuple(line._replace(place=located(line)) for line in draft.lines)
    rest = tuple(item._replace(place=located(item)) for item in draft.rest)
    nodes: dict[str, Node] = {}
    for line in lines:
        nodes.setdefault(line.path, Scalar(line.value, line.value, "text", located(line)))
    document = Document(name, "order", nest_paths(nodes, Place(name, 1, 1)))
    values = {path: node.text for path, node in nodes.items() if isinstance(node, Scalar)}
    return Opened(name, document, values, draft=replace(draft, lines=lines, rest=rest))


def _of_order(document: Document, name: str, said: tuple[str, ...] = ()) -> Opened:
    return Opened(name, document, entries_of(document), said)
