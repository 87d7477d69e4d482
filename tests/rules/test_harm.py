"""Of one level, what can kill stands first: the order of harms, and that each rule has one."""

from __future__ import annotations

import re
from pathlib import Path

import core_yaml
import pytest

import orderlint
from orderlint.fields import load_schema
from orderlint.finding import Harm
from orderlint.rulebook.load import load

FOLDER = Path(__file__).parents[2] / "orderlint/rules"
CLEAN = (FOLDER.parents[1] / "examples/clean.yaml").read_text(encoding="utf-8")
RULES = load("all").rules


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_each_rule_says_what_can_come_of_it(path):
    for record in core_yaml.load_file(path).get("rules", ()):
        assert record["harm"] in set(Harm), record["rule"]


def test_a_site_policy_may_say_the_same():
    assert load_schema("site-policy")["$defs"]["rule"]["properties"]["harm"]["enum"] == [*Harm]


@pytest.mark.parametrize(
    ("changes", "order"),
    [
        # A drug, then fluid that stays in, then units.
        (
            (
                ("fluid: lactated Ringer's", "fluid: sterile water"),
                ("alarms: on", "alarms: off"),
                ("lower: 2 mmHg", "lower: 2"),
            ),
            [Harm.DRUG, Harm.RETAINED_FLUID, Harm.UNITS],
        ),
        # A thin margin comes after what contradicts itself, and paper last.
        (
            (
                ("height: 5 mmHg", "height: 7 mmHg"),
                ("icp_above: 20 mmHg", "icp_above: 25 mmHg"),
                ("prescriber: ", "prescriber_: "),
            ),
            [Harm.RETAINED_FLUID, Harm.THIN_MARGIN],
        ),
    ],
)
def test_what_can_kill_stands_first_in_its_level(changes, order):
    text = CLEAN
    for before, after in changes:
        assert re.search(re.escape(before), text), before
        text = text.replace(before, after)
    findings = orderlint.verify(text).findings
    by_level = {finding.level: [] for finding in findings}
    for finding in findings:
        if finding.family != "complete":
            by_level[finding.level].append(RULES[finding.rule].harm)
    shown = [harm for harms in by_level.values() for harm in harms if harm in order]
    assert [*dict.fromkeys(shown)] == order
    for harms in by_level.values():
        ranks = [harm.rank for harm in harms if harm is not Harm.PAPER]
        assert ranks == sorted(ranks)
