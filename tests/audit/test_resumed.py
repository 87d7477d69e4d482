"""An audit that is killed goes on where it was, and says in the end what it would have said."""

from __future__ import annotations

import random
import subprocess
import time

import pytest
from audit.answers import EVERY
from audit.files import written
from audit.tables import table
from running import started

PARTS = ("--part-rows", "2500", "--threads", "2")


def start(files, folder, *more):
    kept = ("--parts", folder, "--resume") if folder else ()
    return started("audit", *EVERY, *PARTS, *kept, *more, *files)


def ended(process):
    out, err = process.communicate()
    assert process.returncode in {0, 1}, err.decode()
    return out


def killed_after(process, seconds):
    """Kill a run, and say whether it was still running."""
    try:
        process.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        return True
    return False


@pytest.mark.deep
def test_killed_at_ten_moments_and_resumed_it_has_the_same_bytes(tmp_path):
    chance = random.Random(6)
    files = written([*table(6, 20_000)], tmp_path, "parquet", 3)
    began = time.monotonic()
    whole = ended(start(files, None))
    took = time.monotonic() - began
    moments = [chance.uniform(0.1, 0.95) * took for _ in range(10)]
    running = []
    for number, moment in enumerate(moments):
        folder = tmp_path / f"parts-{number}"
        running.append(killed_after(start(files, folder), moment))
        assert ended(start(files, folder)) == whole
    assert sum(running) >= 8


@pytest.mark.deep
def test_killed_again_and_again_it_comes_to_the_same_end(tmp_path):
    chance = random.Random(7)
    files = written([*table(7, 20_000)], tmp_path, "parquet")
    began = time.monotonic()
    whole = ended(start(files, None))
    took = time.monotonic() - began
    folder = tmp_path / "parts"
    for _ in range(6):
        killed_after(start(files, folder), chance.uniform(0.4, 0.9) * took)
    assert ended(start(files, folder)) == whole


@pytest.mark.deep
def test_parts_of_another_table_are_not_gone_on_with(tmp_path):
    files = written([*table(8, 900)], tmp_path, "parquet")
    folder = tmp_path / "parts"
    ended(start(files, folder))
    files = written([*table(9, 900)], tmp_path, "parquet")
    process = start(files, folder)
    _, err = process.communicate()
    assert process.returncode == 2, err.decode()
