"""What is kept of a read-back: whose it is, who goes on with it, and what becomes of it."""

from __future__ import annotations

import errno
import json
import os
import resource
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from policy_files import LOCAL, site_policy
from running import CLEAN, all_kept, run, started, the_kept

AT = ("--at", "2026-03-02T14:30:00-06:00")
PEOPLE = ["bedside nurse", "second nurse"]
SETTINGS = (
    *("lactated Ringer's", "none", "1000 mL"),
    *("mmHg", "irrigation", "2 mmHg", "8 mmHg", "22 mmHg", "60 mL/h", "on"),
    *("mmHg", "5 mmHg", "tragus", "700 mL", "right ventricle"),
)
RIGHT = [*PEOPLE, *SETTINGS]


def lines(*answers: str) -> bytes:
    return "".join(f"{answer}\n" for answer in answers).encode()


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def asked(*answers: str, order: Path | str = CLEAN, options: tuple[str | Path, ...] = ()):
    return run("readback", *AT, order, *options, stdin=lines(*answers))


def said(ran) -> str:
    return " ".join(ran.err.split())


def stopped(number: int = len(RIGHT)) -> Path:
    """The file of a read-back that was stopped after some of the right answers."""
    before = {*all_kept()}
    if number == len(RIGHT):
        ran = run("readback", *AT, "--output", "no such folder/report", CLEAN, stdin=lines(*RIGHT))
        assert ran.status == 2
    else:
        assert asked(*RIGHT[:number]).status == 3
    (kept,) = {*all_kept()} - before
    return kept


def changed(kept: Path, old: str, new: str) -> None:
    text = kept.read_text(encoding="utf-8")
    assert old in text
    kept.write_text(text.replace(old, new), encoding="utf-8")


def of_another(path: Path, monkeypatch) -> None:
    """Give a file to another user or, where one may not, have the system say that it is his."""
    if os.geteuid() == 0:
        os.chown(path, 65534, -1)
        return
    inode, fstat = path.stat().st_ino, os.fstat

    def told(opened: int) -> os.stat_result:
        found = fstat(opened)
        whose = found.st_uid + (found.st_ino == inode)
        return os.stat_result((*found[:4], whose, *found[5:]))

    monkeypatch.setattr(os, "fstat", told)


# Whose it is


def test_what_somebody_planted_in_the_working_folder_counts_for_nothing(tmp_path):
    planted = tmp_path / "clean.read-back-kept.json"
    stopped().rename(planted)
    ran = asked()
    assert (ran.status, ran.err.count("> ")) == (3, 1)
    for name in (planted.name, planted, f"./{planted.name}"):
        ran = asked("second nurse", options=("--resume", name))
        assert (ran.status, ran.out) == (2, b"")
        assert "> " not in ran.err
        assert "anybody could have put a file elsewhere. Begin the read-back anew." in said(ran)
    assert "There is no such file." in asked(options=("--resume", "read-back-x.json")).err


@pytest.mark.parametrize(
    "kind", ["a link", "a pipe", "a folder", "another's", "0644", "0660", "0400"]
)
def test_what_is_not_a_plain_file_of_ones_own_is_refused(kind, tmp_path, monkeypatch):
    kept = stopped()
    if kind == "a link":
        kept.rename(tmp_path / "elsewhere")
        kept.symlink_to(tmp_path / "elsewhere")
    elif kind in {"a pipe", "a folder"}:
        kept.unlink()
        os.mkfifo(kept) if kind == "a pipe" else kept.mkdir()
    elif kind == "another's":
        of_another(kept, monkeypatch)
    else:
        kept.chmod(int(kind, 8))
    for option in (("--resume",), ("--resume", kept.name), ("--resume", kept), ()):
        ran = asked("second nurse", options=option)
        assert (ran.status, ran.out) == (2 if option else 3, b"")
        if kind != "0400" or os.geteuid() == 0:
            assert "This is not gone on with: it" in said(ran) or "Is a directory" in said(ran)
    assert "This is not gone on with" in run("readback", "--resume").text


