"""What an order must hold, by therapy and level, against a table of its own.

Therapies, fields and levels are common practice, no published source; they stand here a second
time so that a field dropped from the rulebook, or moved to another level, is seen.
"""

from __future__ import annotations

import pytest
from each_case import holds_of_each

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.language.evaluate import evaluate
from orderlint.order_reader import read_order
from orderlint.reading import Document
from orderlint.reading.node import Scalar, nest_paths
from orderlint.rulebook.load import load

THERAPIES = ("irrigation", "drainage", "monitoring")
GROUPS = ("adult", "child", "infant")

EVERY = {
    "do-not-start": "therapy display_unit pause.lower pause.upper",
    "clarify": """
        prescriber indication written starts review_by patient.group
        notify.call notify.icp_above notify.icp_for notify.icp_below notify.events
        monitoring.icp_every monitoring.neuro_every monitoring.zero_every monitoring.alarms""",
    "note": "targets.map targets.cpp_min position.head_up monitoring.relevel_on_move",
}
FLOW = {
    "do-not-start": "access treat_above drainage.height drainage.landmark drainage.scale",
    "clarify": """
        drainage.hourly_max drainage.at_hourly_max drainage.bag
        monitoring.output_every monitoring.level_every notify.net_out transport.drain
        patient.vascular_lesion patient.anticoagulation patient.bone_flap""",
}
IRRIGATION = {
    "do-not-start": """
        irrigation.rate irrigation.fluid irrigation.additive irrigation.bag notify.net_in""",
    "clarify": """
        transport.irrigation notify.no_output_after during_pause.tell_within
        start_checks.imaging start_checks.outflow_seen start_checks.neuro_baseline stop_when""",
    "note": "irrigation.bag_change_every irrigation.daily_max",
}
YOUNG = {"clarify": "patient.weight"}

NEEDED = {
    "irrigation": (EVERY, FLOW, IRRIGATION),
    "drainage": (EVERY, FLOW),
    "monitoring": (EVERY,),
}
WRITTEN = ("therapy", "patient.group")
MISSING = {rule.id: rule for rule in load("all").rules.values() if rule.family == "complete"}


def flat(*tables: dict[str, str]) -> dict[str, str]:
    """Field → level."""
    return {
        path: level for table in tables for level, paths in table.items() for path in paths.split()
    }


def rule_id(path: str) -> str:
    return f"missing-{path.replace('.', '-').replace('_', '-')}"


def truths(written: dict[str, str]) -> dict[str, bool | None]:
    """Every rule of the family on an order in which this much is written."""
    place = Place("order", 1, 1)
    leaves = {path: Scalar(text, text, "text", place) for path, text in written.items()}
    order = read_order(Document("order", "order", nest_paths(leaves, place)))
    return {
        name: evaluate(rule.instances[0].condition, order.leaves) for name, rule in MISSING.items()
    }


def broken(written: dict[str, str]) -> dict[str, str]:
    """Rule → level, of the rules broken."""
    outcomes = truths(written)
    return {name: MISSING[name].level.value for name in outcomes if outcomes[name] is False}


def named(paths: dict[str, str]) -> dict[str, str]:
    return {rule_id(path): level for path, level in paths.items()}


def samples(path: str) -> dict[str, str]:
    """The schema's own example for the field, or for every leaf of the section."""
    table = field_table()
    leaves = [path] if path in table.fields else table.sections[path]
    return {leaf: table.fields[leaf].example for leaf in leaves}


def test_there_is_one_rule_for_every_field_of_the_table_and_no_other():
    needed = flat(EVERY, FLOW, IRRIGATION, YOUNG)
    assert len(needed) == 53
    assert {name: rule.level.value for name, rule in MISSING.items()} == named(needed)
    assert {name for name in load("all").rules if name.startswith("missing-")} == set(MISSING)
    assert all(len(rule.instances) == 1 for rule in MISSING.values())


@pytest.mark.parametrize("group", GROUPS)
@pytest.mark.parametrize("therapy", THERAPIES)
def test_an_order_that_says_nothing_else_lacks_what_its_therapy_needs(therapy, group):
    needed = flat(*NEEDED[therapy], *([] if group == "adult" else [YOUNG]))
    lacking = {path: level for path, level in needed.items() if path not in WRITTEN}
    written = {"therapy": therapy, "patient.group": group}
    assert broken(written) == named(lacking)
    assert None not in truths(written).values()


@pytest.mark.parametrize("therapy", THERAPIES)
def test_a_field_that_is_written_is_not_missing_and_no_other_is_helped_by_it(therapy):
    scene = {"therapy": therapy, "patient.group": "child"}
    before = broken(scene)

    def only_that_one_is_there(path):
        after = broken({**samples(path), **scene})
        assert after == {name: level for name, level in before.items() if name != rule_id(path)}

    holds_of_each(flat(EVERY, FLOW, IRRIGATION, YOUNG), only_that_one_is_there)


def test_without_a_therapy_what_some_therapies_need_is_unknown_and_what_all_need_is_missing():
    outcomes = truths({"patient.group": "adult"})
    some = named(flat(FLOW, IRRIGATION))
    assert {name for name, truth in outcomes.items() if truth is None} == set(some)
    every = {path: level for path, level in flat(EVERY).items() if path != "patient.group"}
    assert {name for name, truth in outcomes.items() if truth is False} == set(named(every))


def test_without_a_patient_group_the_weight_is_unknown():
    assert truths({"therapy": "drainage"})["missing-patient-weight"] is None


@pytest.mark.parametrize(
    "written",
    [
        {"irrigation.additive": "none"},
        {"irrigation.additive.name": "demo antimicrobial"},
        {"irrigation.additive.concentration": "10 mg/L"},
        {"irrigation.additive.class": "antimicrobial"},
        {"irrigation.additive": "perhaps"},
    ],
)
def test_an_additive_is_not_missing_when_anything_is_said_of_it(written):
    assert truths({"therapy": "irrigation", **written})["missing-irrigation-additive"] is True


@pytest.mark.parametrize("section", ["notify.net_in", "notify.net_out"])
@pytest.mark.parametrize("part", ["above", "within"])
def test_half_a_limit_is_a_missing_one(section, part):
    path = f"{section}.{part}"
    assert truths({"therapy": "irrigation", **samples(path)})[rule_id(section)] is False
