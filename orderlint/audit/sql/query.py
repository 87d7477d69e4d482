"""Writes the query in standard SQL: planted rows and orders, their leaves, the rules, the counts.

Each part is a table expression that reads the one before. Never the wording of one database. What
is shown, and whether, is for `self_check`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.audit.sql.cells import NO_TEXT, by_of, cells
from orderlint.audit.sql.leaf_columns import fault_of, leaves
from orderlint.audit.sql.outcomes import COUNTS, Outcome
from orderlint.audit.sql.self_check import checked, judged, shown
from orderlint.language.to_sql import quoted, sql

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.sql.outcomes import RuleTrees
    from orderlint.audit.sql.spec import Query

_REFUSED = 9
"""Stands for what a rule comes to on a row that is no order."""


def standard_query(query: Query) -> str:
    """The whole query, one statement."""
    parts = [
        *cells(query),
        *leaves(query),
        _outcomes(query),
        _counts(query),
        _rules(query),
        _by_rule(query),
        checked(query),
        judged(query),
    ]
    return "WITH " + ",\n".join(parts) + "\n" + shown(query)


def _outcomes(query: Query) -> str:
    """What each rule comes to in each row: a column a rule, by the numbers of Outcome."""
    columns = [f"{outcome_sql(each)} AS r{n}" for n, each in enumerate(query.asked.rules, 1)]
    first = len(columns) + 1
    columns += [f"{_fault_sql(query, r)} AS r{n}" for n, r in enumerate(query.asked.faults, first)]
    by = [by_of(n) for n, _ in enumerate(query.by, 1)]
    selected = ",\n  ".join(["planted_rule, expected", *by, "lacking, refused", *columns])
    return f"outcomes AS (\nSELECT\n  {selected}\nFROM leaves\n)"


def outcome_sql(trees: RuleTrees) -> str:
    """A rule over all its settings as a number of Outcome."""
    if trees.kept is None:
        return _unless_refused(str(Outcome.NOT_ASKED.value))
    kept = str(Outcome.KEPT.value)
    if trees.asked is not None:
        not_asked = Outcome.NOT_ASKED.value
        kept = f"CASE {sql(trees.asked)} WHEN FALSE THEN {not_asked} ELSE {kept} END"
    whens = f"WHEN FALSE THEN {Outcome.BROKEN.value} WHEN TRUE THEN {kept}"
    return _unless_refused(f"CASE {sql(trees.kept)} {whens} ELSE {Outcome.UNCHECKED.value} END")


def _fault_sql(query: Query, rule: str) -> str:
    faults = ", ".join(fault_of(path) for path in query.leaves)
    broken, kept = Outcome.BROKEN.value, Outcome.KEPT.value
    return _unless_refused(f"CASE WHEN {quoted(rule)} IN ({faults}) THEN {broken} ELSE {kept} END")


def _unless_refused(outcome: str) -> str:
    return f"CASE refused WHEN 1 THEN {_REFUSED} ELSE {outcome} END"


def _counts(query: Query) -> str:
    """The counts of each group of rows: a row a group, four columns a rule.

    `by_column` is 0 over all rows, else the number of the column by which they are grouped.
    """
    by = [by_of(n) for n, _ in enumerate(query.by, 1)]
    which = [f"WHEN GROUPING({name}) = 0 THEN {n}" for n, name in enumerate(by, 1)]
    column = f"CASE {' '.join(which)} ELSE 0 END" if by else "0"
    # In a group by one column, the others are NULL.
    value = f"COALESCE({', '.join([*by, NO_TEXT])})"
    sets = ["(planted_rule, expected)", *(f"(planted_rule, expected, {name})" for name in by)]
    columns = [
        f"planted_rule, expected, {column} AS by_column, {value} AS by_value",
        "COUNT(*) AS all_rows, SUM(refused) AS refused, SUM(lacking) AS lacking",
        *_count_columns(query),
    ]
    selected = ",\n  ".join(columns)
    groups = f"GROUPING SETS ({', '.join(sets)})" if by else "planted_rule, expected"
    return f"counts AS (\nSELECT\n  {selected}\nFROM outcomes\nGROUP BY {groups}\n)"


def _count_columns(query: Query) -> Iterator[str]:
    for n in range(1, query.asked.counted + 1):
        yield ", ".join(
            f"COUNT(CASE r{n} WHEN {outcome.value} THEN 1 END) AS r{n}_{name}"
            for outcome, name in COUNTS.items()
        )


def _rules(query: Query) -> str:
    """The rules by number; those that no query can ask have none of the counted numbers."""
    asked = query.asked
    names = [*(each.rule for each in asked.rules), *asked.faults, *asked.uncounted]
    rows = ",\n".join(f"({n}, {quoted(name)})" for n, name in enumerate(names, 1))
    return f"rules AS (SELECT * FROM (VALUES\n{rows}\n) AS v (n, rule))"


def _by_rule(query: Query) -> str:
    """The counts of each group for each rule; of planted rows for the one they are planted for."""
    numbers = range(1, query.asked.counted + 1)
    cases = {
        name: " ".join(f"WHEN {n} THEN c.r{n}_{name}" for n in numbers) for name in COUNTS.values()
    }
    picked = ",\n  ".join(f"CASE r.n {whens} END AS {name}" for name, whens in cases.items())
    own = "c.planted_rule, c.expected, c.by_column, c.by_value, c.all_rows, c.refused, c.lacking"
    where = "c.planted_rule IS NULL OR (c.planted_rule = r.n AND c.by_column = 0)"
    return (
        f"by_rule AS (\nSELECT\n  {own}, r.n, r.rule,\n  {picked}\n"
        f"FROM counts AS c CROSS JOIN rules AS r\nWHERE {where}\n)"
    )
