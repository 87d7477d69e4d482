"""A plan as text, JSON and iCalendar: the same events in each, and nothing that hides."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime

import pytest
from drawing import most
from facts import fact
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from jsonschema import Draft202012Validator
from planned import AT, STARTS, planned
from policy_files import LOCAL, local, suppression

from orderlint.fields import load_schema
from orderlint.finding import Refused
from orderlint.report.order import blocks as order_blocks
from orderlint.report.order import json as as_json
from orderlint.report.plan import blocks as plan_blocks
from orderlint.report.plan import calendar as plan_calendar
from orderlint.report.plan import json as plan_json
from orderlint.report.plan.words import rows
from orderlint.report.text import render_blocks

SCHEMA = load_schema("plan")
OPTIONAL = {"standing_orders", "element"}
"""Members that some reports alone have: under such a policy, of such a file."""
PLANS = Draft202012Validator(SCHEMA)
GOAL = "goal: clearing of the drained fluid"
CROSSED = ("lower: 2 mmHg", "lower: 40 mmHg")
BACK = "2026-11-01T00:00:00-05:00"
FORTH = "2026-03-08T00:00:00-06:00"
VARIANTS = [
    (),
    (CROSSED,),
    (("group: adult", "group: infant"),),
    (("rate: 60 mL/h", "rate: 60"),),
    (("zone: America/Chicago\n", ""),),
    (("zone: America/Chicago", "zone: nowhere"),),
    (("therapy: irrigation ", "therapy: monitoring "),),
    (("display_unit: mmHg", "display_unit: cmH2O"),),
    (("step: 10 mL/h", "step: 0.37 mL/h"),),
]


def text(plan, width=80):
    return render_blocks(plan_blocks.blocks(plan, AT), width=width)


def flat(plan):
    return " ".join(text(plan, 100).split())


def data(plan):
    def refuse(number):
        raise AssertionError(f"{number} is not whole")

    found = json.loads(plan_json.render(plan, AT), parse_float=refuse, parse_constant=refuse)
    assert [error.message for error in PLANS.iter_errors(found)] == []
    return found


def entries(plan):
    calendar = Calendar.from_ical(plan_calendar.render(plan, AT))
    return list(calendar.walk("VEVENT"))


def about(plan):
    """The calendar's own description."""
    return str(Calendar.from_ical(plan_calendar.render(plan, AT))["DESCRIPTION"])


def under(said, heading):
    """The lines under a heading, up to the next empty line."""
    return said.partition(f"\n{heading}\n")[2].partition("\n\n")[0].splitlines()


def test_the_schema_is_strict_and_worded():
    Draft202012Validator.check_schema(SCHEMA)
    nodes = [SCHEMA, *SCHEMA["$defs"].values()]
    for node in nodes:
        nodes.extend(child for child in node.get("properties", {}).values())
        assert "$ref" in node or node["title"]
        assert "$ref" in node or node["description"].endswith(".")
        if "properties" in node:
            assert node["additionalProperties"] is False
            required = [key for key in node["properties"] if key not in OPTIONAL]
            assert node["required"] == required


def test_the_behaviour_is_as_in_the_report_of_findings():
    findings = load_schema("findings")["$defs"]
    for name in ("segment", "pressure"):
        assert SCHEMA["$defs"][name] == findings[name]


def test_what_was_found_and_checked_is_as_in_the_report_of_findings():
    findings = load_schema("findings")
    names = ("file", "rule", "level", "place", "path", "finding", "mention")
    for name in (*names, "suppressed", "unchecked", "inactive"):
        assert SCHEMA["$defs"][name] == findings["$defs"][name]
    document = findings["$defs"]["document"]["properties"]
    for name in ("findings", "suppressed", "unchecked", "inactive", "checked"):
        assert SCHEMA["properties"][name] == document[name]
    # And so is what stands in them.
    plan = planned(("rate: 60 mL/h", "rate: 60"), rulebook=local(suppression("unit-missing")))
    made = json.loads(as_json.render([plan.verified], (), AT))["documents"][0]
    found = data(plan)
    for name in ("findings", "suppressed", "unchecked", "inactive", "behaviour", "checked"):
        assert found[name] == made[name]


