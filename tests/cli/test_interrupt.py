"""An interrupt ends the tool without a traceback, from the first module that it imports."""

from __future__ import annotations

import signal
import subprocess
import sys
from importlib.metadata import distribution

import pytest
from running import AT, CLEAN

STARTS = """
import os, signal, sys, weakref
wanted, how = sys.argv.pop(1), sys.argv.pop(1)

def lose(_):
    raise KeyboardInterrupt

class Thing:
    pass

class Interrupts:
    def find_spec(self, name, path=None, target=None):
        if name == wanted:
            if how == "in a callback":
                lose.__code__ = lose.__code__.replace(co_filename="<frozen importlib._bootstrap>")
                thing = Thing()
                reference = weakref.ref(thing, lose)
                del thing
            else:
                os.kill(os.getpid(), signal.SIGINT)

from orderlint.__main__ import main
sys.meta_path.insert(0, Interrupts())
main()
"""


def interrupted_at(module, *arguments, how="", **options):
    command = [sys.executable, "-P", "-c", STARTS, module, how, *map(str, arguments)]
    ran = subprocess.run(command, capture_output=True, check=False, **options)
    return ran.returncode, ran.stderr.strip()


@pytest.mark.slow
@pytest.mark.parametrize(
    "module",
    ["orderlint.cli", "click", "orderlint.cli.verify", "orderlint.verification", "yaml"],
)
def test_an_interrupt_while_a_module_is_imported_is_130_and_shows_nothing(module):
    assert interrupted_at(module, "verify", *AT, CLEAN) == (130, b"")


def test_an_interrupt_that_the_machinery_of_imports_would_ignore_is_130():
    ran = interrupted_at("yaml", "verify", *AT, CLEAN, how="in a callback")
    assert ran == (130, b"")


def test_an_interrupt_that_is_ignored_stays_so():
    def ignore():
        signal.signal(signal.SIGINT, signal.SIG_IGN)

    ran = interrupted_at("click", "verify", *AT, CLEAN, preexec_fn=ignore)
    assert ran == (0, b"")


def test_the_command_starts_where_an_interrupt_is_caught():
    (script,) = distribution("orderlint").entry_points.select(group="console_scripts")
    assert script.value == "orderlint.__main__:main"
