"""The plan of an order: what is due, what it leaves out, and never more than is written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from drawing import most
from facts import fact
from hypothesis import given
from hypothesis import strategies as st
from orders import orders
from planned import START, STARTS, instant, planned

from orderlint import physiology
from orderlint.infusion import titrated_rate, volume_run
from orderlint.language.types import Quantity
from orderlint.order import Order
from orderlint.report.plan.words import assumptions
from orderlint.rulebook.load import load
from orderlint.shift_plan import plan_of
from orderlint.verification import verify_order

HOUR = 3_600_000
ML = 1_000
TITRATION = (
    "titration: {goal: clearing of the drained fluid, step: 10 mL/h, every: 2 h, max: 90 mL/h}"
)
NO_TITRATION = (TITRATION, "")

NIGHT = "2026-03-02T23:00:00-06:00"

NEEDED = {
    "irrigation": ("irrigation.rate", "irrigation.bag", "drainage.bag", "patient.group"),
    "drainage": ("drainage.bag", "patient.group", "monitoring.output_every"),
    "monitoring": ("review_by", "monitoring.icp_every", "monitoring.zero_every"),
}


def shown(plan, at):
    """The nearest minute on the wall, as HH:MM."""
    moment = datetime.fromtimestamp((at + 30_000) // 60_000 * 60, UTC)
    return moment.astimezone(plan.clock.zone).strftime("%H:%M")


def times(plan, kind, basis=None):
    return [shown(plan, e.at) for e in plan.events if e.kind == kind and e.basis == basis]


def parts(plan):
    return {gap.part.partition(",")[0]: gap.missing or gap.reason for gap in plan.omissions}


def test_from_15_00_without_titration():
    # 800 and 1000 mL at 60 mL/h; 700 mL at 60 + 20 mL/h, which is 8 h 45 min.
    plan = planned(NO_TITRATION)
    assert times(plan, "bag notice") == ["04:20"]
    assert times(plan, "bag empty") == ["07:40"]
    assert times(plan, "collection bag full") == ["23:45", "08:30"]
    assert not plan.titrates
    assert [
        (supply.kind, supply.size, supply.ordered, supply.earliest) for supply in plan.supplies
    ] == [
        ("irrigation bag", 1000 * ML, 2, None),
        ("collection bag", 700 * ML, 3, None),
    ]
    assert plan.omissions == ()


def test_with_titration_both_are_given():
    plan = planned()
    assert times(plan, "bag notice", "ordered rate") == ["04:20"]
    assert times(plan, "bag empty", "ordered rate") == ["07:40"]
    assert times(plan, "bag notice", "earliest")[0] == "01:13"
    assert times(plan, "bag empty", "earliest")[0] == "03:27"
    # 7 h 27 min from 15:00
    assert times(plan, "collection bag full", "earliest")[0] == "22:27"
    steps = [(shown(plan, e.at), e.rate) for e in plan.events if e.kind == "titration step"]
    assert steps == [("17:00", 70 * ML), ("19:00", 80 * ML), ("21:00", 90 * ML)]
    assert [(supply.ordered, supply.earliest) for supply in plan.supplies] == [(2, 3), (3, 4)]


def test_what_falls_before_the_first_step_is_the_same_at_either_rate():
    plan = planned(("bag: 700 mL", "bag: 100 mL"), ("every: 2 h", "every: 4 h"))
    assert times(plan, "collection bag full")[:2] == ["16:15", "17:30"]
    assert times(plan, "collection bag full", "ordered rate")[0] != "16:15"


def test_checks_are_first_due_at_the_start_and_last_at_the_end():
    plan = planned()
    hourly = [f"{hour % 24:02d}:00" for hour in range(15, 40)]
    for kind in ("icp check", "neurological check", "output check"):
        assert times(plan, kind) == hourly
    assert times(plan, "level check") == hourly[::4]
    # 12 h, within the 24 h of common practice.
    assert times(plan, "zeroing") == ["15:00", "03:00", "15:00"]
    assert times(plan, "review") == ["15:00"]
    assert [event.at for event in plan.events] == sorted(event.at for event in plan.events)


def test_volumes():
    # By hand: 60 mL/h and 20 mL/h for 8 h and 24 h; rising, 2 h each at 60, 70, 80, then 90 mL/h.
    plan = planned()
    ordered = [(s.kind, s.ordered.irrigated / ML, s.ordered.output / ML) for s in plan.periods]
    assert ordered == [*[("shift", 480, 640)] * 3, ("day", 1440, 1920)]
    rising = [(s.earliest.irrigated / ML, s.earliest.output / ML) for s in plan.periods]
    assert rising == [(600, 760), (720, 880), (720, 880), (2040, 2520)]
    assert {span.earliest for span in planned(NO_TITRATION).periods} == {None}


def test_a_plan_may_end_within_a_shift():
    plan = planned(NO_TITRATION, hours=10)
    spans = [(s.kind, (s.end - s.start) // HOUR, s.ordered.irrigated / ML) for s in plan.periods]
    assert spans == [("shift", 8, 480), ("shift", 2, 120), ("day", 10, 600)]
    assert max(event.at for event in plan.events) <= plan.end
    assert "review_by" not in parts(plan)
    assert any("comes after this plan ends" in note for note in plan.notes)


def test_the_daily_limit_is_on_the_list_when_it_is_reached():
    # 1440 mL in 24 h at 60 mL/h: 1200 mL after 20 h.
    plan = planned(NO_TITRATION, ("daily_max: 2200 mL", "daily_max: 1200 mL"), hours=48)
    found = [(e.number, (e.at - plan.start) / HOUR) for e in plan.events if e.kind == "daily limit"]
    assert found == [(1, 20), (2, 44)]
    assert times(planned(), "daily limit") == []


def test_a_bag_changed_by_the_clock():
    plan = planned(
        NO_TITRATION, ("bag_change_every: 24 h", "bag_change_every: 12 h"), ("1000 mL", "2000 mL")
    )
    assert times(plan, "bag change") == ["03:00", "15:00"]
    assert times(plan, "bag empty") == times(plan, "bag notice") == []
    assert plan.supplies[0].ordered == 3


def test_a_bag_that_ends_just_with_the_plan_has_its_next_at_hand():
    # By hand: 1000 mL at 50 mL/h is 20 h; 1400 mL at 50 + 20 mL/h too.
    plan = planned(
        NO_TITRATION, ("rate: 60 mL/h", "rate: 50 mL/h"), ("700 mL", "1400 mL"), hours=20
    )
    assert times(plan, "bag empty") == times(plan, "collection bag full") == ["11:00"]
    assert [supply.ordered for supply in plan.supplies] == [2, 2]


@given(st.integers(20, 120), st.integers(1, 40))
@most(40)
def test_for_each_bag_that_is_over_there_is_a_next_one(rate, hours):
    plan = planned(NO_TITRATION, ("rate: 60 mL/h", f"rate: {rate} mL/h"), hours=hours)
    over = [event.kind for event in plan.events]
    irrigated, collected = (supply.ordered for supply in plan.supplies)
    assert irrigated == over.count("bag empty") + over.count("bag change") + 1
    assert collected == over.count("collection bag full") + 1


# Hours on the wall at each elapsed hour, by the zone's published rules (tests/test_local_time.py).
@pytest.mark.parametrize(
    ("zone", "start", "wall"),
    [
        ("America/Chicago", "2026-10-31T23:00:00-05:00", ["23", "00", "01", "01", "02", "03"]),
        ("America/Chicago", "2026-03-07T23:00:00-06:00", ["23", "00", "01", "03", "04", "05"]),
        ("Europe/London", "2026-10-24T23:00:00+01:00", ["23", "00", "01", "01", "02", "03"]),
        ("Europe/London", "2026-03-28T23:00:00+00:00", ["23", "00", "02", "03", "04", "05"]),
    ],
)
def test_across_a_change_of_the_clock(zone, start, wall):
    plan = planned(("zone: America/Chicago", f"zone: {zone}"), start=start, hours=5)
    assert times(plan, "icp check") == [f"{hour}:00" for hour in wall]
    (change,) = (event.at for event in plan.events if event.kind == "clock change")
    place = ZoneInfo(zone)
    sides = [
        datetime.fromtimestamp(at, UTC).astimezone(place)
        for at in (change // 1000 - 1, change // 1000)
    ]
    assert sides[0].utcoffset() != sides[1].utcoffset()
    # The plan is as long as the clock that was not changed says.
    assert plan.end - plan.start == 5 * HOUR


def test_bag_times_across_the_night_when_clocks_go_back():
    # From 15:00 the day before: 13 h 20 min and 16 h 40 min later an hour less is on the wall.
    plan = planned(NO_TITRATION, start="2026-10-31T15:00:00-05:00")
    assert times(plan, "bag notice") == ["03:20"]
    assert times(plan, "bag empty") == ["06:40"]
    assert times(planned(NO_TITRATION, start="2026-03-07T15:00:00-06:00"), "bag empty") == ["08:40"]


@given(st.integers(0, 365 * 24), st.sampled_from(["America/Chicago", "Europe/London"]))
@most(25)
def test_wall_times_are_utc_arithmetic_seen_in_the_zone(hours, zone):
    begun = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=hours)
    plan = planned(
        STARTS, NO_TITRATION, ("zone: America/Chicago", f"zone: {zone}"), start=begun.isoformat()
    )
    empty = (begun + timedelta(minutes=1000)).astimezone(ZoneInfo(zone))
    assert times(plan, "bag empty") == [empty.strftime("%H:%M")]


def test_without_a_zone_times_have_the_offset_of_the_start():
    plan = planned(STARTS, ("zone: America/Chicago\n", ""), start="2026-03-02T15:00:00-03:30")
    assert plan.clock.name is None
    assert times(plan, "icp check")[0] == "15:00"
    with_zone = planned(STARTS, start="2026-03-02T15:00:00-03:30")
    assert times(with_zone, "icp check")[0] == "12:30"


def test_an_unknown_zone_is_said_and_not_guessed():
    plan = planned(
        STARTS, ("zone: America/Chicago", "zone: America/Chcago"), start="2026-03-02T15:00:00+02:00"
    )
    (finding,) = (f for f in plan.verified.assessment.findings if f.rule == "zone-not-known")
    assert finding.path == "zone"
    assert "the nearest is America/Chicago" in finding.says
    assert (plan.clock.name, times(plan, "icp check")[0]) == (None, "15:00")
    assert parts(plan) == {"Times in the order's zone": ("zone",)}


@pytest.mark.parametrize(
    ("changes", "lacking"),
    [
        ([("bag: 1000 mL", "bag: 1000")], {
            "Irrigation bag times and bags to send up": ("irrigation.bag",),
        }),
        ([("rate: 60 mL/h", "rate: 60")], {
            "Irrigation bag times and bags to send up": ("irrigation.rate",),
            "Volumes irrigated": ("irrigation.rate",),
            "When the daily irrigation limit is reached": ("irrigation.rate",),
            "Titration steps": ("irrigation.rate",),
            "Expected output": ("irrigation.rate",),
            "Collection bag times": ("irrigation.rate",),
        }),
        ([("  group: adult                         # adult | child | infant\n", "")], {
            "Expected output": ("patient.group",), "Collection bag times": ("patient.group",),
        }),
        ([("bag: 700 mL\n", "hourly: 1\n")], {"Collection bag times": ("drainage.bag",)}),
        ([("bag_change_every: 24 h", "bag_change_every: 1 d")], {
            "Bag changes by time": ("irrigation.bag_change_every",),
        }),
        ([("step: 10 mL/h, ", "")], {"Titration steps": ("titration.step",)}),
        ([("zero_every: 12 h", "zero_every: shift")], {"Checks": ("monitoring.zero_every",)}),
        ([("review_by: 2026-03-03T15:00:00-06:00\n", "")], {"Review": ("review_by",)}),
        ([("zone: America/Chicago", "zone: [a, b]")], {"Times in the order's zone": ("zone",)}),
    ],
)  # fmt: skip
def test_what_is_lacking_leaves_a_gap_and_nothing_else(changes, lacking):
    assert parts(planned(*changes)) == lacking


@pytest.mark.parametrize(
    ("change", "part", "reason"),
    [
        (("icp_every: 1 h", "icp_every: 59 s"), "Checks", "59 s, is shorter than 1 min"),
        (("bag: 1000 mL", "bag: 14 mL"), "Irrigation bag times", "14 mL, would not last 10 min"),
        (("bag: 1000 mL", "bag: 0 mL"), "Irrigation bag times", "would not last"),
        (("bag: 700 mL", "bag: 18 mL"), "Collection bag times", "18 mL, would not last 10 min"),
        (("every: 24 h", "every: 9 min"), "Bag changes by time", "9 min, is shorter than 10 min"),
        (("every: 2 h", "every: 59 s"), "Titration steps", "59 s, is shorter than 1 min"),
        (("step: 10 mL/h", "step: 0 mL/h"), "Titration steps", "the titration step is zero"),
        (("max: 90 mL/h", "max: 60 mL/h"), "Titration steps", "maximum is not above the rate"),
        (("step: 10 mL/h", "step: 31 mL/h"), "Titration steps", "one step would pass"),
        (("group: adult", "group: child"), "Expected output", "no rate of CSF formation is held"),
        (("group: adult", "group: infant"), "Collection bag times", "patient group infant"),
    ],
)
def test_what_cannot_be_reckoned_with_says_why(change, part, reason):
    found = parts(planned(change))
    (said,) = (text for name, text in found.items() if name.startswith(part))
    assert reason in said


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        (("icp_every: 1 h", "icp_every: 60 s"), "icp check"),
        (("bag: 1000 mL", "bag: 15 mL"), "bag empty"),  # 10 min at 90 mL/h
        (("bag_change_every: 24 h", "bag_change_every: 10 min"), "bag change"),
    ],
)
def test_the_shortest_that_is_listed(change, kind):
    plan = planned(change, hours=2)
    assert sum(event.kind == kind for event in plan.events) >= 8


def test_an_order_that_only_drains_or_only_monitors():
    only_drains = planned(("therapy: irrigation ", "therapy: drainage "))
    assert times(only_drains, "bag empty") == []
    assert [s.ordered.output / ML for s in only_drains.periods] == [160, 160, 160, 480]
    assert {s.ordered.irrigated for s in only_drains.periods} == {None}
    assert not only_drains.titrates
    watches = planned(("therapy: irrigation ", "therapy: monitoring "))
    assert watches.periods == watches.supplies == ()
    assert times(watches, "zeroing") == ["15:00", "03:00", "15:00"]


def test_without_a_therapy_nothing_is_guessed():
    plan = planned(("therapy: irrigation ", "therapy: irigation "))
    assert parts(plan) == {"Volumes": ("therapy",)}
    assert plan.periods == plan.supplies == plan.estimates.items == ()
    assert plan.verified.behaviour.segments == ()
    assert times(plan, "icp check")


def test_what_the_order_says_of_its_own_times():
    plan = planned(("status: draft", "status: ended"), start="2026-03-01T15:00:00-06:00")
    assert plan.notes[:2] == (
        "The order is marked as ended.",
        "The order starts only at 2026-03-02T15:00:00-06:00, after this plan begins. Nothing is "
        "due before then; checks, bags, shifts and days are counted from there.",
    )
    assert "comes after this plan ends" in plan.notes[2]
    late = planned(start="2026-03-04T15:00:00-06:00").notes[0]
    assert "has passed before this plan begins; all of it is as if the order were renewed" in late
    assert planned().notes == ()


def test_titration_counts_from_the_order_s_start_and_not_from_the_plan_s():
    # By hand: 60 mL/h at 15:00, and 10 mL/h more each 2 h: 70 at 17:00, 90 from 21:00 on.
    plan = planned(start=NIGHT)
    assert times(plan, "titration step") == []
    # 1000 mL at 90 mL/h is 11 h 7 min; 700 mL at 90 + 20 mL/h is 6 h 22 min.
    assert times(plan, "bag empty", "earliest")[0] == "10:07"
    assert times(plan, "collection bag full", "earliest")[0] == "05:22"
    assert times(plan, "bag empty", "ordered rate") == ["15:40"]
    assert plan.periods[0].earliest.irrigated == 8 * 90 * ML
    rate, clocks = plan.notes
    assert "since the order's start time, 2026-03-02T15:00:00-06:00" in rate
    assert rate.endswith("the highest rate that can be reached by now, 90 mL/h.")
    for said in ("Bags, shifts, days and the daily limit", "what has run before is not in them"):
        assert said in clocks


def test_a_plan_that_starts_between_two_steps():
    plan = planned(start="2026-03-02T18:30:00-06:00")
    steps = [(shown(plan, e.at), e.rate) for e in plan.events if e.kind == "titration step"]
    assert steps == [("19:00", 80 * ML), ("21:00", 90 * ML)]
    assert "by now, 70 mL/h" in plan.notes[0]
    # A start that cannot be had is no ground to suppose any rate.
    unknown = planned(("starts: 2026-03-02T15:00:00-06:00", "starts: today"), start=NIGHT)
    assert times(unknown, "titration step")[0] == "01:00"
    assert (
        "counted from the start of the plan, for lack of start time (cannot be read)"
        in " ".join(assumptions(unknown))
    )
    assert "for lack of start time" not in " ".join(assumptions(planned()))
    assert unknown.notes == ()


def due(plan):
    """What the schedule gives, without what stands on the calendar."""
    calendar = {"review", "clock change"}
    return [event for event in plan.events if event.kind not in calendar]


@given(st.integers(0, 30 * 60), st.integers(1, 24))
@most(25)
def test_before_the_order_starts_nothing_is_due(minutes, hours):
    """A plan that begins sooner is the one from the order's start on, cut where it ends."""
    begun = datetime.fromisoformat(START)
    early = planned(start=(begun - timedelta(minutes=minutes)).isoformat(), hours=hours)
    whole = planned(hours=24)
    assert due(early) == [event for event in due(whole) if event.at <= early.end]
    assert all(span.start >= whole.start for span in early.periods)
    assert bool(early.supplies) == (early.end >= whole.start)
    said = [text for text in early.notes if text.startswith("The order starts only at")]
    assert len(said) == (minutes > 0)
    since = "the order's start time, and" if minutes else "the start of the plan, and"
    assert since in next(assumptions(early))