def test_the_plan_ends_as_the_report_of_findings_does():
    plan = planned(("alarms: on", "alarms: off"), rulebook=local(suppression("alarms-off")))
    said = text(plan)
    report = render_blocks(order_blocks.blocks(plan.verified, AT), width=80)
    ends = [part[part.index("\n\nCould not be checked") :] for part in (said, report)]
    assert ends[0] == ends[1]
    assert "Suppressed by the policy" in ends[0]
    assert "under “a demo unit”, as of 2026-03-02T20:30:00Z" in " ".join(ends[0].split())
    assert "1 finding is suppressed by the policy" in " ".join(said.split())
    described = " ".join(about(plan).split())
    for part in ends[0].split("\n\n"):
        assert " ".join(part.split()) in described


def test_the_timetable_of_the_clean_order():
    lines = under(text(planned()), "Timetable")
    assert lines[3] == "  Monday 2 March 2026"
    for line in (
        "  Every 1 h, from 15:00: ICP check; neurological check; output check.",
        "  Every 12 h, 15:00, 03:00, 15:00: zeroing.",
        "    17:00  earliest titration step: to 70 mL/h",
        "    22:27  as early as titration allows: collection bag 1 full: next bag",
        "    23:45  at the ordered rate: collection bag 1 full: next bag",
        "  Tuesday 3 March 2026",
        "    01:13  as early as titration allows: 80 % of irrigation bag 1 used",
        "    03:27  as early as titration allows: irrigation bag 1 empty: next bag",
        "    04:20  at the ordered rate: 80 % of irrigation bag 1 used",
        "    07:40  at the ordered rate: irrigation bag 1 empty: next bag",
        "    15:00  review of the order due",
    ):
        assert line in lines
    assert lines.index("  Tuesday 3 March 2026") < lines.index(
        "    01:13  as early as titration allows: 80 % of irrigation bag 1 used"
    )
    assert sum("ICP check" in line for line in lines) == 1


def test_each_check_stands_in_the_timetable_where_the_clock_changes():
    """At a steady interval the times of day are then not steady."""
    lines = under(text(planned(start=BACK, hours=4)), "Timetable")
    assert sum("ICP check" in line for line in lines) == 5
    assert not any("Every" in line for line in lines)


def test_the_plan_of_a_shift_is_short_and_has_physiology_on_request():
    plan = planned()
    brief = render_blocks(plan_blocks.brief_blocks(plan, AT), width=80)
    whole = render_blocks(plan_blocks.blocks(plan, AT), width=80)
    assert whole == text(plan)
    for heading in ("Figures of pressure and volume", "What the controller would do"):
        assert heading in whole
        assert heading not in brief
    assert brief.split("Bags to send up")[0] == whole.split("Bags to send up")[0]
    assert len(brief.splitlines()) < 70


def test_volumes_and_bags_of_the_clean_order():
    said = flat(planned())
    assert "Shift 1, 15:00 to 23:00: irrigated 480 mL, expected output 640 mL; as early as" in said
    assert "titration allows irrigated 600 mL, expected output 760 mL." in said
    assert "Day 1, 15:00 to 15:00: irrigated 1440 mL, expected output 1920 mL" in said
    assert "Irrigation bags of 1000 mL: 2 at the ordered rate, 3 as early as titration" in said
    assert "Each pause makes them later." in said
    assert "20 mL/h of CSF formation (adult; StatPearls NBK519007" in said
    assert "clearing of the drained fluid" in said


def test_a_daily_limit_is_on_the_list_and_stops_no_reckoning():
    said = flat(planned(("daily_max: 2200 mL", "daily_max: 1200 mL")))
    assert "11:00 at the ordered rate: daily irrigation limit reached on day 1" in said
    assert "as if irrigation went on" in said
    assert "as if irrigation went on" not in flat(planned())


