"""Prefetches: makes the next item in a background thread while the last one is used.

Never what is made.
"""

from __future__ import annotations

import queue
import threading
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

T = TypeVar("T")


class _End(Generic[T]):
    """The end of what is made, and the error with which it ended, if any."""

    def __init__(self, error: BaseException | None) -> None:
        self.error = error


def prefetched(make: Callable[[], Iterator[T]]) -> Iterator[T]:
    """What `make` yields, in order, each item made while the one before it is used.

    An error of `make` is raised where its item would be.
    """
    made: queue.Queue[T | _End[T]] = queue.Queue(1)
    stopped = threading.Event()

    def put(item: T | _End[T]) -> None:
        while not stopped.is_set():
            try:
                made.put(item, timeout=0.1)
            except queue.Full:
                continue
            return

    def work() -> None:
        error: BaseException | None = None
        try:
            for item in make():
                put(item)
                if stopped.is_set():
                    return
        except BaseException as found:
            error = found
        put(_End(error))

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        while not isinstance(item := made.get(), _End):
            yield item
        if item.error is not None:
            raise item.error
    finally:
        stopped.set()
        thread.join()
