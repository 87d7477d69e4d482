"""Measures processes and functions turn by turn, so that a busy moment of the machine is shared."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

_LAUNCH = Path(__file__).with_name("launch.py")
_BATCH = 0.05
"""Seconds that a batch of calls takes at least, so that the clock's own steps do not count."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What one run, or one call, took: seconds by the clock and of the processor, peak KiB."""

    wall: float
    processor: float
    peak: int = 0


Subject: TypeAlias = Callable[[], Taken]


@dataclass(frozen=True, slots=True)
class Series:
    """All runs of one subject."""

    runs: tuple[Taken, ...]

    @property
    def wall(self) -> float:
        return statistics.median(run.wall for run in self.runs)

    @property
    def processor(self) -> float:
        return statistics.median(run.processor for run in self.runs)

    @property
    def peak(self) -> float:
        """The highest peak, in MiB."""
        return max(run.peak for run in self.runs) / 1024

    def middle_half(self, of: str = "wall") -> tuple[float, float]:
        """The quartiles, between which half of the runs lie."""
        values = [getattr(run, of) for run in self.runs]
        if len(values) == 1:
            return values[0], values[0]
        low, _, high = statistics.quantiles(values, n=4, method="inclusive")
        return low, high


def in_turn(subjects: Mapping[str, Subject], rounds: int) -> dict[str, Series]:
    """Run each subject once uncounted, which fills caches, then `rounds` times, turn by turn."""
    runs: dict[str, list[Taken]] = {name: [] for name in subjects}
    for count in range(rounds + 1):
        for name, subject in subjects.items():
            taken = subject()
            if count:
                runs[name].append(taken)
    return {name: Series(tuple(taken)) for name, taken in runs.items()}


def process(command: Sequence[str | Path], statuses: Sequence[int] = (0,)) -> Taken:
    """Run a command in a new process, in a user's surroundings.

    Raises RuntimeError where it ends with another status than those that are expected.
    """
    surroundings = {key: value for key, value in os.environ.items() if key[:6] != "PYTHON"}
    launch = [sys.executable, "-I", "-S", _LAUNCH, *command]
    ran = subprocess.run(launch, check=True, capture_output=True, env=surroundings, cwd="/")
    wall, processor, peak, status = ran.stdout.split()
    if int(status) not in statuses:
        words = " ".join(map(str, command))
        raise RuntimeError(f"status {int(status)} of {words}\n{ran.stderr.decode()}")
    return Taken(float(wall), float(processor), int(peak))


def once(function: Callable[[], object]) -> Taken:
    """What a call in this process takes."""
    return _batch(function, 1)


def calls(function: Callable[[], object], seconds: float = _BATCH) -> Subject:
    """A subject that calls the function often enough, and says what one call took.

    So often that a batch takes so many seconds of the processor. Twice as many calls are tried
    until it does, so that what a program makes ready after its first calls is ready.
    """
    number = 1
    while _batch(function, number).processor * number < seconds:
        number *= 2
    return lambda: _batch(function, number)


def _batch(function: Callable[[], object], number: int) -> Taken:
    wall, processor = time.perf_counter(), time.process_time()
    for _ in range(number):
        function()
    processor, wall = time.process_time() - processor, time.perf_counter() - wall
    return Taken(wall / number, processor / number)
