"""Writes the rows that break a rule, as they stand in the table, with the rules that each breaks.

Told of each part by the run of an audit. Never how a row is judged, and never a format.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit.column_logic import Mask, as_series
from orderlint.report.audit.row_files import RowFile, with_columns

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pyarrow as pa

    from orderlint.audit.auditor import AuditedPart

BROKEN, REPORTED = "rules_broken", "rules_reported"
"""The columns that are added, of the ids of rules: all that a row breaks, and those of which there
is a finding, as other findings do not cover it nor the policy silences it."""
_BETWEEN = "; "


class BrokenRows(RowFile):
    """A file of the rows that break a rule under the first policy, told of each part by a run."""

    def __call__(self, audited: AuditedPart) -> None:
        """Write those of a part, with all columns that it has."""
        judged = audited.judged[0]
        broken = _rules_where({rule: m.broken for rule, m in judged.rules.items()}, judged.size)
        reported = _rules_where({rule: m.reported for rule, m in judged.rules.items()}, judged.size)
        at = broken.is_not_null().arg_true()
        rows = _frame(audited.part.rows).select(pl.all().gather(audited.rows.places.gather(at)))
        beside = {BROKEN: broken.gather(at), REPORTED: reported.gather(at).fill_null("")}
        self.write(with_columns(rows, beside))


def _rules_where(masks: Mapping[str, Mask], size: int) -> pl.Series:
    """For each row the ids of the rules with a true mask, as one text; null where there is none."""
    pairs = [
        pl.DataFrame({"row": as_series(mask, size).arg_true()}).with_columns(rules=pl.lit(rule))
        for rule, mask in masks.items()
        if mask is not False
    ]
    none = pl.DataFrame(schema={"row": pl.UInt32, "rules": pl.String})
    grouped = pl.concat([none, *pairs]).group_by("row", maintain_order=True)
    found = grouped.agg(pl.col("rules").str.join(_BETWEEN))
    nothing = pl.Series("rules", [None], pl.String).new_from_index(0, size)
    return nothing.scatter(found["row"], found["rules"]) if size else nothing


def _frame(rows: pa.Table) -> pl.DataFrame:
    found = pl.from_arrow(rows)
    assert isinstance(found, pl.DataFrame)  # INVARIANT: a table is a frame
    return found
