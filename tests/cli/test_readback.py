"""The read-back in this process: its questions, what it keeps, and how it ends."""

from __future__ import annotations

import errno
import io
import json
import os
import shlex
import stat
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from policy_files import LOCAL, site_policy, suppression
from running import CLEAN, all_kept, run, started, the_kept

from orderlint.cli.readback_prompts import LONGEST
from orderlint.fields import load_schema
from orderlint.readback.checklist import SETTINGS

FOLDER = CLEAN.parent
AT = ("--at", "2026-03-02T14:30:00-06:00")
REPORTS = Draft202012Validator(load_schema("readback"))
PEOPLE = ["bedside nurse", "second nurse"]
BAG = ["lactated Ringer's", "none", "1000 mL"]
CONTROLLER = ["mmHg", "irrigation", "2 mmHg", "8 mmHg", "22 mmHg", "60 mL/h", "on"]
POLE = ["mmHg", "5 mmHg", "tragus", "700 mL", "right ventricle"]
RIGHT = [*PEOPLE, *BAG, *CONTROLLER, *POLE]
UPPER = RIGHT.index("22 mmHg")


def lines(*answers: str) -> bytes:
    return "".join(f"{answer}\n" for answer in answers).encode()


def but(number: int, *answers: str) -> list[str]:
    """The right answers, with others in place of one."""
    return [*RIGHT[:number], *answers, *RIGHT[number + 1 :]]


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def asked(*answers: str, order: Path | str = CLEAN, options: tuple[str, ...] = ()):
    return run("readback", *AT, *options, order, stdin=lines(*answers))


def test_the_right_settings_are_clear_and_nothing_is_left_behind():
    ran = asked(*RIGHT)
    assert (ran.status, "Verdict: CLEAR" in ran.text) == (0, True)
    assert [*Path.cwd().iterdir(), *all_kept()] == []


def test_a_unit_slip_is_looked_at_again_before_it_is_shown():
    ran = asked(*but(UPPER, "22 cmH2O"), "22 cmH2O")
    assert ran.status == 1
    assert (
        "ordered as 22 mmHg (about 29.9 cmH2O), and seen as 22 cmH2O (about 16.2 mmHg)" in ran.text
    )
    assert ran.err.count("Upper pause limit") == 2
    ran = asked(*but(UPPER, "22 cmH2O"), "22 mmHg")
    assert (ran.status, "at the first look: 22 cmH2O" in ran.text) == (0, True)


@pytest.mark.parametrize(
    ("entry", "reason"),
    [
        ("", "Nothing was entered."),
        ("22", "without a unit"),
        ("22 bar", "is not a unit used for settings here"),
        ("22 mL", "is not a unit of pressure"),
        ("2,2 mmHg", "can be misread"),
        ("a lot", "is a text that is not a number"),
        ("22.123456 mmHg", "more decimals"),
        ("9999 mmHg", "beyond anything"),
        ("x" * (LONGEST + 1), "too long"),
        ("22\u202e mmHg", "characters that do not show"),
        ("x" * 100_000, "too long"),
        (f"{'1' * 41} mmHg", "too long"),
    ],
)
def test_nonsense_is_asked_again_with_a_reason(entry, reason):
    ran = asked(*but(UPPER, entry, "22 mmHg"))
    assert reason in " ".join(ran.err.split())
    assert (ran.status, "Verdict: CLEAR" in ran.text) == (0, True)


def test_bytes_that_are_no_text_are_asked_again():
    stdin = lines(*RIGHT[:UPPER]) + b"\xff mmHg\n" + lines(*RIGHT[UPPER:])
    ran = run("readback", *AT, CLEAN, stdin=stdin)
    assert (ran.status, "is no text" in ran.err) == (0, True)


def test_who_keyed_in_and_who_checks_differ_and_are_somebody():
    ran = asked("none", "a nurse", " A  Nurse ", "", "another nurse", *RIGHT[2:])
    assert ran.status == 0
    assert ran.err.count("Enter a role or a name.") == 2
    assert "cannot check them" in ran.err


