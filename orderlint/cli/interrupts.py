"""Makes Ctrl-C stop the program wherever it is, also in the middle of the solver's own code.

What z3's Python objects do when they are freed swallows every exception, Ctrl-C's with it.
"""

from __future__ import annotations

import contextlib
import signal
import sys
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType

AGAIN = 0.01
"""Seconds until it is tried again where the solver's own code was running."""
_DEEPEST = 4  # calls of z3's code inside one another


@contextlib.contextmanager
def stoppable() -> Iterator[None]:
    """SIGINT raises KeyboardInterrupt within, but never in z3's own code: then soon after it.

    A handler of the caller's own is left as it is.
    """
    is_own = signal.getsignal(signal.SIGINT) is not signal.default_int_handler
    if is_own or threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGALRM, _stop)
    signal.signal(signal.SIGINT, _stop)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGALRM, before)


def _stop(number: int, frame: FrameType | None) -> None:
    is_ending = number == signal.SIGALRM and sys.exc_info()[0] is not None
    if _is_in_solver(frame) or is_ending:
        signal.setitimer(signal.ITIMER_REAL, AGAIN)
        return
    raise KeyboardInterrupt


def _is_in_solver(frame: FrameType | None) -> bool:
    for _ in range(_DEEPEST):
        if frame is None:
            return False
        if str(frame.f_globals.get("__name__")).partition(".")[0] == "z3":
            return True
        frame = frame.f_back
    return False
