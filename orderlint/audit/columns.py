"""Which columns of a table hold which settings: by a map, or by their names.

Says what is not read before anything runs. Never a cell.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit.model import MappedColumn
from orderlint.audit.table_map import paths
from orderlint.audit.tables.table import floats_refused
from orderlint.finding import Refused
from orderlint.rulebook.yaml_fields import near

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.audit.table_map import Entry
    from orderlint.audit.tables.table import Table, TableColumn


class Mapping(NamedTuple):
    """The columns that are read, those that are not, and those that are read as several settings.

    `extra` are columns that are looked at by themselves, such as those of --by.
    """

    mapped: tuple[MappedColumn, ...]
    unmapped: tuple[str, ...]
    twice: tuple[str, ...]
    extra: tuple[str, ...] = ()

    def names(self) -> tuple[str, ...]:
        """Every column that is read, once."""
        units = (each.unit_column for each in self.mapped if each.unit_column)
        return tuple(dict.fromkeys((*(each.column for each in self.mapped), *units, *self.extra)))

    def floats(self) -> tuple[str, ...]:
        """The columns whose floats are read as their shortest text."""
        return tuple(each.column for each in self.mapped if each.shortest_text)

    def said(self) -> Iterator[str]:
        """What is to be said of columns before anything runs, a line each."""
        if self.unmapped:
            yield f"Not read, as no setting is mapped to them: {', '.join(self.unmapped)}."
        for column in self.twice:
            of = [each.path for each in self.mapped if each.column == column]
            yield f"The column {column} is read as several settings: {', '.join(of)}."


def mapping_of(
    tables: Sequence[Table], entries: Sequence[Entry], extra: Iterable[str] = ()
) -> Mapping:
    """The mapping of tables with the same columns. Raises Refused where a column is missing, has
    floats that are not mapped as their text, or values that have no text.
    """
    first = tables[0]
    mapped = tuple(each.mapped for each in entries) or tuple(_by_name(first.columns))
    if not mapped:
        known = ", ".join(paths()[:3])
        raise Refused(
            f"No column is named as a setting is ({known}, …); say with --map which are.",
            first.name,
        )
    found = Mapping(mapped, (), (), tuple(dict.fromkeys(extra)))
    for table in tables:
        _check(table, found, entries)
    names = dict.fromkeys(column.name for table in tables for column in table.columns)
    read = {*found.names()} - {*found.extra}
    uses = Counter(each.column for each in mapped)
    return found._replace(
        unmapped=tuple(name for name in names if name not in read),
        twice=tuple(sorted(column for column, times in uses.items() if times > 1)),
    )


def _by_name(columns: Iterable[TableColumn]) -> Iterator[MappedColumn]:
    every = {*paths()}
    yield from (MappedColumn(each.name, each.name) for each in columns if each.name in every)


def _check(table: Table, found: Mapping, entries: Sequence[Entry]) -> None:
    columns = {column.name: column for column in table.columns}
    places = {each.mapped.column: each.place for each in entries}
    for name in found.names():
        if name not in columns:
            at = places.get(name, table.name)
            said = f" in {table.name}" if name in places else ""
            raise Refused(f"There is no column {name}{said}{near(name, columns)}.", at)
        column = columns[name]
        if column.is_float and name not in found.floats() and name not in found.extra:
            raise Refused(floats_refused(name), table.name)
        if not column.is_float and not column.is_text:
            raise Refused(
                f"The column {name} is of type {column.kind}, which is no text.", table.name
            )
    if not entries:
        by_name = {each.column for each in _by_name(table.columns)}
        more = sorted(by_name - {each.column for each in found.mapped})
        if more:
            raise Refused(f"It has the column {more[0]}, which another file has not.", table.name)