def test_the_parts_stand_in_their_order_and_none_is_left_out():
    for variant in VARIANTS:
        said = text(planned(*variant))
        headings = [line for line in said.splitlines() if re.match(r"[A-Z]", line)]
        due = ["Verdict: ", "The plan", "Not in this plan", "Timetable", "Volumes"]
        due += [
            "Bags to send up",
            "What the controller would do",
            "Figures of pressure",
            "Caution:",
        ]
        places = [next(i for i, line in enumerate(headings) if line.startswith(d)) for d in due]
        assert places == sorted(places)
        assert max(map(len, said.splitlines())) <= 80
        assert said.endswith("patient.\n")


def test_figures_are_called_no_verdict_and_say_what_they_assume():
    said = flat(planned())
    for part in (
        "average brain about 8.53 min, stiff brain about 6.1 min",
        "These are figures, no verdict on the order or the patient.",
        "closed skull with the bone flap in place",
        "seven adults, 25.9 mL (Shapiro, Marmarou, Shulman 1980, doi 10.1002/ana.410070603)",
        "average brain about 30.4 mmHg, stiff brain about 51.7 mmHg",
    ):
        assert part in said
    blank = flat(planned(("group: adult", "group: child")))
    assert "Figures are left blank: the index was measured in seven adults" in blank
    assert "no verdict on the order or the patient" not in blank


def test_pressures_are_shown_in_the_unit_displayed_too():
    said = flat(planned(("display_unit: mmHg", "display_unit: cmH2O")))
    # 30.36 mmHg x 1.35951
    assert "average brain about 30.4 mmHg (41.3 cmH2O)" in said
    assert "about 8.53 min," in said


def test_a_pressure_far_beyond_the_relation_is_not_shown_as_a_number():
    for volume in ("30 mL", "20 L"):
        said = flat(planned(("net_in: {above: 15 mL", f"net_in: {{above: {volume}")))
        assert "stiff brain over 100 mmHg, beyond what the pressure–volume relation was" in said
        assert said.count("over 100 mmHg, beyond") == said.count("over 100 mmHg")


def test_a_high_rise_by_absorption_is_not_laid_to_the_pressure_volume_relation():
    said = flat(planned(("rate: 60 mL/h", "rate: 1200 mL/h"), ("max: 90 mL/h", "max: 1300 mL/h")))
    # By hand: 1200 / 60 x 6 and x 10 mmHg are 120 and 200.
    assert "lowest normal values over 100 mmHg, highest normal values over 100 mmHg." in said


def test_each_figure_says_its_premise_once():
    said = flat(planned())
    assert "the ordered rate being absorbed, if irrigation did not pause: lowest" in said
    assert "ICP at which that would settle, if it did not pause: lowest normal" in said
    assert "tubing, CSF formation included: at the ordered rate about 1.54 cmH2O." in said


def test_a_review_within_the_plan_says_that_the_plan_runs_on():
    renewed = "review of the order due (the plan runs on as if it were renewed unchanged)"
    assert renewed in flat(planned(hours=30))
    assert "as if it were renewed" not in flat(planned())  # it ends just then


def test_a_plan_speaks_of_nothing_that_its_therapy_has_not():
    drains = planned(("therapy: irrigation ", "therapy: drainage "))
    said = " ".join([*data(drains)["assumptions"], *(e["says"] for e in data(drains)["events"])])
    assert "begin with an empty collection bag at the start" in said
    assert "Expected output is 20 mL/h of CSF formation" in said
    assert "irrigat" not in said
    watches = planned(("therapy: irrigation ", "therapy: monitoring "))
    assert "None: the order only monitors." in under(text(watches), "Volumes")[0]
    assert "None: the order only monitors." in under(text(watches), "Bags to send up")[0]
    assert "This tool cannot see whether the drain is closed." in flat(watches)
    body = text(watches).partition("Could not be checked")[0]
    assert not re.search(r"outflow|gravity", body, re.I)


