"""Writes the query: planted rows and orders, their leaves, the rules, the counts.

Each part is a table expression that reads the one before, in standard SQL; the wording of one
database comes last. What is shown, and whether, is for `self_check`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from orderlint import __version__
from orderlint.audit.sql.cells import NO_TEXT, by_of, cells, planted_count
from orderlint.audit.sql.leaf_columns import fault_of, leaves
from orderlint.audit.sql.outcomes import COUNTS, RowOutcome, RuleTrees
from orderlint.audit.sql.self_check import checked, counts_or_refusal, judged
from orderlint.language.to_sql import sql, sql_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.sql.spec import Query

Dialect = Literal["duckdb", "postgres", "spark"]
DIALECTS: tuple[Dialect, ...] = get_args(Dialect)
_REFUSED = 9
"""Stands for what a rule comes to on a row that is no order."""


def query_for(query: Query, dialect: Dialect, policy: str) -> str:
    """The query as a database reads it: comments, and one statement.

    `policy` is the title of the policy in force.
    """
    head = "\n".join(f"-- {' '.join(line.split())}" for line in _head(query, dialect, policy))
    return f"{head}\n{in_dialect(standard_query(query), dialect)};\n"


def in_dialect(standard: str, dialect: Dialect) -> str:
    """Standard SQL as a database reads it."""
    import sqlglot  # noqa: PLC0415 - takes long to import
    from sqlglot import exp  # noqa: PLC0415 - takes long to import

    tree = sqlglot.parse_one(standard)
    if dialect == "postgres":
        # PostgreSQL would plan all joins as one, which takes minutes; an offset keeps a part apart.
        for part in tree.args["with_"].expressions:
            if part.alias in {"cells", "outcomes"} or part.alias.startswith("leaves"):
                part.this.set("offset", exp.Offset(expression=exp.Literal.number(0)))
    return str(tree.sql(dialect=dialect))


def _head(query: Query, dialect: Dialect, policy: str) -> Iterator[str]:
    asked = query.asked
    yield f"orderlint {__version__}, for {dialect}: what the rules come to in the rows of"
    yield f"{query.orders}, joined with the read texts in {query.texts} (orderlint audit --texts)."
    yield f"Policy: {policy}. Read texts made for: {asked.table.made_for}."
    yield f"Each row is judged as of {f'column {query.as_of}' if query.as_of else 'written'}."
    yield f"First {planted_count(query)} planted orders are tried. If one of them does not come"
    yield "to what it must, the result is one row that says REFUSED, and nothing is counted."
    names = ", ".join(asked.uncounted)
    yield f"Not counted, since code finds them, in several settings or in the policy: {names}."
    if asked.planted.unbroken:
        yield f"Broken by no planted order: {', '.join(asked.planted.unbroken)}."


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
    return "WITH " + ",\n".join(parts) + "\n" + counts_or_refusal(query)


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
        return _unless_refused(str(RowOutcome.NOT_ASKED.value))
    kept = str(RowOutcome.KEPT.value)
    if trees.asked is not None:
        not_asked = RowOutcome.NOT_ASKED.value
        kept = f"CASE {sql(trees.asked)} WHEN FALSE THEN {not_asked} ELSE {kept} END"
    whens = f"WHEN FALSE THEN {RowOutcome.BROKEN.value} WHEN TRUE THEN {kept}"
    return _unless_refused(f"CASE {sql(trees.kept)} {whens} ELSE {RowOutcome.UNCHECKED.value} END")


def _fault_sql(query: Query, rule: str) -> str:
    faults = ", ".join(fault_of(path) for path in query.leaves)
    broken, kept = RowOutcome.BROKEN.value, RowOutcome.KEPT.value
    return _unless_refused(
        f"CASE WHEN {sql_text(rule)} IN ({faults}) THEN {broken} ELSE {kept} END"
    )


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
    rows = ",\n".join(f"({n}, {sql_text(name)})" for n, name in enumerate(names, 1))
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
