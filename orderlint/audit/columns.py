"""Which columns of a table hold which settings: by a map, or by their names.

Says what is not read before anything runs. Never a cell.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit.table_files.table import Table, floats_refused
from orderlint.finding import Place, Refused
from orderlint.rulebook.yaml_fields import near
from orderlint.tables.table_map import MapEntry, MappedColumn, mapped_columns, paths

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    Places = dict[str, Place]


class Mapping(NamedTuple):
    """The columns that are read, and those that are not.

    `extra` are columns that are looked at by themselves, such as those of --by; `carried` are those
    that are handed on as they are.
    """

    mapped: tuple[MappedColumn, ...]
    unmapped: tuple[str, ...]
    extra: tuple[str, ...] = ()
    carried: tuple[str, ...] = ()

    def of_settings(self) -> tuple[str, ...]:
        """The columns that settings are read from, once each."""
        units = (each.unit_column for each in self.mapped if each.unit_column is not None)
        return tuple(dict.fromkeys((*(each.column for each in self.mapped), *units)))

    def names(self) -> tuple[str, ...]:
        """Every column that is read, once."""
        return tuple(dict.fromkeys((*self.carried, *self.checked())))

    def checked(self) -> tuple[str, ...]:
        """The columns whose cells must have a text."""
        return tuple(dict.fromkeys((*self.of_settings(), *self.extra)))

    def floats(self) -> tuple[str, ...]:
        """The columns whose floats are read as their shortest text."""
        read = self.of_settings()
        shortest = (each.column for each in self.mapped if each.shortest_text)
        return (*shortest, *(name for name in self.names() if name not in read))


def mapping_of(
    tables: Sequence[Table],
    entries: Sequence[MapEntry],
    extra: Iterable[str] = (),
    *,
    carry: bool = False,
) -> Mapping:
    """The mapping of tables with the same columns; with `carry`, all their columns are handed on.

    Raises Refused where a column is missing, has floats that are not mapped as their text, or
    values that have no text.
    """
    names = dict.fromkeys(column.name for table in tables for column in table.columns)
    given = mapped_columns(entries, names, tables[0].name)
    mapped = tuple(sorted(given, key=lambda each: paths().index(each.path)))
    found = Mapping(mapped, (), tuple(dict.fromkeys(extra)), tuple(names) if carry else ())
    places = {name: place for each in entries for name, place in each.places.items()}
    for table in tables:
        _check(table, found, places, tuple(names))
    read = found.checked()
    return found._replace(unmapped=tuple(sorted(name for name in names if name not in read)))


def _check(table: Table, found: Mapping, places: Places, every: Sequence[str]) -> None:
    columns = {column.name: column for column in table.columns}
    for name in found.checked():
        if name not in columns:
            if table.names_vary and name in every:
                continue
            at = places.get(name, table.name)
            said = f" in {table.name}" if name in places else ""
            raise Refused(f"There is no column {name}{said}{near(name, columns)}.", at)
        column = columns[name]
        if column.is_float and name not in found.floats():
            raise Refused(floats_refused(name), table.name)
        if not column.is_float and not column.is_text:
            said = f"The column {name} is of type {column.kind}, which is no text."
            raise Refused(said, table.name)