def test_back_takes_the_entry_before_anew():
    ran = asked("back", *but(UPPER, "23 mmHg", "back", "22 mmHg"))
    assert (ran.status, "no entry before this one" in ran.err) == (0, True)


def test_no_bag_has_no_additive_and_no_volume_to_ask_for():
    ran = asked(*PEOPLE, "not set", *CONTROLLER, *POLE, "lactated Ringer's", "none", "1 L")
    assert ran.status == 0
    first, second = ran.err.split("All is entered.")
    assert "Additive" not in first
    assert "Additive" in second


def test_a_drug_that_is_not_ordered():
    drug = ("a drug", "10 mg/L")
    ran = asked(*PEOPLE, BAG[0], *drug, BAG[2], *CONTROLLER, *POLE, *drug)
    assert ran.status == 1
    assert "The additive is seen as a drug, 10 mg/L, and the order has none." in ran.text


def test_a_second_look_that_finds_no_drug_leaves_nothing_of_the_first():
    ran = asked(*PEOPLE, BAG[0], "a drug", "10 mg/L", BAG[2], *CONTROLLER, *POLE, "none")
    assert (ran.status, "Verdict: CLEAR" in ran.text) == (0, True)
    assert "The additive name was looked at twice; at the first look: a drug." in ran.text


OTHER = {
    "22 mmHg}": "18 mmHg}",
    "treat_above: 8 mmHg": "treat_above: 10 cmH2O",
    "rate: 60": "rate: 40",
    "height: 5": "height: -3",
    "alarms: on": "alarms: off",
    "fluid: lactated Ringer's": "fluid: sodium chloride 0.9 %",
    "additive: none": "additive: {name: a drug, concentration: 10 mg/L, class: other}",
    "landmark: tragus": "landmark: foramen of Monro",
}


def two_orders(tmp_path, changes):
    """Folders with an order.yaml each, which differ only in these values."""
    text = CLEAN.read_text(encoding="utf-8")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    for name, content in (("one", CLEAN.read_text(encoding="utf-8")), ("other", text)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "order.yaml").write_text(content, encoding="utf-8")
    return tmp_path / "one", tmp_path / "other"


def test_until_the_last_setting_two_orders_give_the_same_bytes(tmp_path, monkeypatch):
    screens = []
    for folder in two_orders(tmp_path, OTHER):
        monkeypatch.chdir(folder)
        ran = asked(*but(UPPER, "22", "", "22 mmHg", "back", "20 mmHg")[:-1], order="order.yaml")
        assert (ran.status, ran.out) == (3, b"")
        screens.append(ran.err.encode())
    assert screens[0] == screens[1]


def test_a_second_look_names_the_setting_and_nothing_of_what_is_ordered(tmp_path, monkeypatch):
    screens = []
    for folder in two_orders(tmp_path, {"22 mmHg}": "18 mmHg}"}):
        monkeypatch.chdir(folder)
        ran = asked(*but(UPPER, "30 mmHg"), "30", "30 cmH2O", order="order.yaml")
        screens.append(ran.err.encode())
    assert screens[0] == screens[1]
    assert b"18" not in screens[0]


class Interrupted(io.BytesIO):
    """Standard input in which somebody interrupts at one of the prompts."""

    def __init__(self, data: bytes, at: int) -> None:
        super().__init__(data)
        self.left = at

    def readline(self, size: int | None = -1) -> bytes:
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt
        return super().readline(size)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(len(RIGHT) + 1))
