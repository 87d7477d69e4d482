"""The policy's published and common-practice values, against the rows they were taken from."""

from __future__ import annotations

import pytest
from facts import fact

from orderlint.rulebook.load import load

NAMED = next(iter(load("all").rules["rate-outside-range"].instances)).scope.policy_values


def text(name: str) -> str:
    return NAMED[name].text


# Each row carries its source: tests/facts.yaml.
@pytest.mark.parametrize(
    ("section", "begins", "value", "names"),
    [
        ("thresholds", "treat ICP above", "22 mmHg", ["icp_threshold.adult"]),
        ("thresholds", "treat ICP above (children)", "20 mmHg for 5 min", ["icp_threshold.child"]),
        (
            "thresholds",
            "cerebral perfusion",
            "60-70 mmHg",
            ["cpp_target.lowest", "cpp_target.highest"],
        ),
        ("thresholds", "normal ICP supine", "adult 5-15", ["normal_icp_highest"]),
        (
            "controller",
            "irrigation rate",
            "3-180 mL/h",
            ["rate_range.lowest", "rate_range.highest"],
        ),
        ("controller", "zeroing", "every 24 h", ["zero_max"]),
        ("csf", "production", "20 mL/h", ["csf_rate.adult"]),
    ],
)
def test_a_value_is_the_one_in_its_source(section, begins, value, names):
    assert value in fact(section, begins)["value"]
    for name in names:
        number = text(name).split(" ")[0]
        assert number in value.replace("-", " ").split(" ")


def test_levels_and_fluids_are_those_of_the_controller():
    assert fact("controller", "treat-above")["value"].startswith("-99 to 99")
    ends = ("treat_above_range.mmHg.lowest", "treat_above_range.cmH2O.highest")
    assert [text(name) for name in ends] == ["-99 mmHg", "99 cmH2O"]
    named = fact("controller", "fluids")["value"].removesuffix(" %").split(" and ")
    fluids = {item.text for item in NAMED["fluids"].items}
    assert fluids == {"sodium chloride 0.9 %", "lactated Ringer's"} == set(named)


def test_what_a_volume_kept_in_does_is_as_published():
    # Shapiro, Marmarou, Shulman 1980: P = Pb x 10^(dV/PVI), index 25.9 mL; from 10 mmHg.
    row = fact("csf", "PVI 25.9 mL, from 10 mmHg")["value"]
    worked = {volume: 10 * 10 ** (volume / 25.9) for volume in (5, 10, 20)}
    assert row.startswith(" / ".join(f"{pressure:.3f}" for pressure in worked.values()))
    why = load("all").rules["net-in-limit-large"].why
    assert f"10 mL kept in can take a pressure of 10 mmHg to {worked[10]:.0f} mmHg" in why
    assert f"20 mL to {worked[20]:.0f} mmHg" in why
