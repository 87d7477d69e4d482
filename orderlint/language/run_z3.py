"""Runs z3 so that Ctrl-C stops it, which z3 by itself takes for the end of one question.

Never what is asked, nor what an answer means.
"""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from typing import TYPE_CHECKING

import z3

if TYPE_CHECKING:
    from orderlint.language.budget import Budget

AGAIN = 0.05
"""Seconds until z3 is told again to stop: it does not hear what comes before it has begun."""


def heeding(solver: z3.Solver) -> z3.Solver:
    """The solver, with Ctrl-C left to `ask_z3`."""
    solver.set("ctrl_c", False)
    return solver


def ask_z3(solver: z3.Solver, *assumed: z3.BoolRef) -> z3.CheckSatResult:
    """z3's answer. Raises KeyboardInterrupt on SIGINT, as Python does outside of a library.

    Python hears of signals in the main thread alone, so that in another z3 runs on to its limits.
    """
    if threading.current_thread() is not threading.main_thread():
        return solver.check(*assumed)
    return _watch().check(solver, assumed)


def check_within(
    budget: Budget | None, most: int, solver: z3.Solver, *assumed: z3.BoolRef
) -> z3.CheckSatResult:
    """z3's answer in at most so many steps, which the budget pays; unknown where it cannot."""
    if budget is None:
        return ask_z3(solver, *assumed)
    if budget.is_spent:
        return z3.unknown
    solver.set("rlimit", min(most, budget.left))
    before = steps_so_far(solver)
    result = ask_z3(solver, *assumed)
    budget.spend(steps_so_far(solver) - before + budget.QUESTION)
    return result


class PaidSolver(z3.Solver):  # type: ignore[misc] # z3 has no types
    """A solver that keeps its state, all whose questions one budget pays."""

    def __init__(self, budget: Budget) -> None:
        context = z3.main_ctx()
        super().__init__(z3.Z3_mk_simple_solver(context.ref()), context)
        heeding(self)
        self.budget = budget

    def paid_check(self) -> z3.CheckSatResult:
        """z3's answer; unknown where the budget is spent."""
        return check_within(self.budget, self.budget.left, self)


def steps_so_far(solver: z3.Solver) -> int:
    """z3's count of steps in this process, whatever it was asked."""
    counts = solver.statistics()
    found = (counts[index] for index in reversed(range(len(counts))))  # it stands near the end
    return next((int(count) for name, count in found if name == "rlimit count"), 0)


class _Watch(threading.Thread):
    """Hears of SIGINT while the main thread is in z3, where no handler of Python's can run.

    Python writes the number of each signal to a socket as it comes.
    """

    def __init__(self) -> None:
        super().__init__(name="watch over z3", daemon=True)
        self.process = os.getpid()
        self.reader, self.writer = socket.socketpair()
        self.writer.setblocking(False)
        self.other = -1
        self.asked = 0
        self.is_asking = False
        self.is_stopped = False

    def check(self, solver: z3.Solver, assumed: tuple[z3.BoolRef, ...]) -> z3.CheckSatResult:
        self.asked += 1
        self.is_asking, self.is_stopped = True, False
        self.other = signal.set_wakeup_fd(self.writer.fileno(), warn_on_full_buffer=False)
        try:
            result = solver.check(*assumed)
        finally:
            self.is_asking = False
            signal.set_wakeup_fd(self.other, warn_on_full_buffer=False)
        if self.is_stopped:  # a handler of the caller's own did not raise
            raise KeyboardInterrupt
        return result

    def run(self) -> None:
        while signals := self.reader.recv(64):
            if self.other >= 0:
                os.write(self.other, signals)
            asked = self.asked
            while signal.SIGINT in signals and self.is_asking and self.asked == asked:
                self.is_stopped = True
                z3.main_ctx().interrupt()
                time.sleep(AGAIN)


_watches: list[_Watch] = []


def _watch() -> _Watch:
    """The one of this process; a process that was forked has none of its parent's threads."""
    if not _watches or _watches[-1].process != os.getpid():
        _watches[:] = [_Watch()]
        _watches[-1].start()
    return _watches[-1]
