"""Lines that several processes append to one file: whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import resource
import stat
import subprocess
import sys
from collections import Counter

import pytest

from orderlint.cli import append
from orderlint.cli.append import append_lines
from orderlint.own_files import CannotWrite

START = "line "


@pytest.fixture
def record(tmp_path):
    return tmp_path / "record.jsonl"


APPEND = """
import os, sys, time
from orderlint.cli.append import append_lines
from orderlint.own_files import CannotWrite
file, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
if name == "full":
    def half(descriptor, data, write=os.write):
        written = write(descriptor, data[:len(data) // 2])
        time.sleep(0.002)  # long enough for the others, were they not held off
        return written
    os.write = half
sys.stdin.read()  # until all are started
for number in range(count):
    try:
        append_lines([f"line {name} {number} {'x' * 700}\\n"], file, "line ")
    except CannotWrite:
        assert name == "full"
"""


@pytest.mark.parametrize(
    ("names", "count"), [("ab", 40), pytest.param("abcdefgh", 200, marks=pytest.mark.deep)]
)
def test_many_at_once_tear_nothing_also_where_one_finds_the_disk_full(names, count, record):
    command = [sys.executable, "-P", "-c", APPEND, str(record)]
    started = [
        subprocess.Popen([*command, name, str(count)], stdin=subprocess.PIPE)
        for name in [*names, "full"]
    ]
    for process in started:
        process.stdin.close()
    assert {process.wait() for process in started} == {0}
    lines = record.read_text().splitlines()
    due = {f"line {name} {number} {'x' * 700}" for name in names for number in range(count)}
    assert Counter(lines) == dict.fromkeys(due, 1)
    for name in names:  # nobody's lines change places
        numbers = [int(line.split()[2]) for line in lines if line.split()[1] == name]
        assert numbers == [*range(count)]


def test_a_new_file_is_its_owners_alone_and_an_old_one_keeps_its_mode(record):
    append_lines(["line a\n"], str(record), START)
    assert stat.S_IMODE(record.stat().st_mode) == 0o600
    record.chmod(0o660)
    append_lines(["line b\n", "line c\n"], str(record), START)
    assert stat.S_IMODE(record.stat().st_mode) == 0o660
    assert record.read_text() == "line a\nline b\nline c\n"


def test_a_line_that_a_crash_cut_short_is_ended_and_not_joined(record):
    record.write_text("line a\nlin")
    append_lines(["line a\n"], str(record), START)
    assert record.read_text() == "line a\nlin\nline a\n"


@pytest.mark.parametrize("there", ["document: order\n", "Line a\n", "\n", "lime"])
def test_a_file_that_holds_something_else_is_left_alone(there, record):
    record.write_text(there)
    with pytest.raises(CannotWrite, match="it holds something else"):
        append_lines(["line a\n"], str(record), START)
    assert record.read_text() == there


@contextlib.contextmanager
def room_for(size):
    """A limit on the size of files, at which the system writes a part and then refuses.

    Inside a test only: what pytest says of it may go to a file as well.
    """
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("there", ["", "line a\n", "line a\nli", "lin"])
@pytest.mark.parametrize("room", [0, 1, 5])
def test_what_does_not_fit_leaves_the_file_as_it_was(there, room, record):
    record.write_text(there)
    said = r"record\.jsonl: (No space left|File too large)"
    with room_for(len(there) + room), pytest.raises(CannotWrite, match=said):
        append_lines(["line first\n", "line second\n"], str(record), START)
    assert record.read_text() == there


@pytest.mark.parametrize("kind", [OSError(errno.EIO, "Input/output error"), KeyboardInterrupt()])
def test_a_failure_after_writing_leaves_the_file_as_it_was(kind, record, monkeypatch):
    record.write_text("line a\n")

    def fail(_):
        raise kind

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises((CannotWrite, KeyboardInterrupt)):
        append_lines(["line b\n"], str(record), START)
    assert record.read_text() == "line a\n"


def make_link(path):
    (path.parent / "elsewhere").write_text("mine")
    path.symlink_to("elsewhere")


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (make_link, "it is a link"),
        (lambda path: path.symlink_to("nowhere"), "it is a link"),
        (lambda path: path.mkdir(), "it is a directory"),
        (os.mkfifo, "it is not an ordinary file"),
    ],
)
def test_what_is_no_ordinary_file_is_refused(make, reason, record):
    make(record)
    there = sorted(record.parent.iterdir())
    with pytest.raises(CannotWrite, match=rf"record\.jsonl: {reason}\.$"):
        append_lines(["line a\n"], str(record), START)
    assert sorted(record.parent.iterdir()) == there
    assert all(path.read_text() == "mine" for path in there if path.name == "elsewhere")


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        (os.devnull, "it is not an ordinary file"),
        ("/dev/full", "it is not an ordinary file"),
        ("no such folder/record", "there is no such folder"),
        ("\0", "it is not a file name"),
    ],
)
def test_what_cannot_be_opened_is_said(name, reason, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(CannotWrite, match=f"{reason}\\.$"):
        append_lines(["line a\n"], name, START)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_another_process_holds_is_not_waited_for_without_end(record, monkeypatch):
    record.write_text("line a\n")
    monkeypatch.setattr(append, "LONGEST_WAIT", 0.02)
    with record.open("rb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(CannotWrite, match="another process holds it"):
            append_lines(["line b\n"], str(record), START)
    append_lines(["line c\n"], str(record), START)
    assert record.read_text() == "line a\nline c\n"


def test_a_file_that_is_deleted_meanwhile_is_said(record, monkeypatch):
    hold = append._lock

    def delete(descriptor):
        hold(descriptor)
        record.unlink()

    monkeypatch.setattr(append, "_lock", delete)
    with pytest.raises(CannotWrite, match="it was deleted meanwhile"):
        append_lines(["line a\n"], str(record), START)
