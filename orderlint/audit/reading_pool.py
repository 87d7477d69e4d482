"""Reads many texts in processes of their own.

Each text is read as in one process; only where differs. Never what a text means.
"""

from __future__ import annotations

import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from multiprocessing import get_context, parent_process
from typing import TYPE_CHECKING

from orderlint.audit.text_classes import read_texts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.audit.text_classes import Found
    from orderlint.audit.texts import CellReading, Lists

FEW = 4_000
"""Texts that are read sooner than a process is started."""
_SHARES = 4
"""Shares of a process: few, for what is alike within one is told once."""


class ReadingPool:
    """Reads texts in `processes`, to be used in a `with` statement; they start when needed."""

    def __init__(self, processes: int) -> None:
        self.processes = processes
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> ReadingPool:
        return self

    def __exit__(self, *_: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def read(self, path: str, lists: Lists, texts: Sequence[str]) -> Found:
        """The different readings of `texts`, and for each text which of them it has."""
        if self.processes < 2 or len(texts) < FEW:
            return read_texts(path, lists, texts)
        if self._pool is None:
            # A process that is forked has none of the threads of the engine, but their locks.
            context = get_context("spawn")
            self._pool = ProcessPoolExecutor(self.processes, context, _begin)
        size = -(-len(texts) // (_SHARES * self.processes))
        shares = [texts[n : n + size] for n in range(0, len(texts), size)]
        found = self._pool.map(read_texts, repeat(path), repeat(lists), shares)
        readings: list[CellReading] = []
        chosen: list[int] = []
        for some, numbers in found:
            chosen += [number + len(readings) for number in numbers]
            readings += some
        return readings, chosen


def _begin() -> None:
    """Ctrl-C reaches all processes of a terminal; the one that reports ends the others.

    However that one ends, the others end with it.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
    os._exit(1)
