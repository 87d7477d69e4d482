from __future__ import annotations

import importlib
import json
import os
import subprocess
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from running import AT, CLEAN, run, started

from orderlint.fields import load_schema
from orderlint.finding import Refused

ORDER = CLEAN.read_bytes()
CROSSED = ORDER.replace(b"lower: 2 mmHg", b"lower: 40 mmHg")
FINDINGS = Draft202012Validator(load_schema("findings"))


@pytest.fixture
def crossed(tmp_path: Path) -> Path:
    """An order with its pause limits the wrong way round."""
    path = tmp_path / "crossed.yaml"
    path.write_bytes(CROSSED)
    return path


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    """A file that is refused at line 3, column 4."""
    path = tmp_path / "broken.yaml"
    path.write_bytes(b"document: order\nformat: 1\nid: &a b\n")
    return path


def parsed(ran):
    data = json.loads(ran.out)
    assert [error.message for error in FINDINGS.iter_errors(data)] == []
    return data


def test_the_clean_order_is_clear_and_0():
    ran = run("verify", "--detail", "--fail-at", "note", *AT, CLEAN)
    assert (ran.status, ran.err) == (0, "")
    assert "Verdict: CLEAR" in ran.text
    assert "as of 2026-03-02T21:30:00Z" in ran.text


def test_a_finding_is_1(crossed):
    ran = run("verify", "--detail", *AT, crossed)
    assert (ran.status, ran.err) == (1, "")
    assert "Verdict: DO NOT START – CALL" in ran.text
    assert "Rule: pause-limits-reversed" in ran.text
    assert f"{crossed}:22:16" in ran.text


def test_without_a_time_it_is_now():
    ran = run("verify", "--format", "json", CLEAN)
    assert parsed(ran)["documents"][0]["checked"]["at"] > "2025"


@pytest.mark.parametrize(("level", "status"), [("do-not-start", 0), ("clarify", 1), ("note", 1)])
def test_fail_at(level, status, tmp_path):
    order = tmp_path / "order.yaml"
    order.write_bytes(ORDER.replace(b"lower: 2 mmHg", b"lower: -2 mmHg"))
    ran = run("verify", "--detail", "--fail-at", level, *AT, order)
    assert "Rule: lower-pause-negative" in ran.text
    assert "Verdict: CLARIFY" in ran.text
    assert ran.status == status


def test_standard_input_has_a_name_of_its_own():
    ran = run("verify", "--detail", *AT, "-", stdin=CROSSED)
    assert ran.status == 1
    assert "<stdin>:22:16" in ran.text
    assert run("verify", *AT, "-", stdin=ORDER).status == 0


