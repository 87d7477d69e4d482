"""Writes the rows of a table with findings to a file, part by part.

Which rows, and the rules of each. Never how a file is written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit import masks
from orderlint.report.audit.row_files import RowFile, with_rules

if TYPE_CHECKING:
    from orderlint.audit.auditor import AuditedPart


class RowWriter(RowFile):
    """A file of the rows for which a rule is reported, to be given to a run as a watcher."""

    def __call__(self, audited: AuditedPart) -> None:
        """Add the rows of a part."""
        judged = audited.judged[0]
        reported = {
            rule: masks.as_series(found.reported, judged.size)
            for rule, found in judged.rules.items()
            if found.reported is not False
        }
        anywhere = masks.as_series(masks.any_of(reported.values()), judged.size)
        places = audited.rows.places.filter(anywhere)
        table = pl.DataFrame(pl.from_arrow(audited.part.rows))[places]
        found: list[list[str]] = [[] for _ in range(table.height)]
        for rule, where in reported.items():
            for number in where.filter(anywhere).arg_true():
                found[number].append(rule)
        self.write(with_rules(table, found))