def test_a_link_to_a_kept_file_does_not_stand_for_it(tmp_path):
    (tmp_path / "link").symlink_to(stopped())
    ran = asked("second nurse", options=("--resume", tmp_path / "link"))
    assert (ran.status, "anybody could have put" in said(ran)) == (2, True)


@pytest.mark.parametrize("kind", ["a link", "a file", "another's", "0777", "0720", "0702"])
def test_a_folder_where_others_may_put_files_is_refused_before_any_question(
    kind, tmp_path, monkeypatch
):
    folder = stopped().parent
    if kind == "a link":
        folder.rename(tmp_path / "elsewhere")
        folder.symlink_to(tmp_path / "elsewhere")
    elif kind == "a file":
        folder.rename(tmp_path / "elsewhere")
        folder.touch()
    elif kind == "another's":
        of_another(folder, monkeypatch)
    else:
        folder.chmod(int(kind, 8))
    for ran in (asked(*RIGHT), run("readback", "--resume")):
        assert (ran.status, ran.out) == (2, b"")
        assert "What is entered cannot be kept in this folder: " in said(ran)
        assert "Set XDG_STATE_HOME to a folder of your own" in said(ran)
        assert "> " not in ran.err


def test_without_a_home_nothing_is_asked(monkeypatch):
    def nobody() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_STATE_HOME")
    monkeypatch.setattr(Path, "home", nobody)
    ran = asked(*RIGHT)
    assert (ran.status, "there is no home folder" in said(ran), "> " in ran.err) == (2, True, False)
    assert run("readback", *AT, CLEAN, CLEAN.parent / "seen-as-ordered.yaml").status == 0


