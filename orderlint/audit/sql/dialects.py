"""The query in the wording of one database, and the lines that stand before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from orderlint.audit.sql.query import standard_query

if TYPE_CHECKING:
    from orderlint.audit.sql.spec import Query

Dialect = Literal["duckdb", "postgres", "spark"]
DIALECTS: tuple[Dialect, ...] = ("duckdb", "postgres", "spark")


def query_for(query: Query, dialect: Dialect) -> str:
    """The query as a database reads it: one statement."""
    import sqlglot  # noqa: PLC0415 - takes long to import
    from sqlglot import exp  # noqa: PLC0415 - takes long to import

    tree = sqlglot.parse_one(standard_query(query))
    if dialect == "postgres":
        # PostgreSQL would plan all joins as one, which takes minutes; an offset keeps a part apart.
        for part in tree.args["with_"].expressions:
            if part.alias in {"cells", "outcomes"} or part.alias.startswith("leaves"):
                part.this.set("offset", exp.Offset(expression=exp.Literal.number(0)))
    return tree.sql(dialect=dialect)