def test_only_whole_steps_of_titration_are_reckoned_with_and_that_is_said():
    # By hand: 60 and 25 are 85; to 90 it would be a step of 5, which nobody ordered.
    plan = planned(("step: 10 mL/h", "step: 25 mL/h"))
    steps = [(shown(plan, e.at), e.rate) for e in plan.events if e.kind == "titration step"]
    assert steps == [("17:00", 85 * ML)]
    (note,) = plan.notes
    assert note.startswith("Whole titration steps of 25 mL/h lead to 85 mL/h. Nothing in the order")
    assert "the maximum, 90 mL/h, by a smaller step, so the plan stays at 85 mL/h." in note


def test_what_ran_before_is_named_without_titration_too():
    (clocks,) = planned(NO_TITRATION, start=NIGHT).notes
    assert "a bag that hangs already is over sooner" in clocks
    watches = planned(("therapy: irrigation ", "therapy: monitoring "), start=NIGHT)
    assert not any("over sooner" in note for note in watches.notes)


@given(st.integers(0, 50), st.integers(1, 24))
@most(40)
def test_the_earliest_rate_is_the_same_from_wherever_the_plan_begins(quarters, hours):
    """A later plan is the rest of the one from the order's start on."""
    late = quarters * HOUR // 4
    whole = titrated_rate(60, 10, 2 * HOUR, 90, late + hours * HOUR)
    rest = titrated_rate(60, 10, 2 * HOUR, 90, hours * HOUR, late)
    assert volume_run(rest, 0, hours * HOUR) == volume_run(whole, late, late + hours * HOUR)


