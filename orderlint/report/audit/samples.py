"""The sample of rows for a reviewer: on a page, and as a sheet with blank columns.

Which rows, the audit has drawn. Never a judgement of one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import blocks as b
from orderlint.report.audit import words
from orderlint.report.words import LEVELS, counted
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import AuditResult, SampledRow
    from orderlint.report.audit.words import WrittenRows
    from orderlint.rulebook.rule import Rule

BLANKS = (
    "reviewer",
    "date",
    "was this worth asking (yes / no / cannot tell)",
    "what was done then, as far as it is known",
    "remarks",
)
"""The columns that a reviewer fills in."""
_HEAD = ("rule", "level", "what it says", "file", "row", "times in the table")
_WITH_ROWS = (
    "This part holds orders of the table as they are written. Keep it as the table itself is to be "
    "kept. Rules reported in too few orders to be counted have no sample here."
)


def sample_sections(result: AuditResult) -> Iterator[b.Block]:
    """The rows drawn of each rule, but of those with a hidden count."""
    shown = {
        rule: drawn
        for rule, drawn in result.samples.items()
        if drawn and not result.hides(result.rules[rule].reported)
    }
    if shown:
        folded = (_of_rule(rule, drawn) for rule, drawn in shown.items())
        yield b.ReportSection("Sample", (b.Paragraphs((_WITH_ROWS,), "small"), *folded))


def _of_rule(rule: str, drawn: tuple[SampledRow, ...]) -> b.Folded:
    lines = tuple(map(_row_words, drawn))
    return b.Folded(f"{rule}: {counted(len(drawn), 'order')}", (b.Items(lines),))


def _row_words(row: SampledRow) -> str:
    """Where a row stands, how often its order is in the table, and what is written there."""
    times = f", one of {row.times:,} alike" if row.times > 1 else ""
    cells = (f"{words.setting_name(path)} {quote(text)}" for path, text in row.cells.items())
    return f"{row.file}, row {row.row:,}{times}: {'; '.join(cells)}"


def write_sheet(result: AuditResult, rules: Mapping[str, Rule], file: str) -> WrittenRows:
    """Write the sheet for a reviewer, as .xlsx or .csv. Raises as RowFile does."""
    import polars as pl  # noqa: PLC0415 - a page does without

    from orderlint.report.audit.row_files import RowFile  # noqa: PLC0415 - as above

    head, found = review_sheet(result, rules)
    with RowFile(file) as sheet:
        sheet.write(pl.DataFrame(found, dict.fromkeys(head, pl.String), orient="row"))
    return sheet.written


def review_sheet(
    result: AuditResult, rules: Mapping[str, Rule]
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The head and the rows of the sheet: each sampled order under its rule, then blank columns.

    The settings are in the order of the columns of the table; one not written is ''.
    """
    paths = tuple(column.path for column in result.mapping)
    head = (*_HEAD, *paths, *BLANKS)
    found = [
        (
            *(rule, LEVELS[result.rules[rule].level], words.first_sentence(rules.get(rule))),
            *(row.file, f"{row.row}", f"{row.times}"),
            *(row.cells.get(path, "") for path in paths),
            *("" for _ in BLANKS),
        )
        for rule, drawn in result.samples.items()
        for row in drawn
    ]
    return head, found
