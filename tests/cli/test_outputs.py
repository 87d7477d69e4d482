from __future__ import annotations

import io
import os
import resource
import signal
import sys

import pytest
from running import AT, CLEAN, run, started

from orderlint.cli.outputs import (
    encoded,
    print_errors,
    terminal_width,
    text_style,
    to_ascii,
    use_color,
    write_all,
    write_stdout,
)
from orderlint.own_files import CannotWrite
from orderlint.report.picture.segment_kinds import STYLES


@pytest.mark.parametrize(
    ("option", "environment", "terminal", "color"),
    [
        ("auto", {}, True, True),
        ("auto", {}, False, False),
        ("auto", {"TERM": "dumb"}, True, False),
        ("auto", {"TERM": "xterm"}, True, True),
        # no-color.org: any value that is not empty.
        ("auto", {"NO_COLOR": "1"}, True, False),
        ("auto", {"NO_COLOR": ""}, True, True),
        ("auto", {"NO_COLOR": "0"}, True, False),
        ("auto", {"FORCE_COLOR": "1"}, False, True),
        ("auto", {"FORCE_COLOR": ""}, False, False),
        ("auto", {"FORCE_COLOR": "1", "TERM": "dumb"}, False, True),
        ("auto", {"FORCE_COLOR": "1", "NO_COLOR": "1"}, True, False),
        ("always", {"NO_COLOR": "1", "TERM": "dumb"}, False, True),
        ("never", {"FORCE_COLOR": "1"}, True, False),
    ],
)
def test_who_decides_on_colour(option, environment, terminal, color):
    assert use_color(option, environment, terminal) is color


@pytest.mark.parametrize(
    ("encoding", "due"),
    [
        ("utf-8", "DO – “é” 水".encode()),
        ("ascii", b'DO - "\\xe9" \\u6c34'),
        ("latin-1", b'DO - "\xe9" \\u6c34'),
        ("no-such-encoding", b'DO - "\\xe9" \\u6c34'),
    ],
)
def test_a_narrow_encoding_gets_plain_signs_and_escapes(encoding, due):
    assert encoded("DO – “é” 水", encoding) == due


def test_half_a_character_is_escaped():
    assert encoded("a\udc80", "utf-8") == b"a\\udc80"


def test_without_a_terminal_the_width_is_80():
    assert terminal_width(io.StringIO()) == 80


def test_a_terminal_gives_its_width_up_to_100(monkeypatch):
    for columns, width in ((60, 60), (200, 100), (0, 80)):
        monkeypatch.setattr(os, "get_terminal_size", lambda _, c=columns: os.terminal_size((c, 24)))
        assert terminal_width(sys.__stdout__) == width


def test_closed_streams(monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    print_errors("nobody hears this")
    with pytest.raises(CannotWrite, match="standard output is closed"):
        write_stdout("x")


class Slow(io.RawIOBase):
    """A stream without a buffer, which takes a few bytes at a time, and sometimes none."""

    def __init__(self, room: int = 1000) -> None:
        super().__init__()
        self.room, self.taken, self.calls = room, b"", 0

    def writable(self) -> bool:
        return True

    def write(self, data: memoryview) -> int | None:
        if not self.room:
            raise OSError(28, "No space left on device")
        self.calls += 1
        if self.calls % 3 == 2:
            return None
        taken = bytes(data[: min(7, self.room)])
        self.room -= len(taken)
        self.taken += taken
        return len(taken)


def test_all_is_written_where_a_stream_takes_a_part_at_a_time(monkeypatch):
    monkeypatch.setattr("select.select", lambda *_: None)
    stream = Slow()
    write_all(stream, b"0123456789" * 10)
    assert stream.taken == b"0123456789" * 10
    with pytest.raises(OSError, match="No space left on device"):
        write_all(Slow(20), b"0123456789" * 10)


@pytest.mark.slow
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("arguments", [("verify", *AT, CLEAN), ("rules",)])
def test_a_report_that_is_cut_short_is_no_success(arguments, unbuffered, tmp_path):
    """As on a disk with room for a part: what a file may hold is limited to 500 bytes."""

    def little_room() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (500, 500))

    # What Python compiles would be cut short as well, and stay so for other runs.
    env = {**os.environ, "PYTHONUNBUFFERED": unbuffered, "PYTHONDONTWRITEBYTECODE": "1"}
    options = {"env": env, "preexec_fn": little_room}
    with (tmp_path / "report").open("wb") as report:
        process = started(*arguments, stdout=report, **options)
        _, err = process.communicate(timeout=60)
    assert (tmp_path / "report").stat().st_size == 500
    assert (process.returncode, b"could not be written: File too large" in err) == (2, True)


def test_what_a_file_has_no_room_for_at_its_closing_is_said_before(tmp_path, monkeypatch):
    """As where a server keeps the file, and a quota is used up."""

    def full(_number: int) -> None:
        raise OSError(122, "Disk quota exceeded")

    monkeypatch.setattr(os, "fsync", full)
    with (tmp_path / "report").open("w", encoding="utf-8") as report:
        monkeypatch.setattr(sys, "stdout", report)
        with pytest.raises(CannotWrite, match="Disk quota exceeded"):
            write_stdout("x")


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_no_help_on_a_full_disk_is_said_and_no_fault(option):
    with open("/dev/full", "wb") as full:  # noqa: PTH123 - a device
        _, err = (process := started(option, stdout=full)).communicate(timeout=60)
    said = b"The results could not be written: No space left on device.\n"
    assert (process.returncode, err) == (2, said)


@pytest.mark.parametrize(
    ("columns", "width"),
    [("40", 40), ("72", 72), ("500", 100), ("", 80), ("0", 80), ("-1", 80), ("wide", 80)],
)
def test_the_width_is_that_of_columns(columns, width, monkeypatch):
    monkeypatch.setenv("COLUMNS", columns)
    assert text_style("never", None)[1] == width
    assert text_style("never", "file")[1] == width


def test_what_is_plain_keeps_the_kinds_of_segments_apart():
    signs = [style.sign for style in STYLES.values()]
    assert all(to_ascii(sign).isascii() and len(to_ascii(sign)) == 1 for sign in signs)
    assert len({to_ascii(sign) for sign in signs}) == len(signs)


def test_ascii_on_request():
    ran = run("verify", "--ascii", *AT, CLEAN)
    assert ran.out.isascii()
    report = run("verify", *AT, CLEAN).out.decode()
    assert [len(line) for line in ran.out.decode().splitlines()] == [
        len(line) for line in report.splitlines()
    ]
    assert "\\u" not in ran.text
