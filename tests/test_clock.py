"""Judged by a clock that is wrong, an order or a set is no clean one; by a right one it is."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

import pytest
from order_sets import example
from policy_files import local
from running import run

from orderlint import verify
from orderlint.comparison.orders import compare_orders
from orderlint.comparison.sets import compare_sets
from orderlint.finding import Refused, Verdict
from orderlint.order_reader import read_order
from orderlint.readback import read_back
from orderlint.readback.observed import read_seen
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.set_review import review_set
from orderlint.units import parse_instant
from orderlint.verification import verify_order

EXAMPLES = Path(__file__).parents[1] / "examples"
RULES = {"check-time-not-conceivable", "checked-before-written", "order-long-past-review"}
WRITTEN, RIGHT = "written: 2026-03-02T14:10:00-06:00\n", "2026-03-02T14:30:00-06:00"
BEGUN_ANEW, TOO_EARLY, AGES_LATER = (f"{year}-01-01T00:00:00Z" for year in (1970, 2011, 2150))


def order(status="draft", *left_out):
    text = (EXAMPLES / "clean.yaml").read_text(encoding="utf-8")
    for line in left_out:
        assert line in text
        text = text.replace(line, "")
    text = text.replace("status: draft", f"status: {status}")
    return read_order(read(text.encode(), "order.yaml", "order"))


def told(assessment):
    return {finding.rule for finding in assessment.findings}


def by_clock(at, *of):
    return verify_order(order(*of), parse_instant(at), load("order")).assessment


@pytest.mark.parametrize("status", ["draft", "active", "ended"])
@pytest.mark.parametrize(
    ("at", "rule"),
    [(BEGUN_ANEW, "check-time-not-conceivable"), (TOO_EARLY, "checked-before-written")],
)
def test_by_a_clock_that_is_slow_no_order_is_clear(status, at, rule):
    assert told(by_clock(at, status)) & RULES == {rule}


def test_an_order_that_does_not_say_when_it_was_written_is_not_clear_by_that_clock_either():
    assert told(by_clock(BEGUN_ANEW, "draft", WRITTEN)) & RULES == {"check-time-not-conceivable"}


def test_by_the_right_clock_nothing_is_said_of_it():
    assert by_clock(RIGHT).verdict is Verdict.CLEAR
    assert by_clock(RIGHT, "active").verdict is Verdict.CLEAR


@pytest.mark.parametrize("status", ["draft", "ended"])
def test_a_late_clock_is_a_finding_on_no_draft_and_on_nothing_that_has_ended(status):
    assert told(by_clock(AGES_LATER, status)) == told(by_clock(RIGHT, status))


def test_a_late_clock_is_one_finding_on_an_active_order():
    assert told(by_clock(AGES_LATER, "active")) == {"order-long-past-review"}


@pytest.mark.parametrize(("at", "found"), [(BEGUN_ANEW, True), (RIGHT, False), (AGES_LATER, False)])
def test_two_orders_compared_are_judged_by_the_clock(at, found):
    compared = compare_orders(order(), order(), parse_instant(at), load("change"))
    assert bool(told(compared.after.assessment) & RULES) == found


@pytest.mark.parametrize(("at", "found"), [(BEGUN_ANEW, True), (RIGHT, False)])
def test_a_read_back_is_judged_by_the_clock(at, found):
    seen = (EXAMPLES / "seen-as-ordered.yaml").read_bytes()
    entered = read_seen(read(seen, "seen.yaml", "settings-seen"))
    result = read_back(order(), entered, parse_instant(at), load("read-back"))
    assert (result.verdict is not Verdict.CLEAR) == found
    assert bool(told(result.ordered.assessment) & RULES) == found


def sets(at):
    """An order set as reviewed, and as compared with itself, under the rules on the clock alone."""
    order_set, book = example("set-irrigation-adult.yaml"), load("order-set")
    book = book._replace(rules={name: book.rules[name] for name in RULES})
    instant = parse_instant(at)
    yield review_set(order_set, instant, book).assessment
    yield compare_sets(order_set, order_set, instant, book).assessment


def test_by_a_clock_that_is_slow_no_order_set_is_clear_and_none_of_its_presets_is_at_fault():
    for assessment in sets(BEGUN_ANEW):
        (finding,) = assessment.findings
        asked = (finding.rule, finding.ask_whom, assessment.verdict)
        assert asked == ("check-time-not-conceivable", "author", Verdict.CLARIFY)


def test_an_order_set_has_no_time_at_which_it_was_written():
    for assessment in sets(TOO_EARLY):
        assert assessment.verdict is Verdict.CLEAR


def earliest(value):
    return local(
        f'values: {{earliest_check: {{value: "{value}", source: {{kind: local-policy}}}}}}\n'
    )


def test_a_policy_may_have_another_earliest_time():
    book = earliest("1960-01-01T00:00:00Z")
    found = verify_order(order(), parse_instant(BEGUN_ANEW), book).assessment
    assert told(found) & RULES == {"checked-before-written"}
    assert [item.fault.details["value"] for item in book.weaker] == [
        "earliest conceivable time of checking"
    ]


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("1812-01-01T00:00:00Z", "a policy can have one from the year 1900 to 2199"),
        ("2300-01-01T00:00:00Z", "a policy can have one from the year 1900 to 2199"),
        ("0001-01-01T00:00:00+14:00", "is no date and time of the calendar"),
        ("2026-02-30T00:00:00Z", "is no date and time of the calendar"),
        ("2026-02-03T00:00:00", "with its offset from UTC"),
        ("5 min", "its form is instant, and this is duration"),
    ],
)
def test_what_is_no_conceivable_time_is_no_value_of_a_policy(value, message):
    with pytest.raises(Refused, match=message):
        earliest(value)


ORDER, AT = str(EXAMPLES / "clean.yaml"), ("--at", RIGHT)
SET = str(EXAMPLES / "set-drainage-with-sections.yaml")
CALLS = [
    ("verify", ORDER),
    ("ask", ORDER),
    ("plan", ORDER, "--from", "2026-03-02T15:00:00-06:00"),
    ("compare", ORDER, str(EXAMPLES / "next-revision.yaml")),
    ("readback", ORDER, str(EXAMPLES / "seen-as-ordered.yaml")),
    ("review", SET),
    ("rules", "--check", str(EXAMPLES / "policy-adult-unit.yaml")),
]


@pytest.mark.parametrize("call", CALLS, ids=[call[0] for call in CALLS])
@pytest.mark.parametrize("seconds", [10_000_000_000, 7_258_118_400, -2_208_988_801])
def test_by_a_clock_that_shows_no_conceivable_time_nothing_is_judged(monkeypatch, call, seconds):
    def time_ns():
        if seconds * 10**9 > 2**63:
            raise OverflowError("timestamp too large to convert to C _PyTime_t")
        return seconds * 10**9

    monkeypatch.setattr("time.time_ns", time_ns)
    ran = run(*call)
    assert (ran.status, ran.text) == (2, "")
    assert "The clock of this computer shows a time at which no order can be checked" in ran.err
    with pytest.raises(ValueError, match="the clock of this computer"):
        verify({"document": "order", "format": 1})


NO_TIMES = [
    "0001-01-01T00:00+14:00",
    "1899-12-31T23:59:59Z",
    "2200-01-01T00:00:00Z",
    "2262-04-12T00:00:00Z",
    "9999-12-31T23:59-14:00",
]


@pytest.mark.parametrize("time", NO_TIMES)
@pytest.mark.parametrize("call", CALLS, ids=[call[0] for call in CALLS])
def test_no_such_time_is_taken_as_the_time_of_checking(call, time):
    ran = run(*call, "--at", time)
    assert (ran.status, ran.text) == (2, "")
    said = ("is no time at which an order can be checked", "is no date of the calendar")
    assert any(f"'{time}' {words}" in ran.err for words in said)


@pytest.mark.parametrize("time", NO_TIMES)
@pytest.mark.parametrize("path", ["written", "starts", "review_by"])
def test_no_such_time_is_read_in_an_order(path, time):
    text = re.sub(rf"{path}: .*", f"{path}: {time}", Path(ORDER).read_text(encoding="utf-8"))
    found = verify(text, at=datetime.fromisoformat(RIGHT))
    (finding,) = (each for each in found.findings if each.path == path)
    assert finding.rule in {"value-not-conceivable", "kind-not-expected"}
    assert "offset" not in finding.says
    assert text.splitlines()[finding.place.line - 1].startswith(f"{path}:")
