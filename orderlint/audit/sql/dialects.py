"""The query in the wording of one database, and the lines of comment that stand before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from orderlint import __version__
from orderlint.audit.sql.cells import planted_count
from orderlint.audit.sql.query import standard_query

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.sql.spec import Query

Dialect = Literal["duckdb", "postgres", "spark"]
DIALECTS: tuple[Dialect, ...] = get_args(Dialect)


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