@pytest.mark.parametrize(
    ("group", "what", "other"),
    [
        ("adult", "mean measured outflow of adult drains", "8.1 mL/h"),
        ("child", "CSF output of infants and children", "7.5 mL/h"),
        ("infant", "CSF output of infants and children", "7.5 mL/h"),
    ],
)
def test_the_measured_output_is_that_of_the_patient_s_group(group, what, other):
    value = fact("drain-care", what)["value"].partition(" on")[0]
    keyed = "by: patient.group, adult: 10 mL/h, child: 10 mL/h, infant: 10 mL/h"
    policy = local(f"values: {{csf_rate: {{{keyed}, {LOCAL}}}}}\n")
    plan = planned(("group: adult", f"group: {group}"), rulebook=policy)
    (said,) = (text for text in data(plan)["assumptions"] if text.startswith("Expected output"))
    assert f"{value} (" in said
    assert other not in said


def test_an_order_that_must_not_start_says_so_first_and_in_each_entry():
    plan = planned(CROSSED)
    said = text(plan)
    assert said.index("Verdict: DO NOT START – CALL") < said.index("The plan")
    assert "DO NOT START – CALL: Lower pause limit (pause.lower): The lower pause" in flat(plan)
    assert "The plan only reckons with what is written; it is no leave to start." in flat(plan)
    assert data(plan)["findings"][0]["rule"] == "pause-limits-reversed"
    assert data(plan)["verdict"] == "do-not-start"
    for entry in entries(plan):
        assert entry["SUMMARY"].startswith("DO NOT START – CALL: ")
        assert "Do not key in or start this order." in entry["DESCRIPTION"]
    active = entries(planned(CROSSED, ("status: draft", "status: active")))
    assert "This order is active. Call now" in active[0]["DESCRIPTION"]
    assert "no leave to start" not in text(planned())
    assert not any("START" in entry["SUMMARY"] for entry in entries(planned()))


@pytest.mark.parametrize(
    ("rule", "change", "warning"),
    [
        ("alarms-off", ("alarms: on", "alarms: off"), "A DO-NOT-START FINDING IS SUPPRESSED: "),
        ("missing-prescriber", ("prescriber: neurocritical care attending\n", ""), ""),
    ],
)
def test_what_the_policy_suppresses_is_not_hidden_in_a_calendar(rule, change, warning):
    plan = planned(change, rulebook=local(suppression(rule)))
    assert [item.finding.rule for item in plan.verified.assessment.suppressed] == [rule]
    assert plan.verified.assessment.findings == ()
    for entry in entries(plan):
        assert entry["SUMMARY"].startswith(f"{warning}order demo-0417: ")


def test_an_order_that_runs_opens_with_what_not_to_do():
    said = text(planned(CROSSED, ("status: draft", "status: active")))
    assert said.startswith("Already running? Do not clamp, open or move the drain")
    assert said.count("Already running?") == 1


def test_what_is_missing_stands_in_one_list():
    said = flat(planned(("  rate: 60 mL/h\n", "")))
    assert "Missing from the order. Ask the prescriber to have these written:" in said
    assert "for lack of irrigation rate (not written)" in said
    assert "Missing from the order" not in flat(planned())
    cannot = flat(planned(("rate: 60 mL/h", "rate: 60")))
    assert "for lack of irrigation rate (cannot be read)" in cannot


def test_colour_repeats_what_the_words_say():
    for plan in (planned(CROSSED), planned(("  rate: 60 mL/h\n", ""))):
        painted = render_blocks(plan_blocks.blocks(plan, AT), color=True, width=80)
        assert "\x1b[31mDO NOT START – CALL\x1b[0m" in painted
        assert re.sub(r"\x1b\[\d*m", "", painted) == text(plan)