@pytest.mark.parametrize("how", ["interrupt", "end", "stop"])
def test_stopping_at_each_prompt_keeps_all_and_resuming_ends_it(number, how):
    answers = but(UPPER, "22 cmH2O")
    if how == "interrupt":
        stdin = Interrupted(lines(*answers), number)
    else:
        stdin = io.BytesIO(lines(*answers[:number], *(["stop"] if how == "stop" else [])))
    ran = run("readback", *AT, CLEAN, stdin=stdin)
    assert (ran.status, ran.out) == (130 if how == "interrupt" else 3, b"")
    assert "Traceback" not in ran.err
    assert len(all_kept()) == (number > 0)
    if number:
        assert stat.S_IMODE(the_kept().stat().st_mode) == 0o600
        kept = json.loads(the_kept().read_text(encoding="utf-8"))
        assert [answer["entered"] for answer in kept["first"].values()] == answers[:number]
        people = PEOPLE[1:] if number > 1 else []
        ran = asked(*people, *answers[number:], "22 mmHg", options=("--resume",))
        assert (ran.status, "Verdict: CLEAR" in ran.text) == (0, True)
        assert all_kept() == []


def test_a_stop_at_a_second_look_is_resumed_there():
    answers = [*PEOPLE, BAG[0], "a drug", "10 mg/L", BAG[2], *CONTROLLER, *POLE, "a drug", "stop"]
    assert asked(*answers).status == 3
    ran = asked(PEOPLE[1], "10 mg/L", options=("--resume",))
    assert (ran.status, "seen-not-ordered" in ran.text) == (1, True)


@pytest.mark.parametrize("folder", ["ward", "a ward of a long name " * 4])
def test_the_command_that_goes_on_is_one_line_that_can_be_copied(tmp_path, folder):
    order = tmp_path / folder / "clean.yaml"
    order.parent.mkdir()
    order.write_bytes(CLEAN.read_bytes())
    stopped = asked(*RIGHT[:5], order=order).err.splitlines()[-1]
    program, verb, *arguments = shlex.split(stopped)
    assert (program, verb) == ("orderlint", "readback")
    assert run(verb, *AT, *arguments, stdin=lines(PEOPLE[1], *RIGHT[5:])).status == 0


@pytest.mark.parametrize("offset", ["-06:00", "+05:45", "+00:00", "Z"])
def test_seen_and_compared_are_on_one_clock(offset):
    seen_at = {"-06:00": "14:20:00", "+05:45": "02:05:00"}.get(offset, "20:20:00")
    day = "03" if offset == "+05:45" else "02"
    ran = run("readback", *AT, CLEAN, SEEN, "--set", f"seen_at=2026-03-{day}T{seen_at}{offset}")
    compared = {"-06:00": "02T14:30:00-06:00", "+05:45": "03T02:15:00+05:45"}
    assert f"Compared at: 2026-03-{compared.get(offset, '02T20:30:00Z')}" in ran.text
    assert ran.status == 0


def test_what_cannot_be_kept_is_told_once_and_shown_when_stopping(monkeypatch):
    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    ran = asked(*RIGHT[:UPPER], "stop")
    assert (ran.status, ran.err.count("No space left on device")) == (3, 1)
    assert "lower pause limit: 2 mmHg" in ran.err
    assert [*Path.cwd().iterdir(), *all_kept()] == []
    assert asked(*RIGHT).status == 0


@pytest.mark.slow
def test_a_report_that_cannot_be_written_leaves_what_was_entered():
    with Path("/dev/full").open("wb") as full:
        process = started("readback", *AT, CLEAN, stdin=-1, stdout=full)
        _, err = process.communicate(lines(*RIGHT), timeout=60)
    assert (process.returncode, b"Traceback" in err) == (2, False)
    assert b"The comparison could not be written. What was entered is kept. Go on with:" in err
    assert len(json.loads(the_kept().read_text(encoding="utf-8"))["first"]) == len(RIGHT)


@pytest.mark.slow
def test_a_report_that_nobody_reads_leaves_what_was_entered():
    with started("readback", *AT, CLEAN, stdin=-1) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        process.stdout.close()
        process.stdin.write(lines(*RIGHT))
        process.stdin.close()
        assert process.stderr is not None
        assert (
            b"Nobody read the whole comparison. What was entered is kept." in process.stderr.read()
        )
        assert process.wait(timeout=60) == 0
    assert len(all_kept()) == 1


