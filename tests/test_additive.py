"""What runs in of an additive, against pint and plain fractions."""

from __future__ import annotations

import functools
import html
import json
import re
from datetime import datetime
from fractions import Fraction
from pathlib import Path

import pint
import pytest
from facts import fact
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from planned import AT as MILLISECONDS
from planned import planned
from policy_files import site_policy

import orderlint
from orderlint.additive import additive_of
from orderlint.api.renderers import RENDERERS
from orderlint.fields import field_table, load_schema
from orderlint.finding import Place
from orderlint.leaf_reader import read_leaf
from orderlint.message import REST_IN_REPORT, message_to
from orderlint.order import Leaf
from orderlint.reading import read
from orderlint.reading.node import Scalar
from orderlint.report.order import blocks as order_blocks
from orderlint.report.order import json as order_json
from orderlint.report.plan import blocks as plan_blocks
from orderlint.report.text import render_blocks
from orderlint.rulebook.load import load
from orderlint.verification import verify

HERE = Place("order.yaml", 1, 1)
AT = datetime.fromisoformat("2026-03-02T14:30:00-06:00")
JUDGED = Path(__file__).parent / "judged"
CONCENTRATION = field_table().fields["irrigation.additive.concentration"]
UNITS = tuple(CONCENTRATION.decimals)


def leaf(path, text):
    return read_leaf(field_table().fields[path], Scalar(text, text, "text", HERE)).leaf


def leaves(name="vancomycin", concentration="10 mg/L", rate="40 mL/h", most=None):
    found = {path: Leaf(path) for path in field_table().fields}
    found["therapy"] = leaf("therapy", "irrigation")
    for path, text in (
        ("irrigation.additive.name", name),
        ("irrigation.additive.concentration", concentration),
        ("irrigation.rate", rate),
        ("titration.max", most),
    ):
        found[path] = leaf(path, text) if text else Leaf(path)
    return found


def reckoned(**settings):
    return additive_of(leaves(**settings), load("order"))


@functools.cache
def registry():
    made = pint.UnitRegistry(non_int_type=Fraction)
    made.define("units = [activity]")
    made.define("million_units = 1_000_000 units")
    return made


def in_pint(text):
    number, unit = text.replace(",", "").removeprefix("about ").split(" ", 1)
    return registry().Quantity(Fraction(number), unit.replace("million units", "million_units"))


@pytest.mark.slow
@given(
    count=st.integers(1, 999),
    unit=st.sampled_from(UNITS),
    rate=st.one_of(
        st.integers(1, 999).map("{} mL/h".format), st.integers(1, 33).map("{} mL/min".format)
    ),
)
def test_what_runs_in_is_what_pint_makes_of_it(count, unit, rate):
    (found,) = reckoned(concentration=f"{count} {unit}", rate=rate).runs_in
    product = in_pint(f"{count} {unit}") * in_pint(rate)
    for shown, time in ((found.hourly, "h"), (found.daily, "day")):
        exact = product.to(in_pint(shown).units).magnitude
        assert shown.endswith(f"/{time}")
        assert abs(in_pint(shown).magnitude - exact) <= Fraction(5, 100)
        assert shown.startswith("about ") or in_pint(shown).magnitude == exact


def test_what_a_bag_brings_in_a_day():
    """Computed from the order alone."""
    row = fact("intraventricular-doses", "what a bag brings in a day")
    for said in ("720 mg", "72 mg", "14.4 mg"):
        assert said in row["value"]
    assert reckoned(concentration="0.5 mg/mL", rate="60 mL/h").runs_in[0].daily == "720 mg/day"
    alteplase = reckoned(name="alteplase", concentration="0.05 mg/mL", rate="60 mL/h")
    assert alteplase.runs_in[0].daily == "72 mg/day"
    assert reckoned(concentration="10 mcg/mL", rate="60 mL/h").runs_in[0].daily == "14.4 mg/day"


