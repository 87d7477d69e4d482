"""Writes the rows that break a rule, as they stand in the table, with the rules that each breaks.

Told of each part by the run of an audit. Never how a row is judged, and never a format.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit.masks import as_series
from orderlint.report.audit.row_files import with_rules

if TYPE_CHECKING:
    import pyarrow as pa

    from orderlint.audit.auditor import AuditedPart, Auditor
    from orderlint.audit.judge import Judged
    from orderlint.report.audit.row_files import RowFile

_BETWEEN = "; "


class BrokenRows:
    """Writes the rows of each part that break a rule under the first policy to a file.

    Broken is as a count of `broken` has it: before other findings cover it. The columns are those
    of `columns`, or all of a part.
    """

    def __init__(self, file: RowFile, columns: tuple[str, ...] = ()) -> None:
        self._file, self._columns = file, columns

    def __call__(self, audited: AuditedPart, auditor: Auditor) -> None:
        """Write those of a part."""
        del auditor  # rules have their ids in what was judged
        found = broken_in(audited.judged[0])
        rows = audited.part.rows
        columns = [*self._columns] or rows.column_names
        at = audited.rows.places.gather(found["row"])
        self._file.write(
            with_rules(_frame(rows.select(columns)).select(pl.all().gather(at)), found["rules"])
        )


def broken_in(judged: Judged) -> pl.DataFrame:
    """The numbers of rows that break a rule, from 0, with the ids of these rules as one text."""
    every = [
        pl.DataFrame({"row": as_series(masks.broken, judged.size).arg_true()}).with_columns(
            rules=pl.lit(rule)
        )
        for rule, masks in judged.rules.items()
        if masks.broken is not False
    ]
    none = pl.DataFrame(schema={"row": pl.UInt32, "rules": pl.String})
    grouped = pl.concat([none, *every]).group_by("row", maintain_order=True)
    return grouped.agg(pl.col("rules").str.join(_BETWEEN)).sort("row")


def _frame(rows: pa.Table) -> pl.DataFrame:
    found = pl.from_arrow(rows)
    assert isinstance(found, pl.DataFrame)  # INVARIANT: a table is a frame
    return found