@pytest.mark.parametrize(
    ("start", "written", "ward"),
    [
        ("2026-03-02T15:00:00-06:00", None, None),
        ("2026-07-01T15:00:00-05:00", None, None),
        # Chicago is at -05:00 in summer, by the published rules (see tests/test_local_time.py).
        ("2026-07-01T15:00:00-06:00", "15:00 UTC-06:00", "16:00"),
        ("2026-03-03T03:00:00+00:00", "03:00 UTC", "21:00, 2026-03-02"),
        ("2026-07-01T15:00:30-06:00", "15:00:30 UTC-06:00", "16:00:30"),
    ],
)  # fmt: skip
def test_a_start_on_another_clock_than_the_ward_s_is_said(start, written, ward):
    notes = planned(start=start).notes
    said = [text for text in notes if "on the ward's clock" in text]
    due = f"is written {written}; on the ward's clock (America/Chicago) that is {ward}."
    assert said == ([] if written is None else [f"The start of the plan {due}"])
    assert "ward's clock" not in str(planned(("zone: America/Chicago\n", ""), start=start).notes)


def test_a_time_that_the_clock_is_put_forward_past_is_said_to_be_none():
    # In Chicago 02:00 becomes 03:00 on that day, by published rules (tests/test_local_time.py).
    for offset, there in (("-06:00", "03:30"), ("-05:00", "01:30")):
        plan = planned(start=f"2026-03-08T02:30:00{offset}")
        (note,) = (text for text in plan.notes if "on the ward's clock" in text)
        assert note.endswith(f"that is {there}. It is put forward past 02:30 on that day.")