PUBLISHED = {
    "vancomycin": "5 mg/day to 20 mg/day",
    "gentamicin (preservative-free)": "5 mg/day to 10 mg/day",
    "tobramycin": "5 mg/day to 10 mg/day",
    "Amikacin": "20 mg/day to 30 mg/day",
    "colistin methanesulfonate": "1.6 mg/day to 20 mg/day",
    "amphotericin B": "0.1 mg/day to 0.5 mg/day",
    "daptomycin": "5 mg/day to 10 mg/day",
    "rt-PA": "3 mg/day",
    "alteplase": "3 mg/day",
    "polymyxin B": "50,000 units/day",
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_published_amount_is_the_range_of_its_sources(name):
    found = reckoned(name=name)
    assert found.published == PUBLISHED[name]
    assert found.sources
    rows = (
        " ".join(
            fact("intraventricular-doses", begins)["value"]
            for begins in ("vancomycin", "adult doses, table", "adult doses, told", "polymyxin")
        )
        + fact("intraventricular-doses", "alteplase")["value"]
    )
    for end in PUBLISHED[name].split(" to "):
        assert end.split(" ")[0] in rows


def test_of_another_drug_nothing_is_published():
    found = reckoned(name="demo drug")
    assert (found.published, found.sources) == ("", ())
    assert reckoned(name="no vancomycin").published == ""


def test_sources_are_those_of_the_row_alone():
    assert all("alteplase" not in source for source in reckoned().sources)
    (only,) = reckoned(name="tPA").sources
    assert only.startswith("NCT00784134 (CLEAR III)")


def test_both_rates_are_reckoned():
    found = reckoned(most="60 mL/h").runs_in
    assert [(amount.rate.text, amount.hourly, amount.daily) for amount in found] == [
        ("40 mL/h", "0.4 mg/h", "9.6 mg/day"),
        ("60 mL/h", "0.6 mg/h", "14.4 mg/day"),
    ]


@pytest.mark.parametrize(
    "settings", [{"concentration": None}, {"concentration": "10"}, {"rate": None}, {"rate": "40"}]
)
def test_what_cannot_be_reckoned_is_not(settings):
    assert reckoned(**settings) is None


def test_drainage_alone_brings_nothing_in():
    found = {**leaves(), "therapy": leaf("therapy", "drainage")}
    assert additive_of(found, load("order")) is None


@pytest.mark.parametrize(
    ("text", "hourly", "daily"),
    [
        ("2.5 mcg/L", "0.1 mcg/h", "2.4 mcg/day"),
        ("100 mcg/mL", "4 mg/h", "96 mg/day"),
        ("1 g/L", "40 mg/h", "960 mg/day"),
        ("10 mg/mL", "400 mg/h", "9,600 mg/day"),
        ("50,000 units/L", "2,000 units/h", "48,000 units/day"),
        ("2 million units/L", "80,000 units/h", "1,920,000 units/day"),
        ("3 units/mL", "120 units/h", "2,880 units/day"),
    ],
)
def test_amounts_are_shown_in_units_that_are_easily_read(text, hourly, daily):
    (found,) = reckoned(concentration=text).runs_in
    assert (found.hourly, found.daily) == (hourly, daily)


def found_in(name, swap=()):
    kind = "good" if (JUDGED / "good" / f"{name}.yaml").exists() else "bad"
    text = (JUDGED / kind / f"{name}.yaml").read_text(encoding="utf-8")
    for old, new in swap:
        assert old in text
        text = text.replace(old, new)
    return orderlint.verify(text, at=AT)


def rules(found):
    return [finding.rule for finding in found.findings]


def test_pharmacy_is_told_what_there_is_to_check_and_once():
    (only,) = found_in("03-ventriculitis-vancomycin").findings
    assert only.ask_whom == "pharmacy"
    for said in ("vancomycin, 10 mg/L", "40 mL/h", "0.4 mg/h", "9.6 mg/day", "20 mg/day"):
        assert said in only.says
    for said in ("single doses", "drain clamped", "runs in", "much drains"):
        assert said in only.says


def test_the_highest_rate_of_a_titration_is_reckoned_and_judged():
    swap = [
        ("concentration: 10 mg/L", "concentration: 150 mg/L"),
        ("daily_max: 1000 mL", "daily_max: 2000 mL"),
    ]
    titrated = "titration: {goal: pale, step: 10 mL/h, every: 4 h, max: 60 mL/h}\nmonitoring: {icp"
    without = found_in("03-ventriculitis-vancomycin", swap)
    assert "additive-mass-high" not in rules(without)
    found = found_in("03-ventriculitis-vancomycin", [*swap, ("monitoring: {icp", titrated)])
    high = next(f for f in found.findings if f.rule == "additive-mass-high")
    assert "216 mg/day" in high.says
    assert "60 mL/h" in high.says
    asked = next(f for f in found.findings if f.rule == "additive-needs-pharmacy")
    assert "216 mg/day" in asked.says


def test_the_routine_question_stands_last_in_its_level():
    swap = [
        ("net_in: {above: 15 mL", "net_in: {above: 30 mL"),
        ("anticoagulation: none", "anticoagulation: therapeutic"),
    ]
    found = found_in("28-vancomycin-36-times", swap)
    asked = [finding.rule for finding in found.findings if finding.level.value == "clarify"]
    assert len(asked) >= 4
    assert asked[-1] == "additive-needs-pharmacy"


@pytest.mark.parametrize("text", ["10", "1 in 1000", "0.5 %", "10 mg", "20 mmol/L", "strong"])
def test_a_strength_that_cannot_be_read_is_not_started(text):
    swap = [("concentration: 10 mg/L", f'concentration: "{text}"')]
    found = found_in("03-ventriculitis-vancomycin", swap)
    assert found.verdict.value == "do-not-start"
    assert found.findings[0].path == "irrigation.additive.concentration"
    assert "additive-needs-pharmacy" not in rules(found)


def _of_every_rate():
    titrated = "titration: {goal: pale, step: 10 mL/h, every: 4 h, max: 60 mL/h}\nmonitoring: {icp"
    text = (JUDGED / "good" / "03-ventriculitis-vancomycin.yaml").read_text(encoding="utf-8")
    return text.replace("monitoring: {icp", titrated)


def _said(text):
    return " ".join(text.split())


def _detailed(kind, report):
    return render_blocks(kind.blocks(report, MILLISECONDS), width=80)


def _without_tags(page):
    return html.unescape(re.sub(r"<[^>]+>", "", page))


SHOWN = (
    "vancomycin, 10 mg/L, at the irrigation rate, 40 mL/h: 0.4 mg/h, 9.6 mg/day.",
    "vancomycin, 10 mg/L, at the titration maximum, 60 mL/h: 0.6 mg/h, 14.4 mg/day.",
    "Published: 5 mg/day to 20 mg/day, in single doses with the drain clamped (Neurocrit Care",
    "This is what runs in as long as irrigation does, and much of it drains.",
)


def test_report_and_plan_show_what_runs_in():
    plan = planned(data=_of_every_rate().encode())
    pages = (
        _detailed(order_blocks, plan.verified),
        _detailed(plan_blocks, plan),
        _without_tags(order_blocks.as_page([plan.verified], [], {"order.yaml": "0"}, MILLISECONDS)),
        _without_tags(RENDERERS["plan", "html"](plan, {"digest": "0", "at": MILLISECONDS})),
    )
    for page in pages:
        assert all(said in _said(page) for said in SHOWN)


def test_without_an_additive_there_is_no_such_part():
    text = _of_every_rate().replace(
        "additive: {name: vancomycin, concentration: 10 mg/L, class: antimicrobial}",
        "additive: none",
    )
    verified = verify(text.encode(), "order.yaml", MILLISECONDS)
    assert verified.additive is None
    assert "runs in of" not in _detailed(order_blocks, verified)


def test_pharmacy_is_asked_with_the_amounts():
    verified = verify(_of_every_rate().encode(), "order.yaml", MILLISECONDS)
    (point,) = message_to("pharmacy", verified).points
    for said in ("vancomycin, 10 mg/L", "0.4 mg/h", "9.6 mg/day", "14.4 mg/day", "much drains"):
        assert said in point.says
    assert REST_IN_REPORT not in point.says


ROWS = 'polymyxin: {lowest: "50,000 units/day", highest: "50,000 units/day"}'


def _table(*rows):
    entries = ", ".join(("by: irrigation.additive.name", *rows, "source: {kind: local-policy}"))
    return site_policy(f"values:\n  additive_units: {{{entries}}}\n")


def _under(policy, name, strength):
    text = (JUDGED / "good" / "21-ventriculitis-polymyxin-units.yaml").read_text(encoding="utf-8")
    text = text.replace("polymyxin B", name).replace("50,000 units/L", strength)
    return orderlint.verify(text, at=AT, policy=policy)


def test_a_policy_may_add_a_drug_to_the_table():
    longer = _table(ROWS, 'demo drug: {lowest: 1 units/day, highest: "1,000 units/day"}')
    assert "additive-units-high" not in rules(_under(None, "demo drug", "50,000 units/L"))
    found = _under(longer, "demo drug", "50,000 units/L")
    assert found.findings[0].rule == "additive-units-high"
    assert "48,000 units/day into the ventricle, 48 times" in found.findings[0].says
    asked = found.findings[-1]
    assert (asked.rule, "1,000 units/day" in asked.says) == ("additive-needs-pharmacy", True)
    refused = _under(longer, "demo drug", "5 million units/L")
    assert refused.findings[0].rule == "additive-units-refused"


def test_a_policy_has_every_row_and_may_leave_its_amount_out():
    with pytest.raises(orderlint.Refused, match="polymyxin: is missing"):
        _under(
            _table('demo drug: {lowest: 1 units/day, highest: "1,000 units/day"}'), "any", "1 mg/L"
        )
    without = _under(_table("polymyxin: left out"), "polymyxin B", "50 million units/L")
    assert "additive-units-refused" not in rules(without)
    assert "additive-units-refused" in rules(_under(None, "polymyxin B", "50 million units/L"))
    other = _under(_table("polymyxin: left out"), "polymyxin B", "5 mg/L")
    assert "additive-in-other-units" in rules(other)


def test_a_higher_published_amount_is_weaker():
    higher = ROWS.replace('highest: "50,000', 'highest: "500,000')
    found = load("order", read(_table(higher).encode(), "unit.yaml", "site-policy"))
    assert [item.fault.details["value"] for item in found.weaker] == [
        "published daily amount in units for polymyxin"
    ]


def test_json_has_the_amounts():
    verified = verify(_of_every_rate().encode(), "order.yaml", MILLISECONDS)
    report = json.loads(order_json.render([verified], [], MILLISECONDS))
    Draft202012Validator(load_schema("findings")).validate(report)
    found = report["documents"][0]["additive"]
    assert (found["name"], found["concentration"]) == ("vancomycin", "10 mg/L")
    assert [(row["path"], row["daily"]) for row in found["runs_in"]] == [
        ("irrigation.rate", "9.6 mg/day"),
        ("titration.max", "14.4 mg/day"),
    ]
    assert found["published"] == "5 mg/day to 20 mg/day"
