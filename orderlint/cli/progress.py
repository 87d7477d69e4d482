"""Shows on standard error how far a run over many files, rules or rows has come.

Only after a second. Never anything in a report.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from typing import TYPE_CHECKING, TypeVar

import click

from orderlint.cli.outputs import print_errors

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from click._termui_impl import ProgressBar

T = TypeVar("T")

PATIENCE = 1.0
"""Seconds without a word."""


def watched(items: Sequence[T], *, lines: bool = False) -> Iterator[T]:
    """Each in turn; a bar shows how many are done once that takes longer than PATIENCE.

    With `lines`, each that is then done has a line where there is no terminal.
    """
    if len(items) > 1 and is_watched():
        yield from _with_bar(items)
    elif len(items) > 1 and lines:
        yield from _with_lines(items)
    else:
        yield from items


def _with_bar(items: Sequence[T]) -> Iterator[T]:
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


def _with_lines(items: Sequence[T]) -> Iterator[T]:
    start = time.monotonic()
    for done, item in enumerate(items, 1):
        yield item
        if time.monotonic() - start > PATIENCE:
            print_errors(f"{done} of {len(items)} checked: {item}")


@contextlib.contextmanager
def shown_rows(rows: Sequence[int | None]) -> Iterator[Callable[[int], None]]:
    """What is to be told of rows that are done; on a terminal a bar shows them and the time left.

    `rows` are those of each table, None where that is not known: then a bar counts them.
    """
    known = [each for each in rows if each is not None]
    total = sum(known) if len(known) == len(rows) else None
    start, done = time.monotonic(), 0
    bar: ProgressBar[int] | None = None

    def told(count: int) -> None:
        nonlocal done, bar
        done += count
        if not is_watched() or time.monotonic() - start < PATIENCE:
            return
        if bar is None:
            bar = click.progressbar(
                length=total or done,
                label="Auditing",
                file=sys.stderr,
                show_pos=True,
                show_eta=total is not None,
                show_percent=total is not None,
                item_show_func=lambda _: f"{done / (time.monotonic() - start):,.0f} rows/s",
            )
        bar.update(done - bar.pos)

    try:
        yield told
    finally:
        if bar is not None:
            bar.render_finish()


def is_watched() -> bool:
    """Whether standard error is a terminal that can draw a line anew."""
    terminal = sys.stderr is not None and sys.stderr.isatty()
    return terminal and os.environ.get("TERM") != "dumb"
