"""Files with one JSON object a line as tables. A number is the text that stands there.

Sections within an object are columns too, under their dotted path. Never what a text means.
"""

from __future__ import annotations

import json
from functools import partial
from itertools import islice
from typing import TYPE_CHECKING

import pyarrow as pa

from orderlint.audit.table_files.table import Table, TableColumn, checked_columns
from orderlint.finding import Place, Refused

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

_BATCH = 16_384
_LONGEST = 8 * 1024 * 1024  # bytes of one line


def lines_table(name: str) -> Table:
    """A file of lines. Its columns are the names that any of its lines has, in their order.

    Raises Refused.
    """
    found: dict[str, None] = {}
    for row in _rows(name):
        found.update(dict.fromkeys(row))
    columns = (TableColumn(each, "text", is_text=True) for each in found)
    return Table(name, checked_columns(columns, name), partial(_batches, name), names_vary=True)


def _batches(
    file: str, names: Sequence[str], _floats: Collection[str], start: int
) -> Iterator[pa.RecordBatch]:
    rows = islice(_rows(file), start, None)
    while some := [*islice(rows, _BATCH)]:
        arrays = [pa.array([row.get(name) for row in some], pa.string()) for name in names]
        yield pa.RecordBatch.from_arrays(arrays, names=[*names])


def _rows(name: str) -> Iterator[dict[str, str]]:
    """The texts of each line by name; what is null is left out."""
    try:
        with open(name, "rb") as file:  # noqa: PTH123 - a name is opened as it was given
            for number, line in enumerate(file, 1):
                if len(line) > _LONGEST:
                    raise Refused("The line is too long.", Place(name, number, 1))
                if line.strip():
                    yield _row(line, Place(name, number, 1))
    except OSError as error:
        raise Refused(f"The file cannot be read: {error.strerror}.", name) from None


def _row(line: bytes, place: Place) -> dict[str, str]:
    try:
        text = line.decode("utf-8-sig" if place.line == 1 else "utf-8")
        value = _DECODER.decode(text)
    except UnicodeDecodeError:
        raise Refused("The line is not UTF-8 text.", place) from None
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, _Pairs):
        raise Refused("The line is no JSON object.", place)
    row: dict[str, str] = {}
    for path, found in _flat(value, ""):
        if isinstance(found, list):
            raise Refused(f"{path} is a list, which no cell can be.", place)
        if path in row:
            raise Refused(f"{path} stands twice in one line.", place)
        if found is not None:
            row[path] = _text(found, place)
    return row


class _Pairs(list[tuple[str, object]]):
    """The names and values of an object, as often as they stand there."""


_DECODER = json.JSONDecoder(
    parse_float=str, parse_int=str, parse_constant=str, object_pairs_hook=_Pairs
)


def _flat(pairs: _Pairs, before: str) -> Iterator[tuple[str, object]]:
    for name, value in pairs:
        path = f"{before}{name}"
        if isinstance(value, _Pairs):
            yield from _flat(value, f"{path}.")
        else:
            yield path, value


def _text(value: object, place: Place) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    if not text.isascii() and any("\ud800" <= character <= "\udfff" for character in text):
        raise Refused("The line has half of a character.", place)
    return text