def test_standard_input_that_is_refused():
    ran = run("verify", "-")
    assert (ran.status, ran.err) == (2, "<stdin>: The file is empty.\n")


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("no-such.yaml", "There is no such file."),
        (".", "This is a directory, not a file."),
        ("o\x1brder.yaml", "There is no such file."),
        ("a\nb: all is well", "There is no such file."),
        ("no\udcff.yaml", "There is no such file."),
        ("a" * 5000, "The file cannot be read: File name too long."),
        ("a\0b", "The file cannot be read: it is not a file name."),
    ],
)
def test_a_file_that_cannot_be_read_is_2(name, reason, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = run("verify", name)
    shown = "".join(c if c.isprintable() else f"\\u{{{ord(c):04X}}}" for c in name)
    assert (ran.status, ran.out, ran.err) == (2, b"", f"{shown}: {reason}\n")


def test_a_file_without_permission_is_2(tmp_path, monkeypatch):
    order = tmp_path / "order.yaml"
    order.write_bytes(ORDER)

    def deny(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", deny)
    ran = run("verify", order)
    assert ran.status == 2
    assert ran.err == f"{order}: There is no permission to read this file.\n"


def test_no_more_of_a_file_is_read_than_may_be():
    if not Path("/dev/zero").exists():
        pytest.skip("needs an endless file")
    ran = run("verify", "/dev/zero")
    assert (ran.status, ran.err) == (
        2,
        "/dev/zero: The file is larger than 1 MiB, the most that is read.\n",
    )


def test_a_refusal_keeps_no_other_file_from_being_reported(broken, crossed):
    ran = run("verify", *AT, broken, CLEAN, crossed)
    assert ran.status == 2
    assert ran.err.startswith(f"{broken}:3:5: Anchors")
    assert ran.text.count("Verdict: CLEAR") == 1
    assert ran.text.count("Verdict: DO NOT START") == 1


def test_json_holds_all_of_them(broken, crossed):
    ran = run("verify", "--format", "json", *AT, broken, CLEAN, crossed, "no-such")
    data = parsed(ran)
    assert ran.status == 2
    assert [document["verdict"] for document in data["documents"]] == ["clear", "do-not-start"]
    assert [refused["file"] for refused in data["refused"]] == [str(broken), "no-such"]
    assert data["refused"][0]["place"] == {"file": str(broken), "line": 3, "column": 5}
    assert data["documents"][0]["checked"]["at"] == "2026-03-02T21:30:00Z"


@pytest.fixture
def faulty(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tool fails on standard input, and on nothing else."""
    room = importlib.import_module("orderlint.verification")
    honest = room.verify_order

    def fail(order, at, rulebook):
        if order.file == "<stdin>":
            raise ZeroDivisionError("secret of the order")
        return honest(order, at, rulebook)

    monkeypatch.setattr(room, "verify_order", fail)


@pytest.mark.usefixtures("faulty")
def test_an_internal_fault_is_70_and_the_others_are_reported(crossed, broken):
    ran = run("verify", *AT, broken, "-", crossed, stdin=ORDER)
    assert ran.status == 70
    assert ran.text.count("Verdict:") == 1
    fault = ran.err.splitlines()[1]
    assert fault.startswith("orderlint: <stdin> was not checked: the tool itself failed")
    assert "not a finding about the order (ZeroDivisionError at orderlint/api/verbs.py:" in fault
    assert "secret" not in ran.err
    assert "Traceback" not in ran.err


@pytest.mark.usefixtures("faulty")
def test_an_internal_fault_stands_in_json():
    ran = run("verify", "--format", "json", "-", stdin=ORDER)
    data = parsed(ran)
    assert (ran.status, data["documents"]) == (70, [])
    assert data["faults"][0]["file"] == "<stdin>"
    assert "ZeroDivisionError" in data["faults"][0]["message"]


@pytest.mark.usefixtures("faulty")
def test_a_report_in_a_file_says_what_is_not_in_it(broken, tmp_path):
    output = tmp_path / "report.txt"
    ran = run("verify", "--output", output, "-", broken, CLEAN, stdin=ORDER)
    assert (ran.status, ran.out) == (70, b"")
    text = " ".join(output.read_text("utf-8").split())
    assert "Verdict: CLEAR" in text
    assert f"NOT CHECKED. {broken}:3:5: Anchors" in text
    assert "NOT CHECKED. orderlint: <stdin> was not checked: the tool itself failed" in text


def test_rules_of_ours_that_do_not_load_are_a_fault_and_no_refusal(monkeypatch):
    def fail(purpose):
        raise Refused(f"a rule on an {purpose} is not well made", "rules/band.yaml")

    monkeypatch.setattr(importlib.import_module("orderlint.api.policies"), "load", fail)
    assert run("verify", CLEAN).status == 70


@pytest.mark.parametrize("form", ["text", "json"])
def test_output_goes_to_a_file_as_it_would_to_standard_output(form, crossed, tmp_path):
    output = tmp_path / "report"
    options = ("verify", "--format", form, *AT)
    ran = run(*options, "--output", output, crossed)
    assert (ran.status, ran.out, ran.err) == (1, b"", "")
    assert output.read_bytes() == run(*options, crossed).out
    assert run(*options, "--output", "-", crossed).out == output.read_bytes()


def test_output_over_an_order_is_refused_and_the_order_stays(crossed):
    ran = run("verify", "--output", crossed.parent / "." / crossed.name, CLEAN, crossed)
    assert ran.status == 2
    assert "it would be lost" in ran.err
    assert crossed.read_bytes() == CROSSED


def test_output_that_cannot_be_written_is_2(tmp_path):
    output = tmp_path / "none" / "report"
    ran = run("verify", *AT, "--output", output, CLEAN)
    assert ran.status == 2
    assert ran.err == (f"The results could not be written to {output}: there is no such folder.\n")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("option", "environment", "colored"),
    [("auto", "", False), ("auto", "FORCE_COLOR", True), ("always", "NO_COLOR", True)],
)
def test_colour(option, environment, colored, crossed, monkeypatch):
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    if environment:
        monkeypatch.setenv(environment, "1")
    ran = run("verify", "--color", option, crossed)
    assert (b"\x1b[31mDO NOT START" in ran.out) is colored


def test_a_narrow_standard_output_gets_plain_signs(crossed):
    ran = run("verify", crossed, encoding="ascii")
    assert ran.status == 1
    assert b"Verdict: DO NOT START - CALL" in ran.out
    assert ran.out.isascii()


def test_json_is_utf8_whatever_standard_output_is():
    order = ORDER.replace(b"lower: 2 mmHg", "lower: 2 mmHg\u00e9".encode())
    ran = run("verify", "--format", "json", "-", stdin=order, encoding="ascii")
    assert parsed(ran)["documents"][0]["verdict"] == "do-not-start"
    assert "mmHg\u00e9" in ran.out.decode("utf-8")


@pytest.mark.slow
def test_a_narrow_standard_output_in_a_process_of_its_own(tmp_path):
    name = tmp_path / "ordonn\u00e9e.yaml"
    name.write_bytes(CROSSED)
    process = started("verify", name, env={**os.environ, "PYTHONIOENCODING": "ascii:strict"})
    out, err = process.communicate()
    assert (process.returncode, err) == (1, b"")
    assert b"ordonn\\xe9e.yaml" in out


@pytest.mark.slow
@pytest.mark.parametrize(("order", "status"), [(ORDER, 0), (CROSSED, 1)])
def test_a_reader_that_has_gone_is_no_matter(order, status):
    read_end, write_end = os.pipe()
    os.close(read_end)
    process = started("verify", *AT, "-", stdin=subprocess.PIPE, stdout=write_end)
    os.close(write_end)
    _, err = process.communicate(order)
    assert (process.returncode, err) == (status, b"")


@pytest.mark.slow
def test_a_full_disk_is_2():
    if not Path("/dev/full").exists():
        pytest.skip("needs a device that is always full")
    with Path("/dev/full").open("wb") as full:
        process = started("verify", *AT, CLEAN, stdout=full)
        _, err = process.communicate()
    assert process.returncode == 2
    assert err == b"The results could not be written: No space left on device.\n"
