"""Writes the result of an audit as JSON, as schemas/audit.schema.json describes it.

Names, order and form of the members. Never wording, never a float.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, TypeAlias

from orderlint.audit.model import GroupRule
from orderlint.audit.shares import wilson
from orderlint.report.audit import counts
from orderlint.report.audit.month_tables import MonthTable, month_table
from orderlint.report.audit.small_cells import shown_line
from orderlint.report.order.json import report_text
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.audit.model import (
        Against,
        AuditResult,
        GroupCounts,
        RuleCounts,
        Unreadable,
    )
    from orderlint.report.order.json import Member
    from orderlint.rulebook.rule import Rule


def render(result: AuditResult, rules: Mapping[str, Rule]) -> str:
    """The result, ending in a line feed; the same input, the same text."""
    members: dict[str, Member] = {
        "files": [each._asdict() for each in result.files],
        "mapping": [each._asdict() for each in result.mapping],
        "unmapped": [*result.unmapped],
        "policy": {"title": result.policy, "digest": result.policy_digest},
        "rulebook": result.rulebook_digest,
        "as_of": result.as_of,
        "rows": result.rows,
        "refused": result.refused.count,
        "refusals": {
            "by_reason": dict(result.refused.by_reason),
            "first": [row._asdict() for row in result.refused.first],
        },
        "stopped": result.stopped,
        "verdicts": {verdict.value: count for verdict, count in result.verdicts.items()},
        "rules": _rules(result.rules),
        "inactive": [item._asdict() for item in result.inactive],
        "pairs": [{"rules": [*pair], "rows": count} for pair, count in result.pairs.items()],
        "groups": {column: _groups(found, result) for column, found in result.groups.items()},
        "months": {"of": result.month_of, "counts": _groups(result.months, result)}
        if result.month_of is not None
        else None,
        "stops_most": _stops_most(result, rules),
        "unreadable": {path: _unreadable(found) for path, found in result.unreadable.items()},
        "seed": result.seed,
        "samples": {
            rule: [{**row._asdict(), "cells": dict(row.cells)} for row in rows]
            for rule, rows in result.samples.items()
        },
        "against": _against(result.against) if result.against else None,
        "min_cell": result.min_cell,
        "caution": CAUTION,
    }
    return report_text(members)


def _rules(rules: Mapping[str, RuleCounts]) -> Member:
    return {rule: asdict(found) for rule, found in rules.items()}


def _groups(found: Mapping[str, GroupCounts], result: AuditResult) -> Member:
    """The counts of each group: null for one that is too small to be shown, or gives one away."""
    whole = {name: _line(found, name, result) for name in ("rows", "refused", "stopped")}
    of_rules: dict[str, dict[str, _Line]] = {}
    for rule in sorted({rule for group in found.values() for rule in group.rules}):
        parts = {value: group.rules.get(rule, GroupRule()) for value, group in found.items()}
        of_rules[rule] = {name: _line(parts, name, result) for name in GroupRule._fields}
    return {value: _group(value, whole, of_rules) for value in found}


_Line: TypeAlias = "dict[str, int | None]"


def _line(
    parts: Mapping[str, GroupCounts] | Mapping[str, GroupRule], name: str, result: AuditResult
) -> _Line:
    """The count of a name in each group, as it may be shown."""
    line = shown_line({key: getattr(part, name) for key, part in parts.items()}, result.min_cell)
    return {value: each.value for value, each in line.items()}


def _group(
    value: str, whole: Mapping[str, _Line], of_rules: Mapping[str, Mapping[str, _Line]]
) -> dict[str, Member]:
    """One group; without the rules that are known to be neither broken nor reported in it."""
    said = {name: line[value] for name, line in whole.items()}
    rows, refused = said["rows"], said["refused"]
    judged = None if rows is None or refused is None else rows - refused
    rules: dict[str, Member] = {}
    for rule, lines in of_rules.items():
        counts = {name: line[value] for name, line in lines.items()}
        if any(count != 0 for count in counts.values()):
            rules[rule] = {**counts, "reported_share": _share(counts["reported"], judged)}
    return {**said, "stopped_share": _share(said["stopped"], judged), "rules": rules}


def _share(count: int | None, of: int | None) -> Member:
    """The 95 % interval of a share, in millionths; null where a count of it is not shown."""
    if count is None or of is None:
        return None
    return [round(end * 1_000_000) for end in wilson(count, of)]


def _stops_most(result: AuditResult, rules: Mapping[str, Rule]) -> Member:
    """The rule that stops most by month and group; null where none is shown."""
    stopping = counts.rules_shown(result, counts.ranked(result, rules))[:1]
    for rule in stopping:
        tables = {column: month_table(result, column, rule) for column in result.groups}
        found = {column: _month_table(table) for column, table in tables.items() if table}
        return {"rule": rule, "groups": found}
    return None


def _month_table(table: MonthTable) -> Member:
    """The values, and by month the orders of each, and of all others together where there are."""
    return {
        "values": [*table.values],
        "has_others": table.has_others,
        "months": {month: [each.value for each in row] for month, row in table.months.items()},
    }


def _unreadable(found: Unreadable) -> Member:
    return {
        "texts": [{"text": text, "rows": rows} for text, rows in found.texts.items()],
        "others": found.others,
        "rows_of_others": found.rows_of_others,
    }


def _against(against: Against) -> Member:
    return {
        "policy": {"title": against.policy, "digest": against.policy_digest},
        "rulebook": against.rulebook_digest,
        "stopped": against.stopped,
        "verdicts": {verdict.value: count for verdict, count in against.verdicts.items()},
        "rules": _rules(against.rules),
        "inactive": [item._asdict() for item in against.inactive],
        "moved_stopped": against.moved_stopped._asdict(),
        "moved": {rule: moved._asdict() for rule, moved in against.moved.items()},
    }
