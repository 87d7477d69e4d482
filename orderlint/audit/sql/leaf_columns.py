"""The second part of a query: each text is looked up among the read texts, and becomes a leaf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.audit.sql.cells import cell_text, table_name, unit_text_of
from orderlint.audit.sql.outcomes import Tests
from orderlint.audit.sql.read_texts import OFFSETS, flag_column, list_column
from orderlint.fields import field_table
from orderlint.language import to_sql
from orderlint.order import CLOCK_PUT_BACK

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.audit.sql.spec import Query

    Column = tuple[str, str]

_HOUR = 3_600
_NOTHING = Tests(frozenset(), frozenset())


def fault_of(path: str) -> str:
    """Column, VARCHAR: the rule that a text breaks in being read; NULL where it breaks none."""
    return to_sql.identifier(f"{path} fault")


AT_ONCE = 12
"""Tables joined in one expression: PostgreSQL plans 72 joins in a minute, and 12 in no time."""


def leaves(query: Query) -> Iterator[str]:
    """The table expressions that end in `leaves`, a row for each one of `cells`.

    `lacking` is 1 where a text is not among the read texts, `refused` where one is no text that an
    order can have; else 0.
    """
    found = list(enumerate(query.leaves, 1))
    parts = [found[at : at + AT_ONCE] for at in range(0, len(found), AT_ONCE)]
    before = "cells"
    for number, part in enumerate(parts, 1):
        yield _part(query, part, number, before)
        before = f"leaves_{number}"
    sums = (
        f"CASE WHEN {' + '.join(f'{name}_{n}' for n, _ in enumerate(parts, 1))} > 0 "
        f"THEN 1 ELSE 0 END AS {name}"
        for name in ("lacking", "refused")
    )
    yield f"leaves AS (SELECT *, {', '.join(sums)} FROM {before})"


def _part(query: Query, part: Sequence[tuple[int, str]], number: int, before: str) -> str:
    """The expression that adds some leaves to the one before."""
    joins: list[str] = []
    columns: list[str] = []
    lacking: list[str] = []
    refused: list[str] = []
    for n, path in part:
        joins += _joins(query, path, f"t{n}")
        columns += [f"{own} AS {name}" for own, name in _columns(query, path, f"t{n}")]
        lacking += _lacking(query, path, f"t{n}")
        refused += _refused(query, path, f"t{n}")
    columns += [
        f"CASE WHEN {' OR '.join(each)} THEN 1 ELSE 0 END AS {name}_{number}"
        for name, each in (("lacking", lacking), ("refused", refused))
    ]
    selected, joined = ",\n  ".join(["c.*", *columns]), "\n".join(joins)
    return f"leaves_{number} AS (\nSELECT\n  {selected}\nFROM {before} AS c\n{joined}\n)"


def _joins(query: Query, path: str, alias: str) -> Iterator[str]:
    texts = f"LEFT JOIN {table_name(query.texts)} AS"
    yield f"{texts} {alias} ON {' AND '.join(_matches(query, path, alias))}"
    for at in _offsets_with(query, path):
        on = _same(query, f"o_{at}", OFFSETS[at], to_sql.sql_text(at), f"c.{cell_text(at)}")
        yield f"{texts} o_{at} ON {' AND '.join(on)} AND o_{at}.unit_text = c.{cell_text('zone')}"


def _offsets_with(query: Query, path: str) -> tuple[str, ...]:
    """The times whose offsets are looked up beside a leaf."""
    return tuple(OFFSETS) if path == "review_by" and query.asks_for_clock_change else ()


def _matches(query: Query, path: str, alias: str) -> list[str]:
    own = f"c.{cell_text(path)}"
    around = [f"c.{cell_text(at)}" for at in query.around(path)]
    text, at, unit = own, to_sql.sql_text(path), "''"
    if query.has_unit(path):
        unit = f"COALESCE(c.{unit_text_of(path)}, '')"
    if around:
        text = f"COALESCE({', '.join([own, *around])})"
        named = zip([own, *around], [path, *query.around(path)], strict=True)
        cases = (f"WHEN {cell} IS NOT NULL THEN {to_sql.sql_text(name)}" for cell, name in named)
        at = f"CASE {' '.join(cases)} END"
        unit = f"CASE WHEN {own} IS NULL THEN '' ELSE {unit} END" if unit != "''" else unit
    return [*_same(query, alias, path, at, text), f"COALESCE({alias}.unit_text, '') = {unit}"]


def _same(query: Query, alias: str, path: str, at: str, text: str) -> list[str]:
    return [
        f"{alias}.made_for = {to_sql.sql_text(query.asked.table.made_for)}",
        f"{alias}.path = {to_sql.sql_text(path)}",
        f"{alias}.written_at = {at}",
        f"{alias}.text = {text}",
    ]


def _lacking(query: Query, path: str, alias: str) -> Iterator[str]:
    """Where a text stands that the table of read texts does not have."""
    texts = ", ".join(f"c.{cell_text(at)}" for at in (path, *query.around(path)))
    text = f"COALESCE({texts})" if query.around(path) else texts
    yield f"({text} IS NOT NULL AND {alias}.path IS NULL)"
    for at in _offsets_with(query, path):
        both = f"c.{cell_text(at)} IS NOT NULL AND c.{cell_text('zone')} IS NOT NULL"
        yield f"({both} AND o_{at}.path IS NULL)"


def _refused(query: Query, path: str, alias: str) -> Iterator[str]:
    """Where a text is none that an order can have, or stands beside one for the whole section."""
    yield f"COALESCE({alias}.refused, FALSE)"
    for at in query.around(path):
        yield f"(c.{cell_text(path)} IS NOT NULL AND c.{cell_text(at)} IS NOT NULL)"


def _columns(query: Query, path: str, alias: str) -> Iterator[Column]:
    tests = query.asked.table.tests.get(path, _NOTHING)
    read = list(_read(query, path, alias, tests))
    standing = query.asked.standing.get(path)
    if standing is not None:
        found = zip(read, to_sql.row(standing, *tests), strict=True)
        read = [(_unless(alias, own, line), name) for (own, name), line in found]
    yield from read
    yield f"{alias}.fault", fault_of(path)


def _read(query: Query, path: str, alias: str, tests: Tests) -> Iterator[Column]:
    """The columns of a leaf as it is read, in the order of `row`."""
    field = field_table().fields.get(path)
    is_choice = field is not None and field.kind == "choice"
    is_text = field is not None and field.kind in {"text", "label", "zone"}
    yield f"COALESCE({alias}.given, FALSE)", to_sql.given_of(path)
    # What a text says is asked of its flags and names alone.
    value = "CAST(NULL AS VARCHAR)" if is_text else f"{alias}.choice" if is_choice else ""
    yield value or f"{alias}.number", to_sql.value_of(path)
    yield f"{alias}.unit", to_sql.unit_of(path)
    for flag in sorted(tests.flags):
        own = f"{alias}.{flag_column(flag)}"
        changes = flag == CLOCK_PUT_BACK and query.asks_for_clock_change
        yield _put_back(alias) if changes else own, to_sql.flag_of(path, flag)
    for listed in sorted(tests.lists):
        yield f"{alias}.{list_column(listed)}", to_sql.named_of(path, listed)


def _put_back(alias: str) -> str:
    """That the clock of the zone is put back an hour from start to review, as with_clock_change."""
    ahead = f"COALESCE(o_starts.number - o_review_by.number = {_HOUR}, FALSE)"
    return f"CASE WHEN {alias}.given THEN {ahead} END"


def _unless(alias: str, own: str, line: bool | int | str | None) -> str:
    """What is read, or the line of the standing orders where the order says nothing."""
    return f"CASE WHEN COALESCE({alias}.given, FALSE) THEN {own} ELSE {_literal(line)} END"


def _literal(value: bool | int | str | None) -> str:
    if value is None:
        return "NULL"
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    return str(value) if isinstance(value, int) else to_sql.sql_text(value)
