"""Reads what is opened on the page: an order, a draft, sentences or a table of orders.

Texts by path out, and what was not understood. Never checks anything, and drops nothing unsaid.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.api.sources import Content
from orderlint.finding import Place, Refused
from orderlint.page.entries import entries_of
from orderlint.reading import FHIR, Document
from orderlint.reading.node import Node, Scalar, nest_paths
from orderlint.reading.unicode_checks import decode_text
from orderlint.sentences.draft import Draft, DraftLine, Rest, drafted, read_draft
from orderlint.tables.order_table import SPREADSHEETS, as_document, is_table, read_order_table
from orderlint.tables.table_map import MapEntry, sample_header

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from orderlint.fhir.bundle.reading import BundleOrder
    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.tables.order_table import OrderTable, Row

_TABLES = (".csv", ".tsv")
_DOCUMENT = re.compile(r"^document[ \t]*:|\A\ufeff?\s*<", re.MULTILINE)
"""What a document in YAML has; or what is in XML, which the reader of documents refuses."""
_NOTHING_READ = (
    "Nothing in this text is understood as a setting. What is opened here is an order or a draft "
    "in YAML or JSON, a Bundle of FHIR, a prescriber's sentences, or a table with the names of "
    "settings in its first line, such as {sample}."
)


class Opened(NamedTuple):
    """An order from elsewhere: its document, with the places in its file, and its texts by path.

    `name` is what the file is called, `said` what was not read of a table, `row` which of its
    orders this is, and `unread` its columns that were not read. `draft` is what a text was read
    as, each of its parts with its place, and `bundle` what was read of a Bundle of FHIR; None
    where the order was no such thing.
    """

    name: str
    document: Document
    values: Mapping[str, str]
    said: tuple[str, ...] = ()
    draft: Draft | None = None
    bundle: BundleOrder | None = None
    row: str = ""
    unread: tuple[str, ...] = ()


class SiteNames(NamedTuple):
    """What a site calls the settings: in the columns of its tables, and in its codes of FHIR."""

    columns: Sequence[MapEntry] = ()
    codes: ConceptMap | None = None


OWN = SiteNames()
"""The names that the settings have here."""


class OpenedTable(NamedTuple):
    """A table of several orders, of which a person picks one; kept as its bytes, which are few."""

    name: str
    data: bytes
    columns: Sequence[MapEntry]

    def read(self) -> OrderTable:
        """Its rows, and what was not read of it. Raises Refused where it is no table of orders."""
        return read_order_table(self.data, self.name, self.columns)

    def opened(self, index: int) -> Opened:
        """The order of one row. Raises Refused where it holds what no order can."""
        table = self.read()
        row = table.rows[index]
        document, where = as_document(row, self.name), where_of(row)
        values, unread = entries_of(document), table.unread
        return Opened(self.name, document, values, table.said, row=where, unread=unread)


def where_of(row: Row) -> str:
    """The line of a row that is an order, or the order that several rows are."""
    where = row.name.rpartition(":")[2]
    return f"line {where}" if where.isdecimal() else where


def open_file(data: bytes, name: str, names: SiteNames) -> Opened | OpenedTable:
    """What a file, or a text that was pasted, holds.

    Raises Refused where it is none of what is opened here, or the form has no place for it.
    """
    shown, columns = data.decode("utf-8-sig", "replace"), names.columns
    if data.startswith(SPREADSHEETS) or name.lower().endswith(_TABLES) or is_table(shown, columns):
        table = OpenedTable(name, data, columns)
        rows = table.read().rows
        if not rows:
            raise Refused("The table has the names of its columns alone, and no order.", name)
        return table if len(rows) > 1 else table.opened(0)
    text = decode_text(data, name)
    content = Content(name, data, text.lstrip().startswith("{"))
    if content.json or not text.strip() or _DOCUMENT.search(text):
        return _of_document(content.read_one_of("order", "draft", FHIR), names)
    draft = drafted(data, name, content.digest)
    if not draft.lines:
        raise Refused(_NOTHING_READ.format(sample=sample_header()), name)
    return _of_draft(draft, name)


def _of_document(document: Document, names: SiteNames) -> Opened:
    if document.kind == "draft":
        return _of_draft(read_draft(document), document.file)
    if document.kind == FHIR:
        return _of_bundle(document, names.codes)
    return Opened(document.file, document, entries_of(document))


def _of_bundle(document: Document, codes: ConceptMap | None) -> Opened:
    """The one order of a Bundle; what it is besides its settings stays with it."""
    from orderlint.fhir.bundle.reading import only_one, order_of  # noqa: PLC0415 - few come in a Bundle

    found = only_one(document, codes)
    order_of(found)  # which refuses what is no order
    return Opened(document.file, found.document, entries_of(found.document), bundle=found)


def _of_draft(draft: Draft, name: str) -> Opened:
    """The lines of a draft, of each setting the first: no two of them differ."""

    def located(part: DraftLine | Rest) -> Place:
        return part.place or Place(draft.name, part.source.line, part.source.column)

    lines = tuple(line._replace(place=located(line)) for line in draft.lines)
    rest = tuple(item._replace(place=located(item)) for item in draft.rest)
    nodes: dict[str, Node] = {}
    for line in lines:
        nodes.setdefault(line.path, Scalar(line.value, line.value, "text", located(line)))
    document = Document(name, "order", nest_paths(nodes, Place(name, 1, 1)))
    values = {path: node.text for path, node in nodes.items() if isinstance(node, Scalar)}
    return Opened(name, document, values, draft=replace(draft, lines=lines, rest=rest))