@pytest.mark.parametrize("state", [None, "", "a/relative/folder"])
def test_without_a_state_folder_it_is_that_of_the_home(state, tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("XDG_STATE_HOME")
    if state is not None:
        monkeypatch.setenv("XDG_STATE_HOME", state)
    asked(*RIGHT[:5])
    assert len([*(tmp_path / "home/.local/state/orderlint").iterdir()]) == 1


@pytest.mark.parametrize("umask", [0, 0o077])
def test_folder_and_file_are_closed_to_others(umask):
    before = os.umask(umask)
    try:
        kept = stopped(5)
    finally:
        os.umask(before)
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert stat.S_IMODE(kept.parent.stat().st_mode) == 0o700


# Who goes on with it


def test_a_read_back_finds_its_own(tmp_path):
    kept = stopped(8)
    other = tmp_path / "other.yaml"
    other.write_text(CLEAN.read_text(encoding="utf-8") + "# another\n", encoding="utf-8")
    assert "Is it yours" not in said(asked(order=other))
    ran = asked("perhaps", "YES", PEOPLE[1], *RIGHT[8:])
    assert "with 6 settings entered. Keyed in by: bedside nurse. Checked by: second" in said(ran)
    assert ran.err.count("Enter yes or no.") == 1
    assert (ran.status, kept.exists()) == (0, False)


def test_one_may_begin_anew_and_what_is_kept_stays():
    kept = stopped(8)
    ran = asked("no", *RIGHT)
    assert (ran.status, the_kept()) == (0, kept)
    ran = asked("no", *RIGHT[:3])
    (other,) = {*all_kept()} - {kept}
    assert ran.err.splitlines()[-1].endswith(f"--resume {other.name}")
    assert len(json.loads(kept.read_text(encoding="utf-8"))["first"]) == 8


@pytest.mark.parametrize("answers", [(), ("stop",), ("perhaps",) * 30])
def test_stopping_at_that_question_loses_nothing(answers):
    kept = stopped(8)
    before = kept.read_bytes()
    assert asked(*answers).status == 3
    assert the_kept().read_bytes() == before


@pytest.mark.parametrize("answers", [(), ("stop",), ("back",)])
def test_stopping_before_one_says_who_checks_loses_nothing(answers):
    kept = stopped()
    before = kept.read_bytes()
    ran = asked(*answers, options=("--resume",))
    assert (ran.status, ran.out, kept.read_bytes()) == (3, b"", before)


def test_all_that_is_kept_is_compared_by_nobody_but_a_person():
    kept = stopped()
    assert asked(options=("--resume",)).out == b""
    ran = asked(" Second  NURSE ", options=("--resume", kept.name))
    assert (ran.status, "Verdict: CLEAR" in ran.text, all_kept()) == (0, True, [])
    assert "Entered already, on 2026-03-02: irrigation fluid 20:30, additive name 20:30," in said(
        ran
    )


@pytest.mark.parametrize("people", [["third nurse"], ["back", "another nurse", "second nurse"]])
def test_somebody_else_begins_anew_and_sees_no_answer(people):
    kept = stopped(10)
    before = kept.read_bytes()
    ran = asked(*people, *SETTINGS, options=("--resume",))
    assert (ran.status, kept.read_bytes(), the_kept()) == (0, before, kept)
    assert "somebody else who keyed in or checked, so all is asked anew" in said(ran)
    assert "Entered already" not in ran.err
    ran = asked(*people, *SETTINGS[:1], options=("--resume",))
    assert len(all_kept()) == 2


def test_whoever_keyed_in_does_not_go_on():
    stopped(8)
    ran = asked("Bedside nurse", "second nurse", *RIGHT[8:], options=("--resume",))
    assert (ran.status, "cannot check them" in ran.err) == (0, True)


@pytest.mark.parametrize(
    ("age", "anew"), [(30 * 60, False), (30 * 60 + 1, True), (-1, True), (10**6, True)]
)
def test_what_is_too_old_is_looked_at_again_with_all_at_its_station(age, anew):
    kept = stopped(8)
    answers = json.loads(kept.read_text(encoding="utf-8"))
    then = time.gmtime(1772483400 - age)
    answers["first"]["irrigation.bag"]["at"] = time.strftime("%Y-%m-%dT%H:%M:%SZ", then)
    kept.write_text(json.dumps(answers), encoding="utf-8")
    again = RIGHT[2:5] if anew else []
    ran = asked(PEOPLE[1], *again, *RIGHT[8:], options=("--resume", "--format", "json"))
    assert (ran.status, json.loads(ran.out)["verdict"]) == (0, "clear")
    due = "it was not entered in the last 30 min: irrigation fluid, additive name, irrigation bag."
    assert (due in said(ran)) == anew
    assert ("irrigation fluid 20:30" in said(ran)) != anew
    assert "display unit 20:30, therapy 20:30" in said(ran)


def test_back_goes_on_from_what_was_entered_before_in_the_order_of_the_questions():
    changed(stopped(8), '"at": "2026-03-02T20:30:00Z"', '"at": "2026-03-02T19:00:00Z"')
    ran = asked(*PEOPLE, RIGHT[2], "back", *RIGHT[2:], options=("--resume",))
    assert (ran.status, all_kept()) == (0, [])


def test_a_policy_without_an_age_lets_every_answer_be_but_one_of_later(tmp_path):
    policy = tmp_path / "unit.yaml"
    values = f"values: {{readback_age_max: {{value: left out, {LOCAL}}}}}\n"
    policy.write_text(site_policy(values), encoding="utf-8")
    changed(stopped(8), '"at": "2026-03-02T', '"at": "2026-01-02T')
    ran = asked(PEOPLE[1], *RIGHT[8:], options=("--resume", "--policy", policy))
    assert (ran.status, "on 2026-01-02: irrigation fluid 20:30" in said(ran)) == (0, True)
    changed(stopped(8), '"at": "2026-03-02T', '"at": "2026-03-03T')
    ran = asked(*RIGHT, options=("--resume", "--policy", policy))
    assert (ran.status, "entered later than now: irrigation fluid" in said(ran)) == (0, True)


def test_looking_began_with_the_oldest_answer_that_counts():
    kept = stopped(8)
    changed(kept, '"seen_at": "2026-03-02T20:30', '"seen_at": "2026-03-02T12:00')
    answers = json.loads(kept.read_text(encoding="utf-8"))
    answers["first"]["display_unit"]["at"] = "2026-03-02T14:15:00-06:00"
    kept.write_text(json.dumps(answers), encoding="utf-8")
    ran = asked(PEOPLE[1], *RIGHT[8:], options=("--resume",))
    assert "Settings seen at: 2026-03-02T14:15:00-06:00" in ran.text


def test_an_order_that_changed_since_is_asked_anew_and_that_is_said(tmp_path):
    order = tmp_path / "order.yaml"
    order.write_bytes(CLEAN.read_bytes())
    assert asked(*RIGHT[:8], order=order).status == 3
    kept = the_kept()
    order.write_bytes(CLEAN.read_bytes().replace(b"rate: 60", b"rate: 50"))
    ran = asked(*RIGHT, "60 mL/h", order=order)
    assert "the order has changed since, so all is asked anew." in said(ran)
    assert (ran.status, the_kept()) == (1, kept)
    ran = asked(*RIGHT, order=order, options=("--resume",))
    assert "No read-back of this order, as it is now, is kept" in said(ran)
    ran = asked(*RIGHT, order=order, options=("--resume", kept.name))
    assert (ran.status, "before the order changed" in said(ran)) == (2, True)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"keyed_by": {', '"keyed_in_by": {'),
        ('"entered": "second nurse"', '"entered": "Bedside nurse"'),
        ('"entered": "1000 mL"', '"entered": "1000"'),
        ('"entered": "1000 mL"', '"entered": ["1000 mL"]'),
        ('"entered": "1000 mL"', '"entered": ""'),
        ('"seen_at": "2026', '"seen_at": "soon'),
        ('"at": "2026', '"at": "soon'),
        ('"at": "2026', '"on": "2026'),
        ('"again": {}', '"again": {"pause.upper": {"entered": "22 mmHg", "at": "x"}}'),
        ('"again": {}', '"again": []'),
        ('"first": {', '"first": {"keyed_by": "bedside nurse", '),
        (',\n  "again": {}', ""),
        ('"format": 2', '"format": 1'),
        ("read-back-kept", "order"),
        ("{", "["),
    ],
)
def test_a_kept_file_that_was_changed_is_refused_where_it_was(old, new):
    kept = stopped(5)
    changed(kept, old, new)
    ran = asked(*RIGHT[5:], options=("--resume",))
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err.startswith(f"{kept}:")
    assert f"{kept}:" in run("readback", "--resume").out.decode().replace("\n", " ")


# All that is kept


def test_resume_alone_lists_what_is_kept_each_with_its_command(tmp_path):
    assert run("readback", "--resume").out == b"No read-back that was stopped is kept.\n"
    first, second = stopped(5), None
    order = tmp_path / "an order.yaml"
    order.write_bytes(CLEAN.read_bytes() + b"# another\n")
    asked(*RIGHT[:1], order=order)
    (second,) = {*all_kept()} - {first}
    ran = run("readback", "--resume")
    assert ran.text.index(second.name) < ran.text.index(first.name)
    assert "with 3 settings entered. Keyed in by: bedside nurse. Checked by: second" in ran.text
    assert f"orderlint readback '{order}' --resume {second.name}" in ran.out.decode().splitlines()
    assert f"They are kept in {first.parent}." in ran.text
    run("readback", "--resume", "--output", "list")
    assert Path("list").read_bytes() == ran.out
    assert stat.S_IMODE(Path("list").stat().st_mode) == 0o600


def test_an_order_may_stand_after_resume():
    stopped()
    assert run("readback", *AT, "--resume", CLEAN, stdin=lines(PEOPLE[1])).status == 0
    assert "Missing argument 'ORDER'" in run("readback").err


# What becomes of it


@pytest.mark.slow
def test_two_at_once_never_share_one():
    with started("readback", *AT, CLEAN, stdin=subprocess.PIPE) as first:
        first.stdin.write(lines(*RIGHT[:3]))
        first.stdin.flush()
        prompts = 0
        while prompts < 4:
            prompts += first.stderr.read(1) == b">"
        kept = the_kept()
        second = asked(*RIGHT[:5])
        assert "Is it yours" not in second.err
        assert len(all_kept()) == 2
        ran = asked(options=("--resume", kept.name))
        assert (ran.status, "Another read-back has this file" in ran.err) == (2, True)
        _, err = first.communicate(lines(*RIGHT[3:], "x"), timeout=60)
    assert (first.returncode, kept.exists(), b"Traceback" in err) == (0, False, False)
    assert len(json.loads(the_kept().read_bytes())["first"]) == 5


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "how"),
    [(1, signal.SIGKILL), (9, signal.SIGTERM), (10, signal.SIGHUP), (16, signal.SIGKILL)],
)
def test_a_kill_at_a_prompt_loses_nothing(number, how):
    with started("readback", *AT, CLEAN, stdin=subprocess.PIPE) as process:
        process.stdin.write(lines(*RIGHT[:number]))
        process.stdin.flush()
        prompts = 0
        while prompts <= number:
            prompts += process.stderr.read(1) == b">"
        process.send_signal(how)
        process.communicate(timeout=60)
    assert process.returncode == -how
    assert len(json.loads(the_kept().read_bytes())["first"]) == number
    ran = asked(*(PEOPLE[1:] if number > 1 else []), *RIGHT[number:], options=("--resume",))
    assert (ran.status, all_kept()) == (0, [])


