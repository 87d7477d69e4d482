"""Starts the command line, so that an interrupt ends it without a traceback. Nothing else."""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from sys import UnraisableHookArgs
    from types import FrameType
    from typing import NoReturn

INTERRUPTED = 130
"""The exit status: 128 and the number of SIGINT, as POSIX shells have it."""

_OBJECTS = 100_000
"""How many objects are made before garbage is looked for: to check one order takes fewer."""


def main() -> NoReturn:
    """Run the command line with the arguments of the process, and exit."""
    try:
        _run()
    except KeyboardInterrupt:
        os._exit(INTERRUPTED)


def _run() -> NoReturn:
    import signal  # noqa: PLC0415 - nothing is imported before an interrupt is caught

    # Where it is ignored, as by nohup, it stays so.
    can_interrupt = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if can_interrupt:
        signal.signal(signal.SIGINT, _end)
        sys.unraisablehook = _end_where_lost
    import gc  # noqa: PLC0415

    gc.set_threshold(_OBJECTS)
    from orderlint.cli import main as run  # noqa: PLC0415

    try:
        if can_interrupt:
            signal.signal(signal.SIGINT, signal.default_int_handler)
        run()
    finally:
        if can_interrupt:  # the result stands: nothing is left to be stopped
            signal.signal(signal.SIGINT, signal.SIG_IGN)


def _end(_number: int, _frame: FrameType | None) -> None:
    os._exit(INTERRUPTED)


def _end_where_lost(lost: UnraisableHookArgs) -> None:
    """End at an interrupt that the machinery of imports would show as ignored, and go on."""
    trace = lost.exc_traceback
    where = trace.tb_frame.f_code.co_filename if trace else ""
    if lost.exc_type is KeyboardInterrupt and where.startswith("<frozen importlib"):
        os._exit(INTERRUPTED)
    sys.__unraisablehook__(lost)


if __name__ == "__main__":
    main()
