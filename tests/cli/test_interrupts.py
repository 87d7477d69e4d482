"""Ctrl-C stops the program inside the solver, and is not lost in the solver's own Python code."""

from __future__ import annotations

import os
import signal
import threading
import time

import pytest
import z3

from orderlint.cli.interrupts import stoppable
from orderlint.language.run_z3 import ask_z3, heeding

PRODUCT = 1_000_000_007 * 1_000_000_009 * 1_000_000_021


def hard():
    """A question that takes z3 far longer than a test: the factors of a product of two primes."""
    solver, (left, right) = heeding(z3.SimpleSolver()), z3.Ints("left right")
    solver.set("timeout", 20_000)
    solver.add(left > 1, left < right, left * right == PRODUCT)
    return solver


def interrupt_soon(seconds=0.1):
    threading.Timer(seconds, os.kill, (os.getpid(), signal.SIGINT)).start()


def as_the_program(solver):
    with stoppable():
        ask_z3(solver)


@pytest.mark.parametrize("ask", [ask_z3, as_the_program])
def test_an_interrupt_ends_a_question(ask):
    solver = hard()
    interrupt_soon()
    begun = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        ask(solver)
    assert time.monotonic() - begun < 10
    easy = heeding(z3.SimpleSolver())
    assert ask_z3(easy) == z3.sat


def test_a_handler_that_does_not_raise_makes_no_answer():
    """Else a question that was broken off would count as one that z3 could not answer."""
    heard = []
    before = signal.signal(signal.SIGINT, lambda number, _: heard.append(number))
    try:
        interrupt_soon()
        with pytest.raises(KeyboardInterrupt):
            ask_z3(hard())
    finally:
        signal.signal(signal.SIGINT, before)
    assert heard == [signal.SIGINT]


def test_who_else_waits_for_signals_hears_of_them():
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    before = signal.set_wakeup_fd(writer)
    try:
        interrupt_soon()
        with pytest.raises(KeyboardInterrupt):
            ask_z3(hard())
        assert signal.SIGINT in os.read(reader, 8)
        assert signal.set_wakeup_fd(writer) == writer
    finally:
        signal.set_wakeup_fd(before)
        os.close(reader)
        os.close(writer)


def test_another_thread_asks_without_hearing_of_signals():
    found = []
    asked = threading.Thread(target=lambda: found.append(ask_z3(heeding(z3.SimpleSolver()))))
    asked.start()
    asked.join()
    assert found == [z3.sat]


OURS = """
def freed():
    try:
        signal.raise_signal(signal.SIGINT)
        for _ in range(10):
            pass
    except KeyboardInterrupt:
        raise AssertionError("in the solver's code")
"""


def test_an_interrupt_in_the_solvers_own_code_comes_after_it():
    """What is raised while an object is freed is lost."""
    scope = {"__name__": "z3.z3", "signal": signal}
    exec(OURS, scope)
    ended = []

    @stoppable()
    def run():
        scope["freed"]()
        ended.append(True)
        time.sleep(5)

    with pytest.raises(KeyboardInterrupt):
        run()
    assert ended
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_handler_of_the_callers_own_stays():
    own = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with stoppable():
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, own)


def test_an_interrupt_that_is_on_its_way_is_not_sent_twice():
    @stoppable()
    def run():
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt:
            signal.raise_signal(signal.SIGALRM)
            raise

    with pytest.raises(KeyboardInterrupt):
        run()
