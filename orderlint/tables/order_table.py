"""Reads a table of orders: CSV, TSV or with semicolons; a row an order, or a row a setting of one.

Every cell is text as it stands. Never what a text means.
"""

from __future__ import annotations

import csv
import io
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Place, Refused
from orderlint.order_reader import read_order
from orderlint.reading import Document
from orderlint.reading.limits import check_key, make_scalar
from orderlint.reading.node import Form, KeyValue, Node, Scalar, Section, nest_paths
from orderlint.reading.unicode_checks import decode_text
from orderlint.rulebook.yaml_fields import near
from orderlint.tables import table_map
from orderlint.tables.row_document import document_of, is_count

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.order import Order
    from orderlint.tables.table_map import MapEntry, MappedColumn

LARGEST_TABLE = 64 * 1024 * 1024
SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""What a spreadsheet's own file begins with: its cells hold numbers and dates, and no text."""
_LONG = ("order", "field", "value")
_UNIT = "unit"
_DELIMITERS = ",;\t"


class TableCell(NamedTuple):
    """A text, and where it stands: row and column from 1, the first row with the names counted."""

    text: str
    place: Place


class Row(NamedTuple):
    """An order as a table has it: what it is called in reports, and its cells by path.

    `unknown` are the cells of an unknown setting, by its name, which a document would have as an
    unknown key. There are none where a map says which columns are read.
    """

    name: str
    cells: Mapping[str, TableCell]
    unknown: Mapping[str, TableCell] = MappingProxyType({})


class OrderTable(NamedTuple):
    """The orders of a table, and what is to be said of its columns before anything is checked.

    `unread` are the names of the columns, or fields, that no setting is mapped to.
    """

    rows: tuple[Row, ...]
    said: tuple[str, ...]
    unread: tuple[str, ...]


def read_order_table(data: bytes, name: str, entries: Sequence[MapEntry] = ()) -> OrderTable:
    """The orders in a table, mapped by `entries` or, without any, by the names of columns.

    Raises Refused where it is no table of text, or a column that is mapped is not there.
    """
    if data.startswith(SPREADSHEETS):
        said = "This is a spreadsheet's own file. Save it as CSV in UTF-8; its cells hold no text."
        raise Refused(said, name)
    rows = _rows(_text(data, name), name)
    names = [_name(cell) for cell in next(rows, [])]
    if not names:
        raise Refused("The file is empty.", name)
    if {*_LONG} <= {*names} <= {*_LONG, _UNIT}:
        return _long(names, rows, name, entries)
    return _wide(names, rows, name, entries)


def is_table(text: str, entries: Sequence[MapEntry] = ()) -> bool:
    """Whether the first line of a text is that of a table of orders: several columns by name."""
    line = text.lstrip("\ufeff\r\n").partition("\n")[0]
    names = {cell.strip(' "\r') for cell in line.split(_delimiter(line))}
    known = {each.mapped.column for each in entries} or {*table_map.paths()}
    is_comment = line.startswith("#")
    return len(names) > 1 and not is_comment and (bool(names & known) or names >= {*_LONG})


def _delimiter(text: str) -> str:
    return max(_DELIMITERS, key=text.partition("\n")[0].count)


