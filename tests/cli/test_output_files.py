"""Reports in files: whole or not at all, with the right rights, and plain words where not."""

from __future__ import annotations

import json
import os
import stat
import sys
import threading
from pathlib import Path

import pytest
from running import AT, CLEAN, run, started

from orderlint.cli import output_files
from orderlint.cli.output_files import same_file, write_file
from orderlint.own_files import CannotWrite

SEEN = CLEAN.parent / "seen-as-ordered.yaml"


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


@pytest.mark.parametrize("call", ["os.fsync", "os.replace", "orderlint.own_files.write_all"])
@pytest.mark.parametrize(
    ("failure", "raised"),
    [
        (OSError(28, "No space left on device"), CannotWrite),
        (KeyboardInterrupt(), KeyboardInterrupt),
    ],
)
def test_a_failure_or_an_interrupt_leaves_what_was_there(
    call, failure, raised, tmp_path, monkeypatch
):
    target = tmp_path / "report"
    target.write_text("old")

    def fail(*_, **__):
        raise failure

    monkeypatch.setattr(call, fail)
    with pytest.raises(raised):
        write_file("new", str(target))
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("output", ["no such folder/report", ".", "\0"])
def test_what_is_no_ordinary_file_is_not_written(output, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(CannotWrite, match="could not be written"):
        write_file("new", output)
    assert list(tmp_path.iterdir()) == []


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


@pytest.mark.parametrize("umask", [0o022, 0o077, 0o027])
def test_a_new_file_has_the_rights_that_the_umask_leaves(umask, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = os.umask(umask)
    try:
        write_file("new", "report")
        write_file("new", "private", private=True)
    finally:
        os.umask(before)
    assert stat.S_IMODE(Path("report").stat().st_mode) == 0o666 & ~umask
    assert stat.S_IMODE(Path("private").stat().st_mode) == 0o600


def test_an_old_file_keeps_its_rights_unless_a_nurse_entered_what_is_in_it(tmp_path):
    report = tmp_path / "report"
    report.touch()
    report.chmod(0o640)
    run("verify", *AT, "--output", report, CLEAN)
    assert stat.S_IMODE(report.stat().st_mode) == 0o640
    run("readback", *AT, "--output", report, CLEAN, SEEN)
    assert stat.S_IMODE(report.stat().st_mode) == 0o600
    assert "second nurse" in report.read_text(encoding="utf-8")


def test_what_an_earlier_run_left_behind_blocks_nothing(tmp_path):
    """In a container every run has the same process id."""
    (tmp_path / f".orderlint-{os.getpid()}.part").touch()
    write_file("new", str(tmp_path / "report"))
    assert (tmp_path / "report").read_text() == "new"


def test_a_part_that_somebody_planted_is_never_written_to(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "urandom", lambda _: b"guessed")
    victim = tmp_path / "victim"
    victim.write_text("old")
    (tmp_path / f".orderlint-{b'guessed'.hex()}.part").symlink_to(victim)
    with pytest.raises(CannotWrite, match="File exists"):
        write_file("new", str(tmp_path / "report"))
    assert victim.read_text() == "old"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "into"),
    [
        ("/dev/stdout", "a pipe"),
        ("/dev/stdout", "a file"),
        ("/dev/stdout", "the end of a file"),
        ("/dev/fd/1", "a pipe"),
    ],
)
def test_standard_output_by_its_names(name, into, tmp_path):
    log = tmp_path / "log"
    log.write_text("before\n")
    if into == "a pipe":
        out, _ = started("verify", *AT, "--output", name, CLEAN).communicate(timeout=60)
    else:
        with log.open("wb" if into == "a file" else "ab") as stream:
            started("verify", *AT, "--output", name, CLEAN, stdout=stream).communicate(timeout=60)
        out = log.read_bytes()
    assert out.startswith(b"before\n") == (into == "the end of a file")
    assert out.removeprefix(b"before\n") == run("verify", *AT, CLEAN).out
    assert list(tmp_path.iterdir()) == [log]


def test_standard_error_that_goes_to_a_file_is_written_on(tmp_path):
    log = tmp_path / "log"
    with log.open("wb") as stream:
        stream.write(b"before\n")
        stream.flush()
        options = ("verify", *AT, "--format", "json", "--output", "/dev/stderr", CLEAN)
        started(*options, stderr=stream).communicate(timeout=60)
    before, _, report = log.read_text(encoding="utf-8").partition("\n")
    assert (before, json.loads(report)["format"]) == ("before", 1)


def test_a_pipe_with_a_name_is_written_straight(tmp_path):
    pipe, read = tmp_path / "pipe", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: read.append(pipe.read_text(encoding="utf-8")))
    reader.start()
    assert run("verify", *AT, "--format", "json", "--output", pipe, CLEAN).status == 0
    reader.join()
    assert json.loads(read[0])["format"] == 1
    assert list(tmp_path.iterdir()) == [pipe]


def test_a_device_is_written_to_and_never_replaced():
    assert run("verify", *AT, "--output", os.devnull, CLEAN).status == 0
    ran = run("verify", *AT, "--output", "/dev/full", CLEAN)
    assert (ran.status, "No space left on device" in ran.err) == (2, True)
    assert stat.S_ISCHR(Path("/dev/full").stat().st_mode)


@pytest.mark.parametrize("option", ["--output", "--certificate"])
def test_an_empty_name_is_none(option):
    ran = run("review", option, "", CLEAN.parent / "set-irrigation-adult.yaml")
    assert (ran.status, ran.out) == (2, b"")
    assert f"{option} names no file; for standard output, leave it out." in ran.err


def test_a_read_only_file_is_told_and_left(tmp_path):
    report = tmp_path / "report"
    report.write_text("old")
    report.chmod(0o444)
    ran = run("verify", *AT, "--output", report, CLEAN)
    assert (ran.status, report.read_text()) == (2, "old")
    assert f"could not be written to {report}: the file is read-only." in ran.err


def test_a_read_only_folder_is_told(tmp_path, monkeypatch):
    """A folder that root made read-only stays open to root: so the system's answer stands in."""
    monkeypatch.setattr(os, "access", lambda path, _: Path(path) != tmp_path)
    ran = run("verify", *AT, "--output", tmp_path / "report", CLEAN)
    assert (ran.status, "its folder is read-only" in ran.err) == (2, True)
    assert list(tmp_path.iterdir()) == []


def test_a_socket_is_no_place_for_a_report(tmp_path, monkeypatch):
    monkeypatch.setattr(stat, "S_ISSOCK", lambda _: True)
    (tmp_path / "socket").touch()
    with pytest.raises(CannotWrite, match="it is not an ordinary file"):
        write_file("new", str(tmp_path / "socket"))


def test_a_stream_that_is_closed_has_no_other_name(monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    assert not output_files.is_stream("/dev/stdout", sys.stdout)
