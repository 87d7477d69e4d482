"""A read-back whose answers come from a pipe, or whose report goes into one that is closed."""

from __future__ import annotations

import os
import stat
import subprocess

import pytest
from running import AT, CLEAN, all_kept, run, started, the_kept

RIGHT = (
    *("day nurse", "night nurse", "lactated Ringer's", "none", "1000 mL"),
    *("mmHg", "irrigation", "2 mmHg", "8 mmHg", "22 mmHg", "60 mL/h", "on"),
    *("mmHg", "5 mmHg", "tragus", "700 mL", "right ventricle"),
)
ANSWERS = "".join(f"{answer}\n" for answer in RIGHT).encode()


@pytest.mark.slow
def test_nobody_reads_the_comparison_and_what_was_entered_is_still_kept(tmp_path):
    reads, writes = os.pipe()
    os.close(reads)
    streams = {"stdin": subprocess.PIPE, "stdout": writes, "cwd": tmp_path}
    process = started("readback", *AT, CLEAN, **streams)
    os.close(writes)
    _, err = process.communicate(ANSWERS)
    assert process.returncode == 0
    assert b"Traceback" not in err
    said = "Nobody read the whole comparison. What was entered is kept. Go on with:"
    assert said in " ".join(err.decode().split())
    assert stat.S_IMODE(the_kept().stat().st_mode) == 0o600
    # Nothing but who checks is asked again: the comparison is made from what was kept.
    again = started("readback", *AT, CLEAN, "--resume", **(streams | {"stdout": -1}))
    out, _ = again.communicate(b"night nurse\n")
    assert b"Verdict: CLEAR" in out
    assert all_kept() == []


@pytest.mark.parametrize("answer", ["22", "", "help", "\x1b[A"])
def test_a_pipe_that_never_answers_rightly_ends(answer):
    right = "".join(f"{text}\n" for text in RIGHT[:9])
    ran = run("readback", *AT, CLEAN, stdin=f"{right}{(answer + chr(10)) * 500}".encode())
    assert ran.status == 3
    assert len(ran.err) < 20_000
    assert "8 mmHg" in the_kept().read_text(encoding="utf-8")


def test_a_line_without_end_ends(tmp_path):
    with open(os.devnull.replace("null", "zero"), "rb") as zeros:  # noqa: PTH123 - a device
        process = started("readback", *AT, CLEAN, stdin=zeros, cwd=tmp_path)
        _, err = process.communicate(timeout=60)
    assert process.returncode == 3
    assert b"Traceback" not in err
