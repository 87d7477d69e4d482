"""Quantities as wards and pharmacies word them. What can be misread is not read."""

from __future__ import annotations

import pytest
from each_case import of_each

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.leaf_reader import read_leaf
from orderlint.reading.node import Scalar
from orderlint.reading.worded_quantity import as_quantity_text

HOUR = 3_600_000


def read(text, path="monitoring.icp_every"):
    return read_leaf(field_table().fields[path], Scalar(text, text, "text", Place("o", 1, 1)))


@of_each(
    ("text", "hours"),
    [
        *(("hourly", 1), ("Hourly", 1), ("every hour", 1), ("q1h", 1), ("Q1H", 1), ("q 1 h", 1)),
        *(
            ("every 2 h", 2),
            ("q2h", 2),
            ("every  2 hours", 2),
            ("q2hr", 2),
            ("every other hour", 2),
        ),
        *(("4-hourly", 4), ("4 hourly", 4), ("q4h", 4), ("Every 4 hrs", 4), ("q4 hours", 4)),
        *(("daily", 24), ("once a day", 24), ("q24h", 24), ("every 24 h", 24), ("Daily", 24)),
        *(("q0.5h", 0.5), ("q30min", 0.5), ("every 30 min", 0.5), ("half-hourly", 0.5)),
        ("each 2 h", 2),
    ],
)
def test_an_interval_in_words_is_a_quantity(text, hours):
    judged = read(text)
    assert judged.fault is None
    assert judged.leaf.value == hours * HOUR
    assert judged.leaf.unit in {"h", "min"}
    assert judged.leaf.text == text
    assert not judged.leaf.flags


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        *((text, "kind-not-expected") for text in ("QD", "q.d.", "qhs", "qh", "q2", "BID")),
        *(
            (text, "kind-not-expected")
            for text in ("every shift", "hourly then 2 h", "every two h")
        ),
        *((text, "number-form-unsafe") for text in ("q2-4h", "every 1-2 h", "q1,5h", "every 02 h")),
        *((text, "unit-not-known") for text in ("q15m", "q1d", "every 2 shifts")),
        ("every 2", "unit-missing"),
        ("q2°", "unit-of-wrong-kind"),
    ],
)
def test_what_can_be_misread_is_not_read(text, rule):
    assert read(text, "titration.every").fault.rule == rule


@of_each("text", ["every shift", "BID", "q2-4h", "q15m", "every 2"])
def test_where_nobody_keys_it_in_it_is_asked_about(text):
    assert read(text).fault.rule == "care-setting-not-read"


@of_each("text", ["2200 mL/day", "2200 mL per day", "2200 mL a day", "2.2 L / 24 h", "2200 mL"])
def test_what_runs_in_a_day_may_be_written_so(text):
    judged = read(text, "irrigation.daily_max")
    assert judged.fault is None
    assert judged.leaf.value == 2_200_000
    assert not judged.leaf.flags


@of_each(
    "text", ["10 mg per 1000 mL", "10 mg/1,000 mL", "10 mg in 1 L", "10 mg / 1000 ml", "10 mg/L"]
)
def test_a_litre_may_be_written_as_pharmacy_labels_a_bag(text):
    judged = read(text, "irrigation.additive.concentration")
    assert judged.fault is None
    assert (judged.leaf.value, judged.leaf.unit) == (1_000_000, "mg/L")
    assert not judged.leaf.flags


@of_each(
    "text", ["10 mg per 500 mL", "10 mg/bag", "10 mg/10000 mL", "10 mg per 1000", "10 mg in 11 L"]
)
def test_no_other_volume_is_a_litre(text):
    assert read(text, "irrigation.additive.concentration").fault


def test_what_runs_in_a_day_is_no_flow():
    assert read("90 mL/h", "irrigation.daily_max").fault.rule == "unit-of-wrong-kind"
    assert read("2200 mL/day", "irrigation.bag").fault.rule == "unit-not-known"


def test_a_time_between_checks_in_a_unit_of_angle_is_a_mix_up():
    assert read("q2°").fault.rule == "unit-of-wrong-kind"


@pytest.mark.parametrize("text", ["q.5h", "every .5 h", ".5-hourly"])
def test_what_is_unsafe_in_the_number_is_still_seen(text):
    judged = read(text)
    assert judged.leaf.value == HOUR / 2
    assert judged.leaf.flags == {"naked decimal"}


@pytest.mark.parametrize("path", ["notify.icp_for", "transport.clamp_max", "notify.net_in.within"])
def test_only_an_interval_is_written_so(path):
    assert read("hourly", path).fault.rule == "kind-not-expected"
    assert read("q1h", path).fault.rule == "kind-not-expected"


@pytest.mark.parametrize("text", ["1 h", "24 h", "", "sixty", "-1 h", "1:30 h"])
def test_all_else_is_as_it_was(text):
    assert as_quantity_text(text) == text
