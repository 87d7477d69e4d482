"""A module's changed source and its tests → whether the tests notice it, in a process of its own.

Nothing is written to the tree: the changed source is served to the import system of a fork.
"""

from __future__ import annotations

import contextlib
import importlib.abc
import importlib.machinery
import math
import os
import resource
import signal
import sys
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pytest

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parents[2]
MEMORY = 6 * 2**30  # bytes; a mutant that gathers without end runs into it
QUIET = ("-x", "-q", "--no-header", "--assert=plain", "--tb=native", "-p", "no:cacheprovider")


class Outcome(Enum):
    """What became of a mutant."""

    KILLED = "killed"
    SURVIVED = "survived"
    TIMED_OUT = "timed out"
    BROKEN = "broken"


class _Serving(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):
    """Imports one module from a text; all others are found as ever."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        super().__init__(name, str(path))
        self.source = source

    def find_spec(self, fullname, _path=None, _target=None):
        if fullname != self.name:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, origin=self.path)

    def get_code(self, _fullname):
        return compile(self.source, self.path, "exec", dont_inherit=True)


class Trial(NamedTuple):
    """What became of a mutant, and the seconds of processor time that it took."""

    outcome: Outcome
    seconds: float


def tried(module: str, source: str, tests: Sequence[str], seconds: float) -> Trial:
    """What the tests make of the module with that source, in so many seconds of processor time."""
    # INVARIANT: the parent never imports the package, so that a fork imports it afresh.
    assert not any(name.split(".")[0] == "orderlint" for name in sys.modules)
    child = os.fork()
    if not child:
        _run(module, source, tests, seconds)
    _, status, used = os.wait4(child, 0)
    return Trial(_outcome(status), used.ru_utime + used.ru_stime)


def _outcome(status: int) -> Outcome:
    if os.WIFSIGNALED(status):
        limits = {signal.SIGXCPU, signal.SIGALRM}
        return Outcome.TIMED_OUT if os.WTERMSIG(status) in limits else Outcome.KILLED
    return {
        int(pytest.ExitCode.OK): Outcome.SURVIVED,
        int(pytest.ExitCode.TESTS_FAILED): Outcome.KILLED,
        int(pytest.ExitCode.INTERRUPTED): Outcome.KILLED,  # a test file could not be imported
    }.get(os.WEXITSTATUS(status), Outcome.BROKEN)


def _run(module: str, source: str, tests: Sequence[str], seconds: float) -> None:
    # Processor time, so that a busy machine makes no mutant seem to hang; the clock for what waits.
    resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(seconds), resource.RLIM_INFINITY))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    signal.alarm(3600)
    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    os.environ["HYPOTHESIS_PROFILE"] = "mutation"
    path = ROOT / f"{module.replace('.', '/')}.py"
    sys.meta_path.insert(0, _Serving(module, path, source))
    code: int = pytest.ExitCode.INTERNAL_ERROR
    # Whatever a mutant does, its process ends here and not in the caller's code.
    with contextlib.suppress(BaseException):
        code = pytest.main([*QUIET, *tests])
    os._exit(int(code))