def test_what_is_known_of_saline_in_large_volumes():
    row = fact("fluids", "saline irrigation in endoscopy")
    (note,) = planned(("lactated Ringer's", "sodium chloride 0.9 %")).notes
    assert row["source"].removeprefix("doi ") in note
    for said in ("500 mL", "29", "0.2", "0.7", "0.87"):
        assert said in note
        assert said in f"{row['what']} {row['value']}"


def figures(plan):
    return {figure.kind: dict(figure.cases) for figure in plan.estimates.items}


def test_figures():
    # The relation and its index: Shapiro, Marmarou, Shulman 1980; the rest: tests/test_physiology
    found = figures(planned())
    average, stiff = physiology.volume_between(8, 22, 25.9), physiology.volume_between(8, 22, 18.5)
    assert found["volume to upper pause"] == {
        "average brain": average,
        "stiff brain": pytest.approx(stiff),
    }
    to_upper = found["time to upper pause"]
    assert to_upper["average brain"] == pytest.approx(average / 80 * 60)
    assert to_upper["stiff brain"] == pytest.approx(stiff / 80 * 60)
    quicker = found["time to upper pause at titration maximum"]
    assert quicker["average brain"] == pytest.approx(average / 110 * 60)
    assert found["compliance at treat-above"]["average brain"] == pytest.approx(
        0.4343 * 25.9 / 8, rel=1e-4
    )
    assert found["pressure after net-in volume"]["average brain"] == pytest.approx(
        8 * 10 ** (15 / 25.9)
    )
    assert found["rise with outflow blocked"] == {
        "lowest normal values": 6,
        "highest normal values": 10,
    }
    settled = found["steady state with outflow blocked"]
    assert settled == pytest.approx(
        {"lowest normal values": 80 / 60 * 6 + 5, "highest normal values": 80 / 60 * 10 + 8}
    )
    assert found["head lost in tubing"] == {"at the ordered rate": pytest.approx(0.77 * 2)}


