"""Makes blocks of the rows of which no order can be read: why, where, and who mends it.

Never how a count is hidden.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.audit import words
from orderlint.report.audit.small_cells import shown_line
from orderlint.report.blocks import (
    CountRow,
    CountTable,
    Folded,
    Items,
    ReportSection,
    Terms,
    paragraph,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import AuditResult, GroupCounts
    from orderlint.report.blocks import Block

_WHO = (
    "They are in no other count. What is to be changed is changed by whoever makes the export: in "
    "the record that the row comes from, or where the export is made, at the row and column named "
    "below. A character that is to be taken out may show on no screen: delete that text and type "
    "it anew. Then run the audit again."
)


def refused_section(result: AuditResult) -> ReportSection:
    """The rows of which no order can be read, and why."""
    heading = "Refused rows"
    refused = result.refused
    if not refused.count:
        return ReportSection(heading, (paragraph("None: each row is an order."),))
    by_reason = sorted(refused.by_reason.items(), key=lambda item: (-item[1], item[0]))
    rows = tuple(CountRow(reason, (f"{count:,}",)) for reason, count in by_reason)
    reasons = CountTable(("reason", "rows"), rows)
    where = tuple(_where(result))
    terms = [Terms(where)] if where else []
    return ReportSection(heading, (paragraph(_WHO), reasons, *terms, *_first(result)))


def _where(result: AuditResult) -> Iterator[tuple[str, str]]:
    """How many of them each column's values have, and each month."""
    for column, groups in result.groups.items():
        yield f"By {column}", _counted(groups, result.min_cell)
    if result.months:
        months = {(month or "not known"): result.months[month] for month in sorted(result.months)}
        yield "By month", _counted(months, result.min_cell, quoted=False)


def _counted(parts: Mapping[str, GroupCounts], min_cell: int, *, quoted: bool = True) -> str:
    shown = shown_line({name: part.refused for name, part in parts.items()}, min_cell)
    return ", ".join(
        f"{words.value_words(name) if quoted else name}: {count.text}"
        for name, count in shown.items()
        if count.value != 0
    )


def _first(result: AuditResult) -> Iterator[Block]:
    first = [
        f"{row.file}, row {row.row:,}{f', column {row.column}' if row.column else ''}: {row.reason}"
        for row in result.refused.first
    ]
    if first:
        yield Folded(f"The first {len(first)}", (Items(tuple(first)),))
