"""Reads a table-map: which column holds which setting, and how its cells are written.

Only the document. Never a table.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Place, Refused
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.rulebook.yaml_fields import known_keys, near, optional, refuse, scalar, section
from orderlint.units import find_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.reading import Document

HEAD_PATHS = frozenset({"document", "format"})
"""What every order begins with, and no column holds."""
_KEYS = ("column", "unit_column", "unit", "absent", "shortest_text")
_TRUTHS = {"yes": True, "true": True, "no": False, "false": False}


class MappedColumn(NamedTuple):
    """Which column holds a setting, or a section written as one text, and how it is read.

    A cell that is one of `absent`, besides one that is empty, is nothing written. The unit stands
    in `unit_column`, or is `unit` in every row; where both are None it stands in the cell.
    `shortest_text` is true of a column of floats that are read as their shortest text.
    """

    path: str
    column: str
    unit_column: str | None = None
    unit: str | None = None
    absent: tuple[str, ...] = ()
    shortest_text: bool = False


class MapEntry(NamedTuple):
    """One setting of a map, with the place of each column that it names."""

    mapped: MappedColumn
    places: Mapping[str, Place]


def paths() -> tuple[str, ...]:
    """The paths that a column may hold: settings, and sections written as one text."""
    table = field_table()
    every = dict.fromkeys((*table.section_names, *table.fields))
    return tuple(path for path in every if path not in HEAD_PATHS)


def mapped_columns(
    entries: Sequence[MapEntry], names: Iterable[str], file: str
) -> list[MappedColumn]:
    """The columns of settings: those of a map or, without one, those that have a path as name.

    Raises Refused where there is none in the file.
    """
    every = {*paths()}
    mapped = [each.mapped for each in entries]
    mapped = mapped or [MappedColumn(name, name) for name in names if name in every]
    if not mapped:
        raise Refused(
            "No column has the name of a setting, as in this first line of a table: "
            f"{sample_header()}. Use such names, or say in a map which column has which setting.",
            file,
        )
    return mapped


_IN_BRACKETS = re.compile(r"\([^)]*\)?|\[[^\]]*\]?")
_BETWEEN_WORDS = re.compile(r"[\W_]+")


def is_like_a_setting(name: str) -> bool:
    """Whether a column that is none of a setting has nearly the name of one, or its path, in any
    order of its words; what it has in brackets, such as a unit, is no part of the name.
    """
    from difflib import get_close_matches  # noqa: PLC0415 - only where a column is not read

    words = _plain(name)
    if not words or name in {*paths(), *HEAD_PATHS}:
        return False
    table = field_table()
    known = {_plain(each) for path in paths() for each in (path, table.display_name(path))}
    in_order = {_sorted(each) for each in known}
    return _sorted(words) in in_order or bool(get_close_matches(words, known, 1, _LIKE))


_LIKE = 0.85
"""As much of a name as one slip leaves; less than this, and `state` would be `status`."""


def _plain(name: str) -> str:
    return _BETWEEN_WORDS.sub(" ", _IN_BRACKETS.sub(" ", name)).strip().casefold()


def _sorted(words: str) -> tuple[str, ...]:
    return tuple(sorted(words.split()))


def sample_header() -> str:
    """A first line of a table: a few settings by their names, with what an order is called."""
    table = field_table().fields
    levels = (path for path in table if path.startswith("pause."))
    return ",".join(path for path in ("id", "therapy", *levels, "treat_above") if path in table)


def column_notes(unmapped: Iterable[str], mapped: Iterable[MappedColumn]) -> Iterator[str]:
    """What is to be said of columns before anything runs, a line each."""
    if names := ", ".join(unmapped):
        yield f"Not read, as no setting is mapped to them: {names}."
    of: dict[str, list[str]] = {}
    for each in mapped:
        of.setdefault(each.column, []).append(each.path)
    for column in sorted(of):
        if len(of[column]) > 1:
            yield f"The column {column} is read as several settings: {', '.join(of[column])}."


def read_table_map(document: Document) -> tuple[MapEntry, ...]:
    """The settings of a map; none where columns are named by their paths. Raises Refused."""
    root = document.root
    known_keys(root, ("document", "format", "columns"), "a table map")
    columns = root.get("columns")
    if columns is None or (isinstance(columns, Scalar) and columns.form == "nothing"):
        return ()
    return tuple(_entries(section(columns, "columns:", root)))


def _entries(columns: Section) -> Iterator[MapEntry]:
    every = paths()
    for key, value in columns.entries:
        if key.text not in every:
            refuse(key, f"This is no setting of an order{near(key.text, every) or '.'}")
        yield _entry(key.text, value)


def _entry(path: str, value: Node) -> MapEntry:
    if isinstance(value, Scalar) and value.text.strip():
        return MapEntry(MappedColumn(path, value.text), {value.text: value.place})
    record = section(value, f"{path}: is the name of a column, or", value)
    known_keys(record, _KEYS, "a column")
    column, unit_column, unit = (
        scalar(record, "column"),
        optional(record, "unit_column"),
        optional(record, "unit"),
    )
    if unit_column is not None and unit is not None:
        refuse(unit, "unit: and unit_column: cannot both be given")
    _check_unit(path, column, unit_column, unit)
    mapped = MappedColumn(
        path,
        column.text,
        unit_column.text if unit_column else None,
        unit.text if unit else None,
        tuple(_absent(record)),
        shortest_text=_truth(record),
    )
    named = [column] if unit_column is None else [column, unit_column]
    return MapEntry(mapped, {each.text: each.place for each in named})


def _check_unit(path: str, column: Scalar, unit_column: Scalar | None, unit: Scalar | None) -> None:
    """Raise Refused at a unit that no text of the setting can have."""
    field = field_table().fields.get(path)
    named = unit or unit_column
    if named is None:
        return
    if field is None or field.kind != "quantity":
        refuse(named, f"{path} has no unit")
    if unit_column is not None and unit_column.text == column.text:
        refuse(unit_column, "unit_column: is the column of the value as well")
    meant = find_unit(unit.text) if unit is not None else None
    if unit is not None and (meant is None or meant.symbol not in field.decimals):
        refuse(unit, f"this is no unit of {path}: {', '.join(field.decimals)}")


def _absent(record: Section) -> Iterator[str]:
    """The words that mean absent; one of them may be empty."""
    found = record.get("absent")
    if found is None:
        return
    if not isinstance(found, Listing) or not all(isinstance(x, Scalar) for x in found.items):
        refuse(found, "absent: is a list of texts")
    yield from (item.text for item in found.items if isinstance(item, Scalar))


def _truth(record: Section) -> bool:
    found = optional(record, "shortest_text")
    if found is None:
        return False
    if found.text not in _TRUTHS:
        refuse(found, "shortest_text: is yes or no")
    return _TRUTHS[found.text]
