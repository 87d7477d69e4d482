from __future__ import annotations

import json
import subprocess
import sys

import pytest
from icalendar import Calendar
from jsonschema import Draft202012Validator
from planned import order
from running import AT, CLEAN, run

from orderlint.fields import load_schema

FROM = ("--from", "2026-03-02T15:00:00-06:00")
PLANS = Draft202012Validator(load_schema("plan"))


@pytest.fixture
def changed(tmp_path):
    def write(*changes):
        path = tmp_path / "order.yaml"
        path.write_bytes(order(*changes))
        return path

    return write


def test_the_plan_of_the_clean_order():
    ran = run("plan", *AT, *FROM, CLEAN)
    assert (ran.status, ran.err) == (0, "")
    assert "Verdict: CLEAR" in ran.text
    assert "04:20 at the ordered rate: 80 % of irrigation bag 1 used" in ran.text


def test_json_and_calendar():
    ran = run("plan", "--format", "json", *AT, *FROM, CLEAN)
    assert ran.status == 0
    assert [error.message for error in PLANS.iter_errors(json.loads(ran.out))] == []
    ran = run("plan", "--format", "ics", *AT, *FROM, CLEAN, encoding="latin-1")
    assert ran.status == 0
    assert Calendar.from_ical(ran.out).walk("VEVENT")


def test_standard_input_and_output_file(tmp_path):
    file = tmp_path / "plan.ics"
    options = ("plan", *AT, *FROM, "--format", "ics")
    ran = run(*options, "--output", file, "-", stdin=order())
    assert (ran.status, ran.out, ran.err) == (0, b"", "")
    # Line ends are kept as RFC 5545 has them.
    assert file.read_bytes() == run(*options, "-", stdin=order()).out
    assert b"\r\n" in file.read_bytes()
    assert "<stdin>" in run("plan", *AT, *FROM, "-", stdin=order()).text
    assert run("plan", *AT, *FROM, "--output", "-", CLEAN).out


def test_hours():
    ran = run("plan", *AT, *FROM, "--hours", "12", CLEAN)
    assert "to Tuesday 3 March 2026, 03:00: 12 h" in ran.text


@pytest.mark.parametrize(
    ("change", "level", "status"),
    [
        (("lower: 2 mmHg", "lower: 40 mmHg"), "do-not-start", 1),
        (("lower: 2 mmHg", "lower: -2 mmHg"), "clarify", 1),
        (("lower: 2 mmHg", "lower: -2 mmHg"), "do-not-start", 0),
        (("zone: America/Chicago", "zone: America/Chcago"), "clarify", 1),
        (("zone: America/Chicago", "zone: America/Chcago"), "do-not-start", 0),
    ],
)
def test_the_status_is_that_of_the_check(changed, change, level, status):
    ran = run("plan", *AT, *FROM, "--fail-at", level, changed(change))
    assert ran.status == status
    assert "Timetable" in ran.text


def test_an_unknown_zone_is_said(changed):
    ran = run(
        "plan", "--detail", *AT, *FROM, changed(("zone: America/Chicago", "zone: America/Chcago"))
    )
    assert (
        "written as America/Chcago, which the IANA database of time zones does not have" in ran.text
    )
    assert "for lack of time zone (cannot be read)" in ran.text
    checked = run(
        "verify", "--detail", *AT, changed(("zone: America/Chicago", "zone: America/Chcago"))
    )
    assert (ran.status, checked.status) == (1, 1)
    assert "Rule: zone-not-known" in checked.text
    assert "on a clock at a fixed offset (UTC-06:00)" in ran.text


def test_what_is_no_order_is_refused(tmp_path):
    path = tmp_path / "broken.yaml"
    path.write_bytes(b"document: order\nformat: 1\nid: &a b\n")
    ran = run("plan", *AT, *FROM, path)
    assert (ran.status, ran.out) == (2, b"")
    assert f"{path}:3:" in ran.err
    assert run("plan", *AT, *FROM, tmp_path / "none.yaml").status == 2


def test_what_cannot_be_written_is_2(tmp_path):
    ran = run("plan", *AT, *FROM, "--output", tmp_path / "no" / "plan.txt", CLEAN)
    assert (ran.status, ran.out) == (2, b"")
    assert "could not be written" in ran.err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "Missing"),
        (("x",), "--from"),
        ((*FROM,), "Missing argument"),
        (("--from", "2026-03-02T15:00:00", "x"), "with its offset"),
        (("--from", "15:00", "x"), "with its offset"),
        (("--from", "1969-12-31T15:00:00Z", "x"), "in 1970 or later"),
        (("--from", "2300-01-01T15:00:00Z", "x"), "no time at which"),
        ((*FROM, "--hours", "0", "x"), "1<=x<=168"),
        ((*FROM, "--hours", "169", "x"), "1<=x<=168"),
        ((*FROM, "--hours", "1.5", "x"), "not a valid integer"),
        ((*FROM, "--format", "xml", "x"), "'text', 'json', 'html', 'ics'"),
        ((*FROM, "--output", "x", "./x"), "would be lost"),
        ((*FROM, "x", "y"), "unexpected extra argument"),
    ],
)
def test_wrong_usage_is_said_and_is_2(arguments, says):
    ran = run("plan", *arguments)
    assert (ran.status, ran.out) == (2, b"")
    assert says in ran.err


def test_the_ends_of_what_can_be_planned():
    for start in ("1970-01-01T00:00:00Z", "2199-12-31T00:00:00+00:00"):
        for form in ("text", "json", "ics"):
            ran = run("plan", *AT, "--from", start, "--hours", "168", "--format", form, CLEAN)
            assert (ran.status, ran.err) == (0, "")


def test_a_fault_is_70_and_is_no_plan(monkeypatch):
    def fail(*_):
        raise KeyError("planted")

    monkeypatch.setattr("orderlint.shift_plan.plan_of", fail)
    ran = run("plan", *FROM, CLEAN)
    assert (ran.status, ran.out) == (70, b"")
    assert "the tool itself failed" in ran.err


def test_help_fits_and_shows_lines_to_try():
    ran = run("plan", "-h")
    assert ran.status == 0
    lines = ran.out.decode().splitlines()
    assert "  orderlint plan order.yaml --from 2026-03-02T15:00:00-06:00" in "\n".join(lines)
    assert max(map(len, lines)) <= 80


@pytest.mark.slow
@pytest.mark.parametrize("zone", [True, False])
def test_a_check_imports_nothing_of_a_plan_but_the_clock_where_a_zone_is(zone, tmp_path):
    """A cold check is as quick as before there were plans."""
    lines = CLEAN.read_text(encoding="utf-8").splitlines(keepends=True)
    order = tmp_path / "order.yaml"
    order.write_text("".join(line for line in lines if zone or not line.startswith("zone:")))
    code = (
        "import sys, orderlint.cli as c\n"
        f"try: c.main(['verify', {str(order)!r}])\n"
        "except SystemExit: pass\n"
        "new = ('shift_plan', 'local_time', 'infusion', 'physiology', 'cli.plan', 'report.plan')\n"
        "new = {f'orderlint.{name}' for name in new} | {'icalendar', 'zoneinfo', 'math'}\n"
        "sys.stderr.write(' '.join(sorted(new & set(sys.modules))))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    needed = {"orderlint.local_time", "zoneinfo"} if zone else set()
    assert set(ran.stderr.decode().split()) - {"math"} == needed