def test_a_blocked_drain_has_no_figure_where_nothing_would_be_irrigated():
    # By hand, as above: 13 and 21.3 mmHg.
    one = planned(("treat_above: 8 mmHg", "treat_above: 13.5 mmHg"))
    for kind in ("rise with outflow blocked", "steady state with outflow blocked"):
        assert list(figures(one)[kind]) == ["highest normal values"]
    none = planned(("treat_above: 8 mmHg", "treat_above: 21.5 mmHg"))
    assert not any(kind.endswith("with outflow blocked") for kind in figures(none))
    assert "at or below the treat-above level" in none.estimates.reasons[0]
    assert planned().estimates.reasons == ()


@pytest.mark.parametrize(
    "change",
    [
        ("treat_above: 8 mmHg", "treat_above: 10.87608 cmH2O"),
        ("upper: 22 mmHg", "upper: 29.90922 cmH2O"),
        ("rate: 60 mL/h", "rate: 1 mL/min"),
        ("above: 15 mL,", "above: 0.015 L,"),
    ],
)
def test_figures_are_the_same_whatever_the_unit(change):
    found = planned(change).estimates.items
    assert [f.kind for f in found] == [f.kind for f in planned().estimates.items]
    for figure, other in zip(found, planned().estimates.items, strict=True):
        assert dict(figure.cases) == pytest.approx(dict(other.cases))


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (("group: adult", "group: child"), "seven adults, and the patient is a child"),
        (("group: adult", "group: infant"), "seven adults, and the patient is an infant"),
        (("flap: in place", "flap: removed"), "the bone flap is removed"),
        (("therapy: irrigation ", "therapy: drainage "), "does not irrigate"),
        (("therapy: irrigation ", "therapy: monitoring "), "does not irrigate"),
        (("treat_above: 8 mmHg", "treat_above: 0 mmHg"), "only above 0 mmHg"),
        (("treat_above: 8 mmHg", "treat_above: -1 mmHg"), "only above 0 mmHg"),
        (("treat_above: 8 mmHg", "treat_above: 22 mmHg"), "not above the treat-above level"),
        (("rate: 60 mL/h", "rate: 0 mL/h"), "the irrigation rate is zero"),
    ],
)
def test_no_figure_where_its_assumptions_do_not_hold(change, reason):
    estimates = planned(change).estimates
    assert estimates.items == ()
    assert reason in "; ".join(estimates.reasons)


