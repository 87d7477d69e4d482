"""Shows on standard error how far a run over many files or rules has come.

Only on a terminal, and only after a second. Never anything in a report.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from typing import TYPE_CHECKING, TypeVar

import click

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

T = TypeVar("T")

PATIENCE = 1.0
"""Seconds without a word."""


def watched(items: Sequence[T]) -> Iterator[T]:
    """Each in turn; a bar shows how many are done once that takes longer than PATIENCE."""
    if len(items) < 2 or not _is_watched():
        yield from items
        return
    start, bar = time.monotonic(), None
    with contextlib.ExitStack() as shown:
        for done, item in enumerate(items):
            if bar is None and time.monotonic() - start > PATIENCE:
                bar = shown.enter_context(
                    click.progressbar(length=len(items), label="Checking", file=sys.stderr)
                )
                bar.update(done)
            yield item
            if bar is not None:
                bar.update(1)


def _is_watched() -> bool:
    """Whether standard error is a terminal that can draw a line anew."""
    terminal = sys.stderr is not None and sys.stderr.isatty()
    return terminal and os.environ.get("TERM") != "dumb"