def _text(data: bytes, name: str) -> str:
    """The text of a file; which characters may stand in a cell is asked of each cell alone."""
    if len(data) > LARGEST_TABLE:
        raise Refused(f"The file is larger than {LARGEST_TABLE // 1024**2} MiB.", name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return decode_text(data, name, LARGEST_TABLE)  # which says where


def _name(cell: TableCell) -> str:
    return make_scalar(cell.text, cell.text, "text", cell.place).text.strip()


def _rows(text: str, name: str) -> Iterator[list[TableCell]]:
    """The rows with anything in them. Raises Refused where a quote is not as RFC 4180 has it."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        for number, row in enumerate(reader, 1):
            if any(row):
                yield [TableCell(each, Place(name, number, at)) for at, each in enumerate(row, 1)]
    except csv.Error as error:
        said = f"This cannot be read as CSV: {error}."
        raise Refused(said, Place(name, reader.line_num, 1)) from None


def _wide(
    names: Sequence[str], rows: Iterable[list[TableCell]], name: str, entries: Sequence[MapEntry]
) -> OrderTable:
    mapped = _checked(table_map.mapped_columns(entries, names, name), names, name, entries)
    # A column of the house's own is none of an order; one that is like a setting may be meant so.
    strange = [] if entries else [each for each in names if table_map.is_like_a_setting(each)]
    found = []
    for row in rows:
        place = row[0].place
        if len(row) != len(names):
            raise Refused("A row has more or fewer cells than the first.", place)
        cells = dict(zip(names, row, strict=True))
        named = {each: cells[each] for each in strange if cells[each].text.strip()}
        found.append(Row(f"{name}:{place.line}", _cells(mapped, cells), named))
    return _table(found, names, mapped)


def _long(
    names: Sequence[str], rows: Iterable[list[TableCell]], name: str, entries: Sequence[MapEntry]
) -> OrderTable:
    """A row for each setting: its order, its field and its value, with or without its unit."""
    orders: dict[str, dict[str, TableCell]] = {}
    for row in rows:
        if len(row) != len(names):
            raise Refused("A row has more or fewer cells than the first.", row[0].place)
        order, field, value = (row[names.index(each)] for each in _LONG)
        unit = row[names.index(_UNIT)].text.strip() if _UNIT in names else ""
        text = f"{value.text} {unit}" if unit and value.text.strip() else value.text
        cells = orders.setdefault(order.text.strip(), {})
        if cells.setdefault(field.text.strip(), cell := value._replace(text=text)) is not cell:
            raise Refused(f"{field.text.strip()} stands twice in one order.", field.place)
    fields = [*dict.fromkeys(field for cells in orders.values() for field in cells)]
    mapped = table_map.mapped_columns(entries, fields, name)
    every = {*table_map.paths(), *table_map.HEAD_PATHS} | {*(fields if entries else ())}
    found = []
    for order_name, cells in orders.items():
        named = {f: c for f, c in cells.items() if f not in every and c.text.strip()}
        found.append(Row(f"{name}:{order_name}", _cells(mapped, cells), named))
    return _table(found, fields, mapped)


def _checked(
    mapped: list[MappedColumn], names: Sequence[str], name: str, entries: Sequence[MapEntry]
) -> list[MappedColumn]:
    """The same. Raises Refused at a name that stands twice or is not there."""
    twice = next((each for each in names if names.count(each) > 1), None)
    if twice is not None:
        raise Refused(f"Two columns have the name {twice!r}.", name)
    places = {column: place for each in entries for column, place in each.places.items()}
    for column in (x for each in mapped for x in (each.column, each.unit_column) if x is not None):
        if column not in names:
            said = f"There is no column {column} in {name}{near(column, names)}."
            raise Refused(said, places.get(column, name))
    return mapped


def _cells(mapped: Iterable[MappedColumn], row: Mapping[str, TableCell]) -> dict[str, TableCell]:
    """The cells of an order by path, without those that are absent."""
    found = {}
    for each in mapped:
        cell = row.get(each.column)
        if cell is None or cell.text == "" or cell.text in each.absent:
            continue
        beside = row.get(each.unit_column or "")
        unit = beside.text if beside is not None else each.unit or ""
        unit = "" if unit in each.absent else unit
        found[each.path] = cell._replace(text=f"{cell.text} {unit}") if unit else cell
    return found


def order_of(row: Row, file: str) -> Order:
    """The order that a row is. Raises Refused, at its cell, for what no order can hold."""
    document = as_document(row, file)
    root = document.root
    unknown = tuple(_entries(row.unknown))
    return read_order(document._replace(root=Section((*root.entries, *unknown), root.place)))


def _entries(cells: Mapping[str, TableCell]) -> Iterator[KeyValue]:
    """What is no setting, as keys of a document. Raises Refused for what can be none."""
    seen: dict[str, Place] = {}
    for name, (text, place) in cells.items():
        key = make_scalar(name, name, "text", place)
        check_key(key, seen)
        yield KeyValue(key, make_scalar(text, text, "text", place))


def as_document(row: Row, file: str) -> Document:
    """A row as the document of an order, with the places of its cells. Raises Refused as above."""
    nodes: dict[str, Node] = {}
    for path, cell in row.cells.items():
        text, field = cell.text, field_table().fields.get(path)
        inside = next((each for each in row.cells if each.startswith(f"{path}.")), None)
        if inside:  # as in a document, where a key would stand twice
            said = f"{path} and {inside} are both written, and no order has both."
            raise Refused(said, cell.place, also=row.cells[inside].place)
        form: Form = "number" if is_count(field, text) else "text"
        nodes[path] = make_scalar(text, text, form, cell.place)
    start = next((cell.place for cell in row.cells.values()), Place(file, 1, 1))
    nodes["document"] = Scalar("order", "order", "text", start)
    nodes["format"] = Scalar("1", "1", "number", start)
    return Document(row.name, "order", nest_paths(nodes, start))


def document_of_row(row: Row) -> bytes:
    """The document that a row is, as JSON."""
    unknown = {name: cell.text for name, cell in row.unknown.items()}
    return document_of({path: cell.text for path, cell in row.cells.items()}, unknown)


def _table(rows: Iterable[Row], names: Iterable[str], mapped: Sequence[MappedColumn]) -> OrderTable:
    read = {x for each in mapped for x in (each.column, each.unit_column)}
    unread = tuple(name for name in names if name not in read)
    return OrderTable(tuple(rows), tuple(table_map.column_notes(unread, mapped)), unread)