@pytest.mark.parametrize(
    ("change", "lacking"),
    [
        (("group: adult", "group: man"), ("patient.group",)),
        (
            ("  bone_flap: in place                  # in place | removed\n", ""),
            ("patient.bone_flap",),
        ),
        (("treat_above: 8 mmHg", "treat_above: 8"), ("treat_above",)),
        (("upper: 22 mmHg", "upper: 22"), ("pause.upper",)),
        (("rate: 60 mL/h", "rate: 60"), ("irrigation.rate",)),
    ],
)
def test_no_figure_for_lack_of_a_setting(change, lacking):
    estimates = planned(change).estimates
    assert (estimates.items, estimates.missing) == ((), lacking)


def test_one_figure_may_be_missing_alone():
    without = planned(("net_in: {above: 15 mL, within: 1 h}", "net_in: {within: 1 h}"))
    assert "pressure after net-in volume" not in figures(without)
    assert len(figures(without)) == len(figures(planned())) - 1
    assert without.estimates.missing == ("notify.net_in.above",)
    assert "time to upper pause at titration maximum" not in figures(planned(NO_TITRATION))
    lower = planned(("max: 90 mL/h", "max: 60 mL/h"))
    assert "time to upper pause at titration maximum" not in figures(lower)


def test_a_volume_beyond_all_numbers_makes_no_fault():
    found = figures(planned(("net_in: {above: 15 mL", "net_in: {above: 20 L")))
    assert found["pressure after net-in volume"]["stiff brain"] == float("inf")


