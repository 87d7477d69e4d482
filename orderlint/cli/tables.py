"""Runs `verify` on each order of tables: its results, and the rows that are no orders.

Never what is made of an order.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from orderlint import verification
from orderlint.api.results import Result
from orderlint.api.sources import Content
from orderlint.cli import inputs
from orderlint.cli.batch import Batch, Failed, attempt, joined, refused_batch
from orderlint.cli.outputs import print_errors
from orderlint.finding import Refused, Verdict
from orderlint.report.unchecked_files import refused_file
from orderlint.report.words import LABELS, counted
from orderlint.tables.order_table import (
    LARGEST_TABLE,
    document_of_row,
    order_of,
    read_order_table,
)
from orderlint.tables.table_map import MapEntry, read_table_map

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.rulebook.rule import Rulebook
    from orderlint.tables.order_table import Row
    from orderlint.verification import Verified


def run_tables(
    files: Sequence[str], table_map: str, policy: str | None, at: int
) -> Batch[Verified]:
    """Check each order in each table as of `at`, milliseconds since 1970 UTC.

    `table_map` is the file that says which column holds which setting. What fails is said on
    standard error at the end.
    """
    try:
        site = inputs.read_site_policy(policy)
        entries = read_table_map(inputs.read_content(table_map).read("table-map"))
    except Refused as reason:
        return refused_batch(table_map, reason)
    book = inputs.load_rulebook("order", site)
    return joined(
        (made for file in files for made in _of_table(file, entries, at, book)), book.rules, site
    )


def _of_table(
    file: str, entries: Sequence[MapEntry], at: int, book: Rulebook
) -> Iterator[Result[Verified] | Failed]:
    """What `verify` finds in each order of a table, or why it was not checked."""
    name = inputs.shown_name(file)
    try:
        table = read_order_table(inputs.read_input(file, LARGEST_TABLE), name, entries)
    except Refused as reason:
        yield Failed(refused_file(name, reason), None)
        return
    print_errors(*table.said)
    for row in table.rows:
        yield attempt(row.name, partial(_checked, row, name, at, book))


def _checked(row: Row, file: str, at: int, book: Rulebook) -> Result[Verified]:
    found = verification.verify_order(order_of(row, file), at, book)
    content = Content(row.name, document_of_row(row))
    return Result("verify", found.assessment.verdict, found.assessment, found, (content,), at)


def count_verdicts(batch: Batch[Verified]) -> str:
    """How many orders there are, and how many have which verdict."""
    verdicts = [result.verdict for result in batch.results]
    counts = [f"{verdicts.count(v)} {LABELS[v]}" for v in Verdict if v in verdicts]
    refused = [f"{counted(len(batch.unread), 'row')} not checked"] if batch.unread else []
    return f"{counted(len(verdicts), 'order')}: {', '.join([*counts, *refused])}."
