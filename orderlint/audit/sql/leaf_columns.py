"""The second part of a query: each text is looked up among the read texts, and becomes a leaf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.audit.sql.cells import by_of, table_name, text_of, unit_text_of
from orderlint.audit.sql.outcomes import Tests
from orderlint.audit.sql.read_texts import OFFSETS, flag_column, list_column
from orderlint.fields import field_table
from orderlint.language.to_sql import (
    flag_of,
    given_of,
    identifier,
    named_of,
    quoted,
    row,
    unit_of,
    value_of,
)
from orderlint.order import CLOCK_PUT_BACK

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.sql.spec import Query

    Column = tuple[str, str]

_HOUR = 3_600
_NOTHING = Tests(frozenset(), frozenset())


def fault_of(path: str) -> str:
    """Column, VARCHAR: the rule that a text breaks in being read; NULL where it breaks none."""
    return identifier(f"{path} fault")


def leaves(query: Query) -> str:
    """The table expression `leaves`, a row for each one of `cells`.

    `lacking` is 1 where a text is not among the read texts, `refused` where one is no text that an
    order can have; else 0.
    """
    own = [
        "c.planted_rule",
        "c.expected",
        *(f"c.{by_of(n)}" for n, _ in enumerate(query.by, 1)),
        f"CASE WHEN {' OR '.join(_lacking(query))} THEN 1 ELSE 0 END AS lacking",
        f"CASE WHEN {' OR '.join(_refused(query))} THEN 1 ELSE 0 END AS refused",
    ]
    columns = [f"{expression} AS {name}" for expression, name in _columns(query)]
    selected = ",\n  ".join([*own, *columns])
    return f"leaves AS (\nSELECT\n  {selected}\nFROM cells AS c\n{_joins(query)}\n)"


def _aliases(query: Query) -> Iterator[tuple[str, str]]:
    """The leaves, each with the name under which its read text is joined."""
    return ((path, f"t{number}") for number, path in enumerate(query.leaves, 1))


def _joins(query: Query) -> str:
    texts = table_name(query.texts)
    found = [
        f"LEFT JOIN {texts} AS {alias} ON {' AND '.join(_matches(query, path, alias))}"
        for path, alias in _aliases(query)
    ]
    for path in OFFSETS if query.asks_for_clock_change else ():
        on = _same(query, f"o_{path}", OFFSETS[path], quoted(path), f"c.{text_of(path)}")
        on.append(f"o_{path}.unit_text = c.{text_of('zone')}")
        found.append(f"LEFT JOIN {texts} AS o_{path} ON {' AND '.join(on)}")
    return "\n".join(found)


def _matches(query: Query, path: str, alias: str) -> list[str]:
    own = f"c.{text_of(path)}"
    around = [f"c.{text_of(at)}" for at in query.around(path)]
    text, at, unit = own, quoted(path), "''"
    if query.has_unit(path):
        unit = f"COALESCE(c.{unit_text_of(path)}, '')"
    if around:
        text = f"COALESCE({', '.join([own, *around])})"
        named = zip([own, *around], [path, *query.around(path)], strict=True)
        cases = (f"WHEN {cell} IS NOT NULL THEN {quoted(name)}" for cell, name in named)
        at = f"CASE {' '.join(cases)} END"
        unit = f"CASE WHEN {own} IS NULL THEN '' ELSE {unit} END" if unit != "''" else unit
    return [*_same(query, alias, path, at, text), f"COALESCE({alias}.unit_text, '') = {unit}"]


def _same(query: Query, alias: str, path: str, at: str, text: str) -> list[str]:
    return [
        f"{alias}.made_for = {quoted(query.asked.table.made_for)}",
        f"{alias}.path = {quoted(path)}",
        f"{alias}.written_at = {at}",
        f"{alias}.text = {text}",
    ]


def _lacking(query: Query) -> Iterator[str]:
    """Where a text stands that the table of read texts does not have."""
    for path, alias in _aliases(query):
        texts = [f"c.{text_of(at)}" for at in (path, *query.around(path))]
        text = f"COALESCE({', '.join(texts)})" if len(texts) > 1 else texts[0]
        yield f"({text} IS NOT NULL AND {alias}.path IS NULL)"
    for path in OFFSETS if query.asks_for_clock_change else ():
        both = f"c.{text_of(path)} IS NOT NULL AND c.{text_of('zone')} IS NOT NULL"
        yield f"({both} AND o_{path}.path IS NULL)"


def _refused(query: Query) -> Iterator[str]:
    return (f"COALESCE({alias}.refused, FALSE)" for _, alias in _aliases(query))


def _columns(query: Query) -> Iterator[Column]:
    for path, alias in _aliases(query):
        tests = query.tests.get(path, _NOTHING)
        read = list(_read(query, path, alias, tests))
        standing = query.asked.standing.get(path)
        if standing is not None:
            lines = row(standing, *tests)
            found = zip(read, lines, strict=True)
            read = [(_unless(alias, each[0], line), each[1]) for each, line in found]
        yield from read
        yield f"{alias}.fault", fault_of(path)


def _read(query: Query, path: str, alias: str, tests: Tests) -> Iterator[Column]:
    """The columns of a leaf as it is read, in the order of `row`."""
    field = field_table().fields.get(path)
    is_choice = field is not None and field.kind == "choice"
    is_text = field is not None and field.kind in {"text", "label", "zone"}
    yield f"COALESCE({alias}.given, FALSE)", given_of(path)
    # What a text says is asked of its flags and names alone.
    value = "CAST(NULL AS VARCHAR)" if is_text else f"{alias}.choice" if is_choice else ""
    yield value or f"{alias}.number", value_of(path)
    yield f"{alias}.unit", unit_of(path)
    for flag in sorted(tests.flags):
        own = f"{alias}.{flag_column(flag)}"
        changes = flag == CLOCK_PUT_BACK and query.asks_for_clock_change
        yield _put_back(alias) if changes else own, flag_of(path, flag)
    for listed in sorted(tests.lists):
        yield f"{alias}.{list_column(listed)}", named_of(path, listed)


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
    return str(value) if isinstance(value, int) else quoted(value)
