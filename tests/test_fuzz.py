"""Fuzzing finds what is wrong: a target that fails ends the run, and its input is kept."""

from __future__ import annotations

import subprocess
import sys
from random import Random
from typing import TYPE_CHECKING

import pytest
from fuzz import run
from fuzz.mutations import LONGEST, mutant
from fuzz.targets import TARGETS, Target

if TYPE_CHECKING:
    from pathlib import Path


def test_each_target_takes_its_seeds() -> None:
    assert tuple(TARGETS) == run.NAMES
    for name in ("kept-read-back", "yaml"):
        seeds = TARGETS[name].seeds()
        assert seeds
        TARGETS[name].run(seeds[-1])


def test_mutants_differ_from_their_seed_and_are_the_same_for_one_seed_of_chance() -> None:
    seed = b"pause: {lower: 2 mmHg}\n"
    first, second = (
        [mutant(seed, [seed], draw) for _ in range(50)] for draw in map(Random, (1, 1))
    )
    assert first == second
    assert len(set(first)) > 40
    assert max(map(len, first)) <= LONGEST


@pytest.mark.parametrize("seconds", [1.0, -1.0])
def test_a_fault_is_raised_and_its_input_kept(
    tmp_path: Path, seconds: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A process that has run many tests holds what they share.
    monkeypatch.setattr(run, "MOST_MEGABYTES", 10_000)

    def faulty(data: bytes) -> None:
        if b"x" in data:
            raise ValueError

    kept = tmp_path / "kept"
    target = Target(faulty, lambda: [b"a", b"x"], seconds)
    with pytest.raises(ValueError if seconds > 0 else run.TooMuchError):
        run.drawn(target, 5, 0, kept)
    assert (b"x" if seconds > 0 else b"a") in kept.read_bytes()


def test_an_unknown_target_is_refused() -> None:
    command = [sys.executable, str(run.__file__), "no-such"]
    assert subprocess.run(command, check=False, capture_output=True).returncode == 2
