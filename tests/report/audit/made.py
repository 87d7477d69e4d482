"""Results of audits made by hand, so that what is shown of one is tested without a table."""

from __future__ import annotations

from orderlint.api.renderers import RENDERERS
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
from orderlint.finding import Inactive, Level, Verdict
from orderlint.rulebook.load import load
from orderlint.tables.table_map import MappedColumn

RULES = load().rules
PATHS = ("id", "written", "therapy", "pause.lower", "pause.upper", "treat_above", "drainage.height")
MONTHS = [f"2025-{month:02d}" for month in range(1, 13)]
WARDS = {"3 West": 0.4, "ICU <b>2</b>": 0.3, "stroke unit": 0.2, "": 0.0995, "day ward": 0.0005}
ABOVE, MARGIN, RATE = "drain-above-treat-above", "drain-margin-small", "missing-irrigation-rate"
FOUND = {ABOVE: 620, MARGIN: 240, "trailing-zero": 61, "alarms-off": 3, "bag-not-stocked": 90}
HIGH = [4, 3, 5, 2, 6, 5, 7, 4, 140, 150, 148, 146]
"""In how many orders of each month drains hang too high."""
ROWS, REFUSED = 12_000, 14
JUDGED = ROWS - REFUSED


def as_page(found, written=()):
    return RENDERERS["audit", "html"](found, {"rules": RULES, "written": written})


def shared(count, shares):
    """`count` split by `shares`, the rest to the first."""
    parts = [int(count * share) for share in shares]
    parts[0] += count - sum(parts)
    return parts


def group(judged, stopped, rules, refused=0, by_month=()):
    found = {rule: GroupRule(n, n, n // 2) for rule, n in rules.items() if n}
    return GroupCounts(judged + refused, stopped, refused, found, dict(by_month))


def wards():
    """Nearly all drains that hang too high are on one ward."""
    judged, stopped = shared(JUDGED, WARDS.values()), shared(1530, WARDS.values())
    by_rule = {rule: shared(count, WARDS.values()) for rule, count in FOUND.items()}
    by_rule[ABOVE] = [540, 42, 35, 3, 0]
    found = zip(WARDS, judged, stopped, by_month(by_rule[ABOVE]), *by_rule.values(), strict=True)
    return {
        name: group(orders, held, dict(zip(by_rule, counts, strict=True)), 0, {ABOVE: line}.items())
        for name, orders, held, line, *counts in found
    }


def by_month(counts):
    """Each ward's count split by month: the first wards have the last months."""
    left = dict(zip(MONTHS, HIGH, strict=True))
    for count in counts:
        line = {}
        for month in reversed(MONTHS):
            line[month] = min(left[month], count - sum(line.values()))
            left[month] -= line[month]
        yield {month: n for month, n in line.items() if n}


def months():
    """From September on drains hang too high."""
    judged = shared(JUDGED, [1 / 12] * 12)
    margin = shared(FOUND[MARGIN], [1 / 12] * 12)
    return {
        month: group(orders, 60 + count, {ABOVE: count, MARGIN: narrow})
        for month, orders, count, narrow in zip(MONTHS, judged, HIGH, margin, strict=True)
    }


def rules():
    found = {
        rule: RuleCounts(item.level, item.family, kept=JUDGED)
        for rule, item in RULES.items()
        if item.found_by == "condition"
    }
    for rule, count in FOUND.items():
        item, open_in = RULES[rule], 30 if rule == ABOVE else 3
        found[rule] = RuleCounts(
            *(item.level, item.family, count, JUDGED - count - open_in - 500, 500, open_in),
            *(count, count // 2, {"drainage.height": open_in, "pause.upper": 2}),
        )
    found[RATE] = RuleCounts(Level.DO_NOT_START, "complete", JUDGED, 0, 0, 0, JUDGED, 100)
    return found


SAMPLE = SampledRow(
    "orders-2025.csv", 17, 2, {"id": "demo-17", "therapy": "irrigation", "treat_above": "=8 mmHg"}
)


def hostile(nasty):
    """The same with one text wherever a table can bring one in."""
    wards = {nasty: group(6000, 700, {ABOVE: 620}), "other": group(JUDGED - 6000, 830, {})}
    return result(
        files=(SourceFile(nasty, "0" * 64, 1),),
        mapping=(MappedColumn("treat_above", nasty, nasty, None, (nasty,)),),
        unmapped=(nasty,),
        policy=nasty,
        refused=Refusals(9, {nasty: 9}, (RefusedRow(nasty, 1, nasty, nasty),)),
        groups={nasty: wards},
        unreadable={"treat_above": Unreadable({nasty: 9})},
        samples={ABOVE: (SampledRow(nasty, 1, 1, {"id": nasty}),)},
    )


def result(**changes):
    """An audit of a year, with a part of each kind; `changes` replace members."""
    members = {
        "version": "0.1.0",
        "files": (SourceFile("orders-2025.csv", "ab" * 32, ROWS),),
        "mapping": (
            *(MappedColumn(path, path) for path in PATHS[:-1]),
            MappedColumn(PATHS[-1], "HEIGHT", "HEIGHT_U", None, ("n/a", "-")),
        ),
        "unmapped": ("ward", "<script>"),
        "policy": "built-in policy",
        "policy_digest": "built-in",
        "rulebook_digest": "cd" * 32,
        "as_of": "written",
        "rows": ROWS,
        "refused": Refusals(
            REFUSED,
            {"A text holds a NUL.": 13, "The text is too long.": 1},
            (RefusedRow("orders-2025.csv", 3, "treat_above", "A text holds a NUL."),),
        ),
        "stopped": 1530,
        "verdicts": dict(zip(Verdict, (900, 630, 7000, 400, 3056), strict=True)),
        "rules": rules(),
        "pairs": {(ABOVE, MARGIN): 120, (ABOVE, "trailing-zero"): 3},
        "groups": {"ward": wards()},
        "month_of": "written",
        "months": months(),
        "unreadable": {
            "treat_above": Unreadable({"8 mm<b>": 30, "eight": 5, "as before": 2}, 4, 4),
            "pause.upper": Unreadable({"??": 1}),
        },
        "seed": 7,
        "samples": {ABOVE: (SAMPLE,), "alarms-off": (SAMPLE,)},
        "inactive": (Inactive("drain-height-outside-scale", "the policy gives no range"),),
        "against": Against(
            *("adult unit", "ef" * 32, "12" * 32, dict.fromkeys(Verdict, 1)),
            {MARGIN: RuleCounts(Level.CLARIFY, "drain-height", reported=180)},
            *(1490, (), MovedRows(60, 20), {MARGIN: MovedRows(70, 10)}),
        ),
    }
    return AuditResult(**{**members, **changes})
