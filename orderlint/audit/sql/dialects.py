"""The query in the wording of one database, and the lines that stand before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from orderlint.audit.sql.query import standard_query

if TYPE_CHECKING:
    from orderlint.audit.sql.spec import Query

Dialect = Literal["duckdb", "postgres", "spark"]
DIALECTS: tuple[Dialect, ...] = ("duckdb", "postgres", "spark")


def query_for(query: Query, dialect: Dialect) -> str:
    """The query as a database reads it: one statement, with comments before it."""
    import sqlglot  # noqa: PLC0415 - takes long to import

    (written,) = sqlglot.transpile(standard_query(query), write=dialect, pretty=False)
    return written
