"""Writes the query of an audit for a database, and the table of read texts that it joins.

Files and the status. Never what stands in a query.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.audit.sql.query import query_for
from orderlint.audit.sql.read_texts import check_name, keys_of, write_texts
from orderlint.audit.sql.spec import Query, asked_of
from orderlint.cli.audit_inputs import AuditArguments, audit_of
from orderlint.cli.exit_status import BELOW
from orderlint.cli.inputs import rulebook_with_examples
from orderlint.cli.options import checked_output
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors
from orderlint.finding import Refused
from orderlint.own_files import CannotWrite, why

if TYPE_CHECKING:
    from orderlint.audit.auditor import Audit
    from orderlint.cli.results import Wanted


def _check_asked(asked: AuditArguments, form: str) -> None:
    """Raise UsageError where something is asked for that no query does."""
    others = {
        "--against": asked.against,
        "--month": asked.month,
        "--sample": asked.sample,
        "--rows": asked.rows,
        "--sheet": asked.sheet,
        "--parts": asked.parts,
        "--format": form if form != "text" else None,
    }
    for name, value in others.items():
        if value:
            raise click.UsageError(f"{name} goes with neither --sql nor --texts.")


def write_for_database(asked: AuditArguments, wanted: Wanted) -> int:
    """Write what is asked for. Raises Refused, UsageError and CannotWrite."""
    _check_asked(asked, wanted.form)
    orders = "orders" if asked.orders is None else asked.orders
    if not all(orders.split(".")):
        raise click.UsageError("--from names no table.")
    texts = checked_output(asked.texts, (*asked.inputs(), wanted.output), "--texts")
    if asked.texts is not None and texts is None:
        raise click.UsageError("--texts is a file.")
    if texts is not None:
        check_name(texts)
    audit = audit_of(asked)
    _check_floats(audit)
    rulebook = rulebook_with_examples(asked.policy)
    query = Query(
        asked_of(rulebook),
        audit.columns.mapped,
        orders=orders,
        as_of=audit.options.as_of,
        by=audit.options.by,
        min_cell=audit.min_cell,
    )
    if texts is not None:
        _write_texts(audit, query, texts)
    if asked.sql is not None:
        text = query_for(query, asked.sql, rulebook.policy)
        write(text, wanted.output, wanted.encoding)
    return BELOW


def _check_floats(audit: Audit) -> None:
    for each in audit.columns.mapped:
        if each.shortest_text:
            said = f"The column {each.column} is mapped with shortest_text: yes; each database "
            raise Refused(f"{said}writes floats in its own way. Map a column of texts.", "--map")


def _write_texts(audit: Audit, query: Query, file: str) -> None:
    keys = keys_of(query, audit.tables, audit.columns.names())
    try:
        count = write_texts(file, query.asked.table, keys)
    except OSError as error:
        said = f"The read texts could not be written to {file}: {why(error)}."
        raise CannotWrite(said) from None
    print_errors(f"{count:,} read texts written to {file}.")