def test_json_has_what_the_text_has():
    plan = planned()
    found = data(plan)
    assert found["from"] == "2026-03-02T15:00:00-06:00"
    assert found["to"] == "2026-03-03T15:00:00-06:00"
    assert found["checked"]["at"] == "2026-03-02T20:30:00Z"
    first = {(e["event"], e["basis"]): e["at"] for e in reversed(found["events"])}
    # To the second, rounded down: 10 h 13 min 20 s and 12 h 26 min 40 s after the start.
    assert first["bag notice", "earliest"] == "2026-03-03T01:13:20-06:00"
    assert first["bag empty", "earliest"] == "2026-03-03T03:26:40-06:00"
    assert first["bag empty", "ordered rate"] == "2026-03-03T07:40:00-06:00"
    step = next(e for e in found["events"] if e["event"] == "titration step")
    assert (step["rate"], step["at"]) == ("70 mL/h", "2026-03-02T17:00:00-06:00")
    assert found["volumes"][3]["ordered_rate"] == {"irrigated": "1440 mL", "output": "1920 mL"}
    assert found["bags"][0] == {
        "bag": "irrigation bag",
        "size": "1000 mL",
        "ordered_rate": 2,
        "earliest": 3,
    }
    assert len(found["figures"]) == 8
    assert found["figures_limits"]
    assert found["behaviour"][0]["alarm"] == "low limit"


@pytest.mark.slow
@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("start", [BACK, FORTH])
def test_each_form_says_the_same(variant, start):
    plan = planned(*variant, start=start, hours=30)
    told = data(plan)
    listed = [event["says"] for event in told["events"]]
    lines = [said for _, said in rows(plan) for said in said]
    assert len(lines) == len(listed) == len(plan.events)
    said = flat(plan)
    assert all(event in said for event in listed)
    calendar = "; ".join(entry["SUMMARY"] for entry in entries(plan))
    assert all(event in calendar for event in listed)
    assert all(gap["says"] in said for gap in told["gaps"])
    assert all(text in said for text in told["assumptions"])


@pytest.mark.parametrize("start", [BACK, FORTH])
def test_the_calendar_means_the_same_instants(start):
    """Read back by the library, each entry is at the minute of what is due, in zone or UTC."""
    plan = planned(start=start, hours=12)
    found = [entry["DTSTART"].dt.astimezone(UTC).timestamp() * 1000 for entry in entries(plan)]
    assert found == [at for at, _ in rows(plan)]


def test_the_second_of_two_equal_hours_is_written_in_utc():
    # RFC 5545, 3.3.5: a local time that comes twice means the first of the two.
    plan = planned(start=BACK, hours=4)
    events = plan_calendar.render(plan, AT).partition("BEGIN:VEVENT")[2]
    starts = re.findall(r"^DTSTART[^\r]*", events, re.M)
    assert starts[:3] == [
        "DTSTART;TZID=America/Chicago:20261101T000000",
        "DTSTART;TZID=America/Chicago:20261101T010000",
        "DTSTART:20261101T070000Z",  # the change itself, and the checks of the second 01:00
    ]
    assert starts[-1] == "DTSTART;TZID=America/Chicago:20261101T030000"


def test_the_change_of_the_clock_comes_before_what_is_shown_after_it():
    lines = under(text(planned(start=BACK, hours=4)), "Timetable")
    change = "    01:00  the clock is put back from 02:00 to 01:00; times from here on are"
    assert lines.count(change) == 1
    ones = [line for line in lines if line.startswith("    01:00")]
    assert ones[1] == change
    assert ones[0] == ones[2] == "    01:00  ICP check; neurological check; output check"
    forth = flat(planned(start=FORTH, hours=4))
    assert (
        "03:00 the clock is put forward from 02:00 to 03:00; times from here on are UTC-05:00"
        in forth
    )


def test_the_calendar_is_as_rfc_5545_has_it():
    plan = planned()
    made = plan_calendar.render(plan, AT)
    assert made == plan_calendar.render(plan, AT)
    lines = made.split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-2:] == ["END:VCALENDAR", ""]
    assert max(len(line.encode()) for line in lines) <= 75
    assert "BEGIN:VTIMEZONE" in lines
    assert "VALARM" not in made
    uids = [str(entry["UID"]) for entry in entries(plan)]
    assert len(set(uids)) == len(uids)
    assert entries(plan)[0]["DTSTAMP"].dt == datetime(2026, 3, 2, 20, 30, tzinfo=UTC)
    fixed = plan_calendar.render(planned(("zone: America/Chicago\n", "")), AT)
    assert "VTIMEZONE" not in fixed
    assert "DTSTART:20260302T210000Z" in fixed


