"""The last part of a query: whether the planted rows came to what they must, and what is shown.

Counts are shown if each of them did, else one row that says why there are none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.audit.sql.cells import planted_count, table_name
from orderlint.audit.sql.outcomes import COUNTS
from orderlint.language.to_sql import sql_text

if TYPE_CHECKING:
    from orderlint.audit.sql.spec import Query

REFUSED = "REFUSED, nothing is counted: "
NOT_COUNTED = "not counted: code finds it, in several settings or in the policy"
_UNREAD = "some texts are not in the table of read texts; make it anew from these orders"
_TWICE = "some texts stand twice in the table of read texts"


def checked(query: Query) -> str:
    """The table expression `checked`: the counts by rule, each beside the sums of the check.

    `found` are the planted rows that came to what they must, of `planted`; `missed` is a rule of
    one that did not. `unread` are the rows with a text that is not in the table of read texts, and
    `twice` the texts that stand there twice.
    """
    whens = " ".join(f"WHEN {outcome.value} THEN {name}" for outcome, name in COUNTS.items())
    found = f"CASE WHEN planted_rule IS NULL THEN 0 ELSE CASE expected {whens} END END"
    planted = "CASE WHEN planted_rule IS NULL THEN 0 ELSE all_rows END"
    # Each group stands once for each rule; of the planted ones, for their own.
    unread = "CASE WHEN by_column = 0 AND (n = 1 OR n = planted_rule) THEN lacking ELSE 0 END"
    sums = [
        f"SUM({found}) OVER () AS found",
        f"SUM({planted}) OVER () AS planted",
        f"MIN(CASE WHEN {planted} <> {found} THEN rule END) OVER () AS missed",
        f"SUM({unread}) OVER () AS unread",
        f"{_twice(query)} AS twice",
        "ROW_NUMBER() OVER (ORDER BY by_column, by_value, n, planted_rule, expected) AS place",
    ]
    return f"checked AS (\nSELECT *,\n  {_listed(sums)}\nFROM by_rule\n)"


def _twice(query: Query) -> str:
    keys = "path, written_at, text, COALESCE(unit_text, '')"
    mine = f"made_for = {sql_text(query.asked.table.made_for)}"
    found = (
        f"SELECT 1 AS one FROM {table_name(query.texts)} WHERE {mine} "
        f"GROUP BY {keys} HAVING COUNT(*) > 1"
    )
    return f"(SELECT COUNT(*) FROM ({found}) AS d)"


def judged(query: Query) -> str:
    """The table expression `judged`: `passed` is 1 if the counts may be shown, else 0."""
    many = planted_count(query)
    found = f"found = {many} AND planted = {many}"
    # INVARIANT: a sum that is NULL is no pass.
    passed = f"CASE WHEN {found} AND unread = 0 AND twice = 0 THEN 1 ELSE 0 END AS passed"
    missed = f"of {many} planted orders not all came to what they must; the first rule is "
    reason = (
        f"CASE WHEN {found} AND unread > 0 THEN {sql_text(REFUSED + _UNREAD)} "
        f"WHEN {found} AND twice > 0 THEN {sql_text(REFUSED + _TWICE)} "
        f"ELSE CONCAT({sql_text(REFUSED + missed)}, COALESCE(missed, 'none: they are not there')) "
        "END AS reason"
    )
    return f"judged AS (\nSELECT *,\n  {_listed([passed, reason])}\nFROM checked\n)"


def counts_or_refusal(query: Query) -> str:
    """The end of the query: the counts if the check is passed, else the row of the refusal."""
    columns = {
        "by_column": _column_name(query),
        "by_value": "by_value",
        "all_rows": "all_rows",
        "refused": "refused",
        **{name: _unless_small(query, name) for name in COUNTS.values()},
        "note": f"CASE WHEN n > {query.asked.counted} THEN {sql_text(NOT_COUNTED)} END",
    }
    listed = [f"CASE passed WHEN 1 THEN {each} END AS {name}" for name, each in columns.items()]
    rule = "CASE passed WHEN 1 THEN rule ELSE reason END AS rule"
    where = "CASE passed WHEN 1 THEN planted_rule IS NULL ELSE place = 1 END"
    return f"SELECT\n  {_listed([rule, *listed])}\nFROM judged\nWHERE {where}\nORDER BY place"


def _column_name(query: Query) -> str:
    names = (f"WHEN {n} THEN {sql_text(name)}" for n, name in enumerate(query.by, 1))
    return f"CASE by_column {' '.join(names)} END" if query.by else "CAST(NULL AS VARCHAR)"


def _unless_small(query: Query, name: str) -> str:
    """A count; in a group NULL where it or another of its rule is too small to be shown.

    A small one that is hidden alone would be what the others leave of the rows.
    """
    if not query.by:
        return name
    small = (f"({each} > 0 AND {each} < {query.min_cell})" for each in COUNTS.values())
    is_small = f"by_column > 0 AND ({' OR '.join(small)})"
    return f"CASE WHEN {is_small} THEN NULL ELSE {name} END"


def _listed(columns: list[str]) -> str:
    return ",\n  ".join(columns)