def test_a_full_disk_behind_the_questions_is_no_fault():
    with Path("/dev/full").open("wb") as full:
        process = started("readback", *AT, CLEAN, stdin=-1, stderr=full)
        process.communicate(lines(*RIGHT), timeout=60)
    assert process.returncode == 3


@pytest.mark.slow
@pytest.mark.parametrize("number", [0, 1, 8])
def test_a_reader_of_the_questions_that_goes_away(number):
    with started("readback", *AT, CLEAN, stdin=-1) as process:
        assert process.stdin is not None
        assert process.stderr is not None
        process.stdin.write(lines(*RIGHT[:number]))
        process.stdin.flush()
        prompts = 0
        while prompts <= number:
            prompts += process.stderr.read(1) == b">"
        process.stderr.close()
        process.stdin.write(lines(*RIGHT[number:]))
        process.stdin.close()
        assert process.wait(timeout=60) == 3
    if number:
        kept = json.loads(the_kept().read_text(encoding="utf-8"))
        answers = [answer["entered"] for answer in kept["first"].values()]
        assert answers[:number] == RIGHT[:number]


def test_a_prompt_fits_a_plain_terminal():
    ran = run("readback", *AT, CLEAN, stdin=lines(*but(UPPER, "22", "22 cmH2O"), "22 mmHg"))
    assert max(map(len, ran.err.splitlines())) < 80
    assert ran.err.replace("“", "").replace("”", "").isascii()
    assert "\x1b" not in ran.err
    assert "\r" not in ran.err


SEEN = FOLDER / "seen-as-ordered.yaml"


def test_a_setting_is_given_without_questions():
    ran = run("readback", *AT, CLEAN, SEEN, "--set", "pause.upper=22 cmH2O")
    assert (ran.status, ran.err) == (1, "")
    assert "seen-unit-differs" in ran.text


def test_what_nobody_gave_was_not_seen():
    ran = run("readback", *AT, "--format", "json", CLEAN, "--set", "pause.upper=22 mmHg")
    made = json.loads(ran.out)
    outcomes = {row["path"]: row["outcome"] for row in made["settings"]}
    assert outcomes.pop("pause.upper") == "equal"
    assert set(outcomes.values()) == {"ordered and not seen"}
    lacking = {rule["rule"] for rule in made["unchecked"]}
    assert lacking == {"checker-not-independent", "seen-too-old", "read-back-past-review"}


def test_no_additive_may_be_set():
    ran = run("readback", *AT, CLEAN, SEEN, "--set", "irrigation.additive=none")
    assert ran.status == 0


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["--set", "pause.upper=22"], "without a unit"),
        (["--set", "pause.uper=22 mmHg"], "'pause.uper' is none of"),
        (["--set", "pause.upper"], "has nothing after it"),
        (["--set", "therapy=drainage", "--set", "therapy=irrigation"], "set twice"),
        (["--set", "therapy=drainage", "--resume", "x"], "nothing is asked"),
        (["--resume", CLEAN], "anybody could have put a file elsewhere. Begin the read-back anew."),
        (["--resume"], "No read-back of this order, as it is now, is kept"),
        ([CLEAN], "This is an order; settings seen at the bedside is wanted here."),
        ([SEEN, "--output", SEEN], "it would be lost"),
    ],
)
def test_wrong_usage(arguments, reason):
    ran = run("readback", *AT, CLEAN, *arguments, stdin=lines(*RIGHT))
    assert (ran.status, ran.out) == (2, b"")
    assert reason in " ".join(ran.err.split())


def test_standard_input_has_the_answers_or_one_file():
    assert "has the answers" in run("readback", *AT, "-", stdin=CLEAN.read_bytes()).err
    assert run("readback", *AT, "-", "-", stdin=CLEAN.read_bytes()).status == 2
    assert run("readback", *AT, "-", SEEN, stdin=CLEAN.read_bytes()).status == 0


