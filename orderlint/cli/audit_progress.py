"""Shows on standard error how many rows of a table are audited: a bar, rows a second, time left.

Only on a terminal, and after a second. Never anything in a report.
"""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

import click

from orderlint.cli.progress import PATIENCE, is_watched

if TYPE_CHECKING:
    from collections.abc import Sequence

    from click._termui_impl import ProgressBar

    from orderlint.audit.tables.table import Table


class RowProgress:
    """A bar over the rows of some tables, to be used in a `with` statement.

    Where it is not known how many rows there are, it counts them.
    """

    def __init__(self, tables: Sequence[Table]) -> None:
        rows = [table.rows for table in tables]
        known = [each for each in rows if each is not None]
        self._total = sum(known) if len(known) == len(rows) else None
        self._began = time.monotonic()
        self._done = 0
        self._bar: ProgressBar[int] | None = None

    def __enter__(self) -> RowProgress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.render_finish()

    def told(self, rows: int) -> None:
        """Be told of rows that are done."""
        self._done += rows
        if not is_watched() or time.monotonic() - self._began < PATIENCE:
            return
        if self._bar is None:
            self._bar = self._new()
        self._bar.update(self._done - self._bar.pos)

    def _new(self) -> ProgressBar[int]:
        return click.progressbar(
            length=self._total or self._done,
            label="Auditing",
            file=sys.stderr,
            show_pos=True,
            show_eta=self._total is not None,
            show_percent=self._total is not None,
            item_show_func=lambda _: self._rate(),
        )

    def _rate(self) -> str:
        return f"{self._done / (time.monotonic() - self._began):,.0f} rows/s"