def test_a_policy_without_csf_formation_leaves_it_out():
    verified = planned().verified
    left_out = replace(load("order").values["csf_rate"], keyed={})
    plan = plan_of(verified, instant(START), 24, 0, left_out)
    assert {span.ordered.output for span in plan.periods} == {None}
    assert parts(plan)["Expected output"].endswith("patient group adult")
    assert plan.estimates.reasons == ("no rate of CSF formation is held for this patient group",)


def test_an_absurd_csf_formation_is_no_loop_without_end():
    verified, value = planned().verified, load("order").values["csf_rate"]

    def under(ticks):
        keyed = {"adult": {"": Quantity("flow", ticks, "absurd")}}
        return plan_of(verified, instant(START), 168, 0, replace(value, keyed=keyed))

    with pytest.raises(ValueError, match="below zero"):
        under(-(10**9))
    assert "would not last" in parts(under(10**30))["Collection bag times"]


@given(orders(), st.integers(1, 168), st.integers(0, 10**13))
@most(60)
def test_every_order_has_a_plan(leaves, hours, start):
    """None fails, none has an event outside it, and each that lacks a part says so."""
    rulebook = load("order")
    order = Order("order.yaml", {k: v for k, v in leaves.items() if k != "checked_at"}, ())
    verified = verify_order(order, 0, rulebook)
    start = min(start, 7_000_000_000_000)
    plan = plan_of(verified, start, hours, 0, rulebook.values["csf_rate"])
    assert all(plan.start <= event.at <= plan.end for event in plan.events)
    assert [event.at for event in plan.events] == sorted(event.at for event in plan.events)
    assert plan.periods or not plan.supplies
    named = {path for gap in plan.omissions for path in gap.missing}
    for path in NEEDED.get(str(leaves["therapy"].value), ("therapy",)):
        assert leaves[path].known or path in named
