"""Starts the command line, so that an interrupt ends it without a traceback. Nothing else."""

from __future__ import annotations

import os

TYPE_CHECKING = False
if TYPE_CHECKING:
    from types import FrameType
    from typing import NoReturn

INTERRUPTED = 130
"""The exit status: 128 and the number of SIGINT, as POSIX shells have it."""


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
        signal.signal(signal.SIGINT, _interrupt)
    from orderlint.cli import main as run  # noqa: PLC0415

    try:
        run()
    finally:
        if can_interrupt:  # the result stands: nothing is left to be stopped
            signal.signal(signal.SIGINT, signal.SIG_IGN)


def _interrupt(_number: int, frame: FrameType | None) -> None:
    """Raise KeyboardInterrupt; but end at once while a module is imported.

    The machinery of imports would show it as ignored, and go on. Nothing is to be kept then.
    """
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            os._exit(INTERRUPTED)
        frame = frame.f_back
    raise KeyboardInterrupt


if __name__ == "__main__":
    main()
