"""A query of an audit that asks few rules, one of each kind, so that it is planned in no time."""

from __future__ import annotations

from functools import cache

from rows_of_texts import pool

from orderlint.audit.sql.spec import Query, asked_of
from orderlint.rulebook.load import load
from orderlint.tables.table_map import MappedColumn

RULES = (
    *("treat-above-over-upper-pause", "additive-units-high", "level-not-settable"),
    *("number-without-comma", "review-too-late", "order-past-review", "missing-irrigation-rate"),
)
FAULTS = ("unit-missing", "offset-not-of-zone")


@cache
def book():
    whole = load("all")
    return whole._replace(rules={name: whole.rules[name] for name in (*RULES, *FAULTS)})


@cache
def query(by=(), columns=()):
    asked = asked_of(book())
    paths = sorted({*asked.table.tests, "zone"} & {*pool()})
    own = {each.path: each for each in columns}
    mapping = tuple(own.get(path, MappedColumn(path, path)) for path in paths)
    return Query(asked, mapping, by=by)
