"""Each formula against the rows of facts.yaml, and against integration of its equation."""

from __future__ import annotations

import math
import re

import pytest
from drawing import most
from facts import fact
from hypothesis import given
from hypothesis import strategies as st

from orderlint import physiology as p

PRESSURES = st.floats(0.5, 80)
INDICES = st.floats(8, 40)
VOLUMES = st.floats(-10, 20)
RATES = st.floats(0.01, 3)
RESISTANCES = st.floats(2, 30)


def numbers(text):
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", text)]


def last(text, places):
    """Half a digit in the last place that the row prints."""
    assert len(str(text).partition(".")[2]) == places
    return 0.5 * 10**-places


def test_the_index_and_its_spread_are_those_of_seven_adults():
    # Shapiro, Marmarou, Shulman 1980, doi 10.1002/ana.410070603
    mean, deviation, adults = numbers(fact("csf", "pressure-volume index")["value"])
    assert (mean, deviation, adults) == (p.MEAN_INDEX, p.INDEX_SD, 7)
    assert pytest.approx(mean - 2 * deviation) == p.STIFF_INDEX


def test_pressure_after_a_volume():
    # Computed by P = Pb x 10^(dV/PVI), Shapiro, Marmarou, Shulman 1980.
    row = fact("csf", "PVI 25.9 mL, from 10 mmHg")
    assert row["what"] == "PVI 25.9 mL, from 10 mmHg, +5 / +10 / +20 mL"
    found = [p.pressure_after(added, 10, 25.9) for added in (5, 10, 20)]
    assert found == pytest.approx(numbers(row["value"]), abs=last("15.597", 3))


def test_volume_between_two_pressures():
    # Computed by the same relation.
    row = fact("csf", "PVI 25.9 mL, volume")
    assert row["what"] == "PVI 25.9 mL, volume for 10 to 20 / 10 to 22 / 15 to 22 mmHg"
    pairs = ((10, 20), (10, 22), (15, 22))
    found = [p.volume_between(start, end, 25.9) for start, end in pairs]
    assert found == pytest.approx(numbers(row["value"]), abs=last("7.797", 3))


def test_compliance():
    # Computed by 0.4343 x PVI / P.
    row = fact("csf", "compliance at 10 mmHg")
    assert p.compliance(10, 25.9) == pytest.approx(numbers(row["value"])[0], abs=last("1.1248", 4))


def test_a_constant_infusion_levels_off_higher_by_the_rise():
    # Closed form of dP/dt = (ln10/PVI) P [I + (Pb-P)/R], computed: Pb 10, 1.5 mL/min.
    row = fact("csf", "constant-rate infusion")
    assert "Pb 10, R 10" in row["what"]
    assert "1.5 mL/min" in row["what"]
    plateau = numbers(row["value"])[-1]
    assert 10 + p.blocked_rise(1.5 * 60, 10) == pytest.approx(plateau)


def test_outflow_blocked_for_good():
    # Follows from Davson's equation, computed.
    row = fact("csf", "outflow blocked for good")
    rates, due = map(numbers, re.findall(r"([\d/. ]+ / [\d. ]+)(?:mL/h|mmHg)", row["value"]))
    assert rates == [3, 20, 90, 180]
    assert [p.blocked_rise(rate, 10) for rate in rates] == pytest.approx(due, abs=last("3.33", 2))
    assert p.blocked_rise(60, 7.5) == 7.5


def test_davson():
    # Davson's equation, computed; ranges of AccessPediatrics, ICP chapter.
    row = fact("csf", "Davson steady state")
    formation, resistance, sinus, due = numbers(row["value"])
    assert p.resting_pressure(formation, resistance, sinus) == pytest.approx(due)
    ranges = fact("csf", "normal ranges")["value"]
    assert f"outflow resistance {p.RESISTANCE_RANGE[0]:.0f}-{p.RESISTANCE_RANGE[1]:.0f}" in ranges
    assert f"sinus pressure {p.SINUS_RANGE[0]:.0f}-{p.SINUS_RANGE[1]:.0f}" in ranges


