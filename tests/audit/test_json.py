"""The JSON of an audit is what its schema says, and hides small groups."""

from __future__ import annotations

import json
from dataclasses import replace

from jsonschema import Draft202012Validator

from orderlint.audit.model import (
    Against,
    AuditResult,
    GroupCounts,
    GroupRule,
    MovedRows,
    Refusals,
    RefusedRow,
    RuleCounts,
    SampledRow,
    SourceFile,
    Unreadable,
)
from orderlint.audit.shares import wilson
from orderlint.fields import load_schema
from orderlint.finding import Inactive, Level, Verdict
from orderlint.report.audit.json import render
from orderlint.tables.table_map import MappedColumn

SCHEMA = Draft202012Validator(load_schema("audit"))
RULE = RuleCounts(Level.CLARIFY, "band", 7, 80, 10, 2, 6, 3, {"pause.upper": 2})
GROUP = GroupCounts(60, 6, 1, {"drain-margin-small": GroupRule(7, 6, 3)})
WHOLE = AuditResult(
    version="0",
    files=(SourceFile("orders.csv", "0" * 64, 100),),
    mapping=(MappedColumn("pause.upper", "upper", "unit", None, ("n/a",)),),
    unmapped=("ward",),
    policy="built-in policy",
    policy_digest="built-in",
    rulebook_digest="0" * 64,
    as_of="written",
    rows=100,
    refused=Refusals(1, {"why": 1}, (RefusedRow("orders.csv", 3, "upper", "why"),)),
    stopped=6,
    verdicts=dict.fromkeys(Verdict, 0),
    rules={"drain-margin-small": RULE},
    pairs={("a", "b"): 2},
    groups={"ward": {"north": GROUP}},
    month_of="written",
    months={"2025-11": GROUP},
    unreadable={"pause.upper": Unreadable({"20": 9}, 1, 2)},
    seed=4,
    samples={"drain-margin-small": (SampledRow("orders.csv", 9, 1, {"id": "7"}),)},
    inactive=(Inactive("one", "why"),),
    against=Against(
        "other", "0" * 64, "1" * 64, dict.fromkeys(Verdict, 1), {}, 5, (), MovedRows(1, 0), {}
    ),
)


def test_it_is_as_the_schema_says():
    Draft202012Validator.check_schema(SCHEMA.schema)
    assert [error.message for error in SCHEMA.iter_errors(json.loads(render(WHOLE, {})))] == []


def test_small_counts_of_a_group_are_hidden():
    group = json.loads(render(WHOLE, {}))["groups"]["ward"]["north"]
    assert (group["rows"], group["refused"], group["stopped"]) == (60, None, 6)
    assert group["rules"]["drain-margin-small"]["only"] is None
    assert group["rules"]["drain-margin-small"]["broken"] == 7


def test_what_gives_a_small_count_of_a_group_away_is_hidden_too():
    wards = {
        "north": GroupCounts(60, 20, 0, {"drain-margin-small": GroupRule(7, 7, 6)}),
        "south": GroupCounts(40, 3, 0, {"drain-margin-small": GroupRule(2, 0, 0)}),
        "east": GroupCounts(30, 0, 0),
    }
    found = json.loads(render(replace(WHOLE, groups={"ward": wards}), {}))["groups"]["ward"]
    assert [group["stopped"] for group in found.values()] == [20, None, None]
    rules = [group["rules"].get("drain-margin-small") for group in found.values()]
    assert [rule and rule["broken"] for rule in rules] == [7, None, None]
    assert [rule and rule["reported"] for rule in rules] == [7, 0, 0]
    assert found["south"]["stopped_share"] is None
    assert found["north"]["stopped_share"] == [round(end * 10**6) for end in wilson(20, 60)]


def test_an_interval_is_as_published():
    # Newcombe RG, Stat Med 1998;17:857-872, table I, 81 of 263 and 15 of 148 (from memory).
    assert [round(end, 4) for end in wilson(81, 263)] == [0.2553, 0.3662]
    assert [round(end, 4) for end in wilson(15, 148)] == [0.0624, 0.1605]
    assert wilson(0, 0) == (0.0, 1.0)
    assert wilson(0, 20)[0] == 0.0
    assert wilson(20, 20)[1] == 1.0