KILLED = """
import os, signal, sys
from orderlint.cli import main
calls, done = 0, os.{call}
def once(*given, **more):
    global calls
    calls += 1
    if calls == 4:
        os.kill(os.getpid(), signal.SIGKILL)
    return done(*given, **more)
os.{call} = once
main(sys.argv[1:])
"""


@pytest.mark.slow
@pytest.mark.parametrize("call", ["fsync", "replace", "fchmod"])
def test_a_kill_within_a_write_leaves_the_last_whole_one(call):
    command = [sys.executable, "-P", "-c", KILLED.format(call=call), "readback", *AT, str(CLEAN)]
    process = subprocess.run(command, input=lines(*RIGHT), capture_output=True, check=False)
    assert process.returncode == -signal.SIGKILL
    kept = the_kept()
    (part,) = [path for path in all_kept() if path.suffix == ".part"]
    assert len(json.loads(kept.read_bytes())["first"]) == 3
    assert stat.S_IMODE(part.stat().st_mode) == 0o600
    run("readback", "--resume")
    assert part.exists()
    os.utime(part, (0, 0))
    assert asked(PEOPLE[1], *RIGHT[3:], options=("--resume",)).status == 0
    assert all_kept() == []


@pytest.mark.parametrize("call", ["readback_session.read_back", "readback.write_result"])
def test_an_interrupt_after_the_last_answer_loses_nothing(call, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(f"orderlint.cli.{call}", interrupted)
    ran = asked(*RIGHT)
    assert (ran.status, ran.out) == (130, b"")
    assert "Stopped before the whole comparison was written. What was entered is kept." in said(ran)
    assert len(json.loads(the_kept().read_bytes())["first"]) == len(RIGHT)


@pytest.mark.slow
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_report_that_is_cut_short_leaves_what_was_entered(unbuffered, tmp_path):
    def little_room() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    options = {"env": {**os.environ, "PYTHONUNBUFFERED": unbuffered}, "preexec_fn": little_room}
    with (tmp_path / "report").open("wb") as report:
        command = ("readback", *AT, "--format", "html", CLEAN)
        process = started(*command, stdin=-1, stdout=report, **options)
        _, err = process.communicate(lines(*RIGHT), timeout=60)
    assert (tmp_path / "report").stat().st_size == 4096
    assert (process.returncode, b"could not be written" in err) == (2, True)
    assert len(json.loads(the_kept().read_bytes())["first"]) == len(RIGHT)


def test_where_neither_answers_nor_report_can_be_written_the_answers_are_shown(monkeypatch):
    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    ran = run("readback", *AT, "--output", "report", CLEAN, stdin=lines(*RIGHT))
    assert (ran.status, [*Path.cwd().iterdir(), *all_kept()]) == (2, [])
    shown = said(ran).split("What was entered could not be kept. It was:")[1]
    assert all(answer in shown for answer in RIGHT)


def test_a_full_disk_when_going_on_leaves_the_earlier_answers(monkeypatch):
    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    kept = stopped(8)
    before = kept.read_bytes()
    monkeypatch.setattr(os, "fsync", full)
    ran = asked(PEOPLE[1], *RIGHT[8:10], options=("--resume",))
    assert (ran.status, the_kept().read_bytes()) == (3, before)
    assert "irrigation rate: 60 mL/h" not in said(ran)
    assert "treat-above level: 8 mmHg" in said(ran)


def test_a_disk_without_locks_keeps_nothing_and_shows_all(monkeypatch):
    def refused(*_):
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    kept = stopped(8)
    monkeypatch.setattr("fcntl.flock", refused)
    ran = asked(PEOPLE[1], options=("--resume", kept.name))
    assert (ran.status, "it cannot be locked (No locks available)" in said(ran)) == (2, True)
    ran = asked(*RIGHT[:3])
    assert (ran.status, the_kept(), ran.err.count("No locks available")) == (3, kept, 2)
    assert "irrigation fluid: lactated Ringer's" in said(ran)


def test_what_could_not_be_deleted_is_told(monkeypatch):
    unlink = os.unlink

    def refused(name, **where):
        if str(name).endswith(".json"):
            raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))
        unlink(name, **where)

    monkeypatch.setattr(os, "unlink", refused)
    ran = asked(*RIGHT)
    assert (ran.status, "Verdict: CLEAR" in ran.text) == (0, True)
    said_of = f"still in {the_kept()}, and could not be deleted: Operation not permitted. Delete it"
    assert said_of in said(ran)


