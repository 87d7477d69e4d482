"""Processes that read texts end with the one that began them, however it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

PROGRAM = """
import os, signal
from orderlint.audit.reading_pool import FEW, ReadingPool

if __name__ == "__main__":
    pool = ReadingPool(2)
    pool.read("irrigation.rate", frozenset(), [f"{n} mL/h" for n in range(FEW)])
    print(*pool._pool._processes, flush=True)
    os.kill(os.getpid(), signal.SIGKILL)
"""


def is_there(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_none_is_left_behind(tmp_path):
    program = tmp_path / "program.py"
    program.write_text(PROGRAM)
    command = [sys.executable, str(program)]
    # What is left behind holds the other end of the pipe, and this waits for it.
    ran = subprocess.run(command, capture_output=True, text=True, timeout=20, check=False)
    assert ran.returncode == -signal.SIGKILL, ran.stderr
    left = [int(each) for each in ran.stdout.split()]
    assert len(left) == 2
    ends = time.monotonic() + 20
    while any(map(is_there, left)):
        assert time.monotonic() < ends
        time.sleep(0.05)