@pytest.mark.parametrize("seen", ["seen-as-ordered.yaml", "seen-in-the-other-unit.yaml"])
@pytest.mark.parametrize("order", ["clean.yaml", "drainage-only.yaml", "rate-without-unit.yaml"])
def test_json_is_as_the_schema_says(order, seen):
    ran = run("readback", *AT, "--format", "json", FOLDER / order, FOLDER / seen)
    made = json.loads(ran.out)
    assert [error.message for error in REPORTS.iter_errors(made)] == []
    assert len({row["path"] for row in made["settings"]}) >= len(SETTINGS) - 1


def test_the_schema_of_reports_has_its_parts_from_that_of_findings():
    Draft202012Validator.check_schema(REPORTS.schema)
    shared, own = load_schema("findings")["$defs"], REPORTS.schema["$defs"]
    assert {name for name in own if name in shared and own[name] != shared[name]} == set()


def test_the_sheet_has_blanks_where_a_person_must_look():
    ran = run("readback", *AT, "--format", "json", CLEAN, SEEN)
    sheet = {line["label"]: line["value"] for line in json.loads(ran.out)["sheet"]}
    for label in ("Side", "Clamps", "Waveform", "Alarm limits", "Outflow seen", "Last zeroed at"):
        assert sheet[label] is None
    assert sheet["Checked by"] == "second nurse"
    assert len(sheet["SHA-256"]) == 64


def test_a_policy_is_compared_by():
    policy = FOLDER / "policy-adult-unit.yaml"
    ran = run("readback", *AT, "--policy", policy, CLEAN, SEEN)
    assert "adult neurocritical care unit" in ran.text


def test_no_policy_accepts_what_the_double_check_finds(tmp_path):
    policy = tmp_path / "unit.yaml"
    policy.write_text(site_policy(suppression("checker-not-independent")), encoding="utf-8")
    ran = run("readback", *AT, "--policy", policy, "--set", "keyed_by=second nurse", CLEAN, SEEN)
    assert (ran.status, "Rule: checker-not-independent" in ran.text) == (1, True)
    assert "nobody looks again after the double check" in ran.text


def test_nothing_is_clear_where_a_policy_hides_what_is_ordered_and_seen(tmp_path):
    order, policy = tmp_path / "order.yaml", tmp_path / "unit.yaml"
    text = CLEAN.read_text(encoding="utf-8").replace("alarms: on", "alarms: off")
    order.write_text(text, encoding="utf-8")
    policy.write_text(site_policy(suppression("alarms-off")), encoding="utf-8")
    ran = run("readback", *AT, "--policy", policy, "--set", "monitoring.alarms=off", order, SEEN)
    assert (ran.status, "Verdict: NOTE" in ran.text) == (0, True)
    assert "1 finding is suppressed by the policy" in ran.text
    assert "Suppressed until 2030-01-01T00:00:00Z: invented" in ran.text


def test_a_policy_that_is_weaker_or_leaves_the_age_out_is_named(tmp_path):
    policy = tmp_path / "unit.yaml"
    local, step = f", {LOCAL}}}", "{by: drainage.scale, mmHg: 5 mmHg, cmH2O: 1 cmH2O"
    values = f"drain_scale_step: {step}{local}, readback_age_max: {{value: left out{local}"
    policy.write_text(site_policy(f"values: {{{values}}}\n"), encoding="utf-8")
    text = run("readback", *AT, "--policy", policy, CLEAN, SEEN).text
    assert "weaker than the built-in policy in: step of the drain's scale for mmHg" in text
    assert "gives no longest age of settings seen: seen-too-old." in text


def test_an_active_order_says_what_not_to_do(tmp_path):
    order = tmp_path / "active.yaml"
    text = CLEAN.read_text(encoding="utf-8").replace("status: draft", "status: active")
    order.write_text(text, encoding="utf-8")
    ran = run("readback", *AT, order, FOLDER / "seen-in-the-other-unit.yaml")
    assert ran.text.startswith("Already running? Do not clamp")
    assert "Do not start" not in ran.text.split("Verdict:")[1].split("Upper pause")[0][20:]