def test_what_is_there_again_after_it_was_deleted_is_told(monkeypatch):
    monkeypatch.setattr(os, "unlink", lambda *_, **__: None)
    ran = asked(*RIGHT)
    assert (ran.status, "could not be deleted: it is there again. Delete it" in said(ran)) == (
        0,
        True,
    )


@pytest.mark.parametrize(("length", "status"), [(240, 0), (255, 0), (256, 2), (5000, 2)])
def test_the_name_of_an_order_may_be_long(length, status, tmp_path):
    name = "x" * (length - 5) + ".yaml"
    if not status:
        (tmp_path / name).write_bytes(CLEAN.read_bytes())
    ran = asked(*RIGHT, order=name)
    assert (ran.status, "Traceback" in ran.err) == (status, False)


def test_an_order_with_many_digits_in_its_name_is_read_back(tmp_path):
    order = tmp_path / f"{'7' * 200}.yaml"
    order.write_bytes(CLEAN.read_bytes())
    assert asked(*RIGHT[:8], order=order).status == 3
    assert asked("yes", PEOPLE[1], *RIGHT[8:], order=order).status == 0


def test_an_order_whose_name_is_no_text_is_read_back(tmp_path):
    order = os.fsdecode(os.fsencode(tmp_path) + b"/\xff \xe2\x80\xae.yaml")
    Path(order).write_bytes(CLEAN.read_bytes())
    assert asked(*RIGHT[:8], order=order).status == 3
    assert "\\u{DCFF} \\u{202E}.yaml. It began at" in run("readback", "--resume").text
    assert asked("yes", PEOPLE[1], *RIGHT[8:], order=order).status == 0