def test_head_lost_in_tubing():
    # PMC8239198, a model, abstract only.
    row = fact("drain-care", "head lost in drain tubing")
    head, flow = numbers(row["value"])[0], numbers(row["value"])[2]
    assert (p.tubing_head(flow), p.tubing_head(2 * flow), p.tubing_head(0)) == (head, 2 * head, 0)


def slope(index, inflow, baseline, resistance):
    """dP/dt = (ln10/PVI) P [I + (Pb-P)/R], minutes and mmHg."""

    def of(_, pressure):
        net = inflow + (baseline - pressure) / resistance
        return math.log(10) / index * pressure * net

    return of


def integrated(right_side, start, minutes):
    from scipy.integrate import solve_ivp  # noqa: PLC0415 - only here, and slow to load

    done = solve_ivp(right_side, (0, minutes), [start], rtol=1e-9, atol=1e-10)
    assert done.success
    return done.y[0, -1]


@pytest.mark.slow
@given(PRESSURES, PRESSURES, st.floats(3, 200), INDICES)
def test_time_with_outflow_blocked_is_what_integration_gives(start, end, inflow, index):
    """Without outflow (R without bound) the pressure is at `end` after that time."""
    minutes = p.minutes_between(start, end, inflow, index)
    assert math.copysign(1, minutes) == (1 if end >= start else -1)
    blocked = slope(index, inflow / 60, 0, math.inf)
    assert integrated(blocked, start, minutes) == pytest.approx(end, rel=1e-6)


@given(PRESSURES, PRESSURES, INDICES)
def test_volume_is_the_integral_of_compliance(start, end, index):
    from scipy.integrate import quad  # noqa: PLC0415 - only here, and slow to load

    due, _ = quad(lambda pressure: p.compliance(pressure, index), start, end)
    assert p.volume_between(start, end, index) == pytest.approx(due, rel=1e-6, abs=1e-9)


@given(PRESSURES, VOLUMES, INDICES)
def test_volume_undoes_pressure(start, retained, index):
    end = p.pressure_after(retained, start, index)
    assert p.volume_between(start, end, index) == pytest.approx(retained, abs=1e-9)


@given(RATES, st.floats(5, 20), RESISTANCES)
@most(30)
def test_the_rise_is_where_integration_levels_off(rate, baseline, resistance):
    plateau = baseline + p.blocked_rise(60 * rate, resistance)
    # Near its end the pressure nears the plateau by ln10 / PVI * plateau / R each minute.
    slowest = p.MEAN_INDEX * resistance / (math.log(10) * baseline)
    settled = integrated(slope(p.MEAN_INDEX, rate, baseline, resistance), baseline, 30 * slowest)
    assert settled == pytest.approx(plateau, rel=1e-5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: p.pressure_after(5, 0),
        lambda: p.pressure_after(5, 10, 0),
        lambda: p.volume_between(-1, 10),
        lambda: p.volume_between(10, 0),
        lambda: p.volume_between(10, 20, 0),
        lambda: p.compliance(0),
        lambda: p.compliance(10, 0),
        lambda: p.minutes_between(8, 22, 0),
        lambda: p.minutes_between(8, 22, -1),
        lambda: p.minutes_between(8, 22, math.inf),
        lambda: p.compliance(math.nan),
    ],
)
def test_no_figure_where_the_relation_does_not_hold(call):
    with pytest.raises(ValueError, match="above zero"):
        call()


@pytest.mark.parametrize("absurd", [-1, -1e-300, -math.inf, math.inf, math.nan])
@pytest.mark.parametrize(
    "call",
    [
        lambda flow: p.resting_pressure(flow, 8, 6),
        lambda resistance: p.resting_pressure(0.35, resistance, 6),
        lambda flow: p.blocked_rise(flow, 8),
        lambda resistance: p.blocked_rise(60, resistance),
        p.tubing_head,
    ],
)
def test_no_flow_and_no_resistance_is_below_zero(call, absurd):
    with pytest.raises(ValueError, match="below zero"):
        call(absurd)


def test_a_pressure_beyond_all_numbers_is_said_to_be_so():
    with pytest.raises(OverflowError):
        p.pressure_after(20_000, 8)
