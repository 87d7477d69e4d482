from __future__ import annotations

import io
import os
import stat
import sys

import pytest
from running import AT, CLEAN, run

from orderlint.cli.outputs import (
    CannotWrite,
    encoded,
    print_errors,
    same_file,
    terminal_width,
    text_style,
    to_ascii,
    use_color,
    write_file,
    write_stdout,
)
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


def test_a_file_is_written_whole_with_ordinary_rights(tmp_path):
    target = tmp_path / "report"
    target.write_text("old and longer")
    write_file("new – é", str(target))
    assert target.read_bytes() == "new – é".encode()
    assert list(tmp_path.iterdir()) == [target]
    umask = os.umask(0)
    os.umask(umask)
    assert stat.S_IMODE(target.stat().st_mode) == 0o666 & ~umask


def test_a_link_is_followed(tmp_path):
    target, link = tmp_path / "report", tmp_path / "link"
    target.write_text("old")
    link.symlink_to(target)
    write_file("new", str(link))
    assert link.is_symlink()
    assert target.read_text() == "new"


def test_a_failure_leaves_what_was_there(tmp_path, monkeypatch):
    target = tmp_path / "report"
    target.write_text("old")

    def fail(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(CannotWrite, match="No space left on device"):
        write_file("new", str(target))
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("output", ["no such folder/report", ".", os.devnull, "\0"])
def test_what_is_no_ordinary_file_is_not_written(output, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(CannotWrite, match="could not be written"):
        write_file("new", output)
    assert list(tmp_path.iterdir()) == []
    assert stat.S_ISCHR(os.stat(os.devnull).st_mode)  # noqa: PTH116 - not replaced by a file


def test_an_input_is_known_by_any_of_its_names(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.yaml").write_text("")
    (tmp_path / "link").symlink_to("a.yaml")
    (tmp_path / "hard").hardlink_to("a.yaml")
    for name in ("a.yaml", "./a.yaml", str(tmp_path / "a.yaml"), "link", "hard"):
        assert same_file(name, ["b.yaml", "a.yaml"])
    assert same_file("b.yaml", ["./b.yaml"])
    assert not same_file("b.yaml", ["a.yaml", "-"])
    assert not same_file("-", ["-"])


def test_closed_streams(monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    print_errors("nobody hears this")
    with pytest.raises(CannotWrite, match="standard output is closed"):
        write_stdout("x")


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
