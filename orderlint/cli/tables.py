"""Runs `verify` on each order of tables: its results, and the rows that are no orders.

Never what is made of an order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint import verification
from orderlint.api.results import Result
from orderlint.api.sources import Content
from orderlint.cli.batch import Batch
from orderlint.cli.exit_status import fault_words
from orderlint.cli.inputs import load_rulebook, read_content, read_input, read_site_policy
from orderlint.cli.inputs import shown_name as name_of
from orderlint.cli.outputs import print_errors
from orderlint.finding import Refused, Verdict
from orderlint.report.unchecked_files import Unread, refused_file
from orderlint.report.words import LABELS, counted
from orderlint.tables.order_table import (
    LARGEST_TABLE,
    document_of_row,
    order_of,
    read_order_table,
)
from orderlint.tables.table_map import read_table_map

if TYPE_CHECKING:
    from collections.abc import Sequence

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
        site = read_site_policy(policy)
        entries = read_table_map(read_content(table_map).read("table-map"))
    except Refused as reason:
        return _told(Batch(unread=(refused_file(name_of(table_map), reason),)))
    book = load_rulebook("order", site)
    results: list[Result[Verified]] = []
    unread: list[Unread] = []
    for file in files:
        name = name_of(file)
        try:
            table = read_order_table(read_input(file, LARGEST_TABLE), name, entries)
        except Refused as reason:
            unread.append(refused_file(name, reason))
            continue
        print_errors(*table.said)
        for row in table.rows:
            made = _checked(row, name, at, book)
            (unread if isinstance(made, Unread) else results).append(made)  # type: ignore[arg-type]
    return _told(Batch(tuple(results), tuple(unread), book.rules, site, (None,) * len(unread)))


def _checked(row: Row, file: str, at: int, book: Rulebook) -> Result[Verified] | Unread:
    """What `verify` finds in one order, or why it was not checked."""
    try:
        found = verification.verify_order(order_of(row, file), at, book)
    except Refused as reason:
        return refused_file(row.name, reason)
    except Exception as error:
        return Unread(row.name, fault_words(error, row.name), is_fault=True)
    content = Content(row.name, document_of_row(row))
    return Result("verify", found.assessment.verdict, found.assessment, found, (content,), at)


def _told(batch: Batch[Verified]) -> Batch[Verified]:
    if batch.unread:
        print_errors(*map(str, batch.unread))
    return batch


def summary(batch: Batch[Verified]) -> str:
    """How many orders there are, and how many have which verdict."""
    verdicts = [result.verdict for result in batch.results]
    counts = [f"{verdicts.count(v)} {LABELS[v]}" for v in Verdict if v in verdicts]
    refused = [f"{counted(len(batch.unread), 'row')} not checked"] if batch.unread else []
    return f"{counted(len(verdicts), 'order')}: {', '.join([*counts, *refused])}."