def test_another_revision_replaces_the_entries_of_the_one_before():
    # RFC 5545, 3.8.4.7 and 3.8.7.4: one UID, and of two the higher sequence holds.
    slower = (("revision: 1", "revision: 2"), ("level_every: 4 h", "level_every: 8 h"))
    former, latter = (
        {str(entry["UID"]): entry for entry in entries(plan)}
        for plan in (planned(), planned(*slower))
    )
    assert set(former) == set(latter)
    assert {entry["SEQUENCE"] for entry in former.values()} == {1}
    assert {entry["SEQUENCE"] for entry in latter.values()} == {2}
    assert [e["SUMMARY"] for e in former.values()] != [e["SUMMARY"] for e in latter.values()]
    assert "Take the former plan out of the calendar" in about(planned())


ID = "id: demo-0417"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ([], [(ID, "id: demo-0418")]),
        # Without an identifier all that is written tells two orders apart.
        ([(ID, "")], [(ID, ""), ("weight: 70 kg", "weight: 71 kg")]),
        ([(ID, "")], [(ID, ""), ("revision: 1", "revision: 2")]),
        ([(ID, "id: [a]")], [(ID, "id: [a]"), ("indication: ", "indication: an old ")]),
        ([], [(ID, "")]),
    ],
)
def test_no_entry_of_one_order_replaces_that_of_another(one, other):
    uids = [{str(entry["UID"]) for entry in entries(planned(*c))} for c in (one, other)]
    assert not uids[0] & uids[1]


def test_each_entry_names_its_order_and_says_little_beside():
    for entry in entries(planned()):
        assert entry["SUMMARY"].startswith("order demo-0417: ")
        assert len(entry["DESCRIPTION"]) < 300
        assert "description of the calendar" in entry["DESCRIPTION"]
    assert entries(planned((ID, "")))[0]["SUMMARY"].startswith("order without an identifier: ")
    assert "Caution: this is decision support" in about(planned())


def test_a_week_of_checks_each_minute_is_no_heavy_calendar():
    plan = planned(("icp_every: 1 h", "icp_every: 1 min"), hours=6)
    made, listed = plan_calendar.render(plan, AT), len(entries(plan))
    assert listed > 360
    each = len(made[made.index("BEGIN:VEVENT") :].encode()) / listed
    assert each * 168 * 60 < 8_000_000


def test_a_text_of_the_order_cannot_end_an_entry():
    hostile = r'goal: "x;y,z\\n\nEND:VEVENT\nBEGIN:VALARM:"'
    plan = planned((GOAL, hostile))
    calendar = Calendar.from_ical(plan_calendar.render(plan, AT))
    assert not calendar.walk("VALARM")
    assert len(calendar.walk("VEVENT")) == len(entries(planned()))
    assert "x;y,z" in about(plan)


@given(st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=30))
@most(50)
def test_any_text_of_the_order_stays_a_text(goal):
    quoted = json.dumps(goal, ensure_ascii=False)
    try:
        plan = planned((GOAL, f"goal: {quoted}"), hours=2)
    except Refused:  # a character that reading does not let in
        return
    assert goal in " ".join(data(plan)["assumptions"])
    assert goal in about(plan)
    assert text(plan).isprintable() is False  # line feeds, and nothing else that is not shown
    assert text(plan).replace("\n", "").isprintable()


@given(st.integers(0, 59), st.integers(0, 59), st.integers(0, 23))
@most(50)
def test_times_are_to_the_nearest_minute(second, minute, hour):
    start = f"2026-03-02T{hour:02d}:{minute:02d}:{second:02d}-06:00"
    first = under(text(planned(STARTS, start=start, hours=1)), "Timetable")[1]
    late = hour * 60 + minute + (second >= 30)
    assert first.startswith(f"    {late // 60 % 24:02d}:{late % 60:02d}  ICP check")
