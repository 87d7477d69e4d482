"""Makes something of each of several items, each in a process of its own, some at a time.

Never what is made, and never a word. The solver's state, its memory and what goes wrong stay with
one item, so that the results are the same however many run at a time.
"""

from __future__ import annotations

import io
import os
import signal
import threading
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence
    from multiprocessing.connection import Connection
    from multiprocessing.context import ForkProcess

T = TypeVar("T")
R = TypeVar("R")


def cores() -> int:
    """How many processors this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


def can_fork() -> bool:
    """Whether this process can be copied: a copy has none of its other threads, nor their locks.

    INVARIANT: where z3 was asked anything, a thread is left that watches over it.
    """
    return hasattr(os, "fork") and threading.active_count() == 1


class Workers(Generic[T, R]):
    """`make` of each item, in the order of the items.

    What is `shared` is not sent back: the one of this process stands in its place in a result.
    `lost` is what becomes of an item whose process ended without a result, as where memory ran out.
    """

    def __init__(
        self, make: Callable[[T], R], lost: Callable[[T], R], shared: Collection[object]
    ) -> None:
        self.make, self.lost, self.shared = make, lost, tuple(shared)
        self.running: dict[Connection, tuple[int, ForkProcess]] = {}

    def each(self, items: Sequence[T], jobs: int) -> Iterator[R]:
        """The results, each as soon as it is its turn; one that is stopped stops the processes."""
        done: dict[int, R] = {}
        begun = 0
        try:
            for number in range(len(items)):
                while number not in done:
                    while begun < len(items) and len(self.running) < jobs:
                        self._start(begun, items[begun])
                        begun += 1
                    done.update(self._finished(items))
                yield done.pop(number)
        finally:
            for _, process in self.running.values():
                process.terminate()
                process.join()

    def _start(self, number: int, item: T) -> None:
        from multiprocessing import get_context  # noqa: PLC0415 - cold start

        context = get_context("fork")
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=self._work, args=(item, theirs))
        process.start()
        theirs.close()
        self.running[ours] = number, process

    def _work(self, item: T, sender: Connection) -> None:
        # Ctrl-C reaches all processes of a terminal; the one that reports ends the others.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        sender.send_bytes(self._packed(self.make(item)))

    def _finished(self, items: Sequence[T]) -> dict[int, R]:
        """The results of the processes that have ended, at least one."""
        from multiprocessing.connection import wait  # noqa: PLC0415 - cold start

        found = {}
        for receiver in wait([*self.running]):
            number, process = self.running.pop(receiver)  # type: ignore[call-overload]
            try:
                found[number] = self._unpacked(receiver.recv_bytes())  # type: ignore[union-attr]
            except EOFError:
                found[number] = self.lost(items[number])
            process.join()
        return found

    def _packed(self, result: R) -> bytes:
        import pickle  # noqa: PLC0415 - cold start

        numbers = {id(each): number for number, each in enumerate(self.shared)}

        class Pickler(pickle.Pickler):
            def persistent_id(self, found: object) -> int | None:
                return numbers.get(id(found))

        stream = io.BytesIO()
        Pickler(stream, pickle.HIGHEST_PROTOCOL).dump(result)
        return stream.getvalue()

    def _unpacked(self, data: bytes) -> Any:
        import pickle  # noqa: PLC0415 - cold start

        shared = self.shared

        class Unpickler(pickle.Unpickler):
            def persistent_load(self, number: int) -> object:
                return shared[number]

        return Unpickler(io.BytesIO(data)).load()
