"""Writes the result of an audit as JSON, as schemas/audit.schema.json describes it.

Names, order and form of the members. Never wording, never a float.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.audit.intervals import wilson
from orderlint.report.order.json import report_text
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.audit.model import (
        Against,
        AuditResult,
        GroupCounts,
        MappedColumn,
        Refusals,
        RuleCounts,
        SampledRow,
        Unreadable,
    )
    from orderlint.finding import Inactive
    from orderlint.report.order.json import Member


def render(result: AuditResult) -> str:
    """The result, ending in a line feed; the same input, the same text."""
    members: dict[str, Member] = {
        "files": [each._asdict() for each in result.files],
        "mapping": [_mapped(each) for each in result.mapping],
        "unmapped": [*result.unmapped],
        "policy": {"title": result.policy, "digest": result.policy_digest},
        "rulebook": result.rulebook_digest,
        "as_of": result.as_of,
        "rows": result.rows,
        "refused": result.refused.count,
        "refusals": _refusals(result.refused),
        "stopped": result.stopped,
        "verdicts": {verdict.value: count for verdict, count in result.verdicts.items()},
        "rules": _rules(result.rules),
        "inactive": _inactive(result.inactive),
        "pairs": [{"rules": [*pair], "rows": count} for pair, count in result.pairs.items()],
        "groups": {column: _groups(found, result) for column, found in result.groups.items()},
        "months": _months(result),
        "unreadable": {path: _unreadable(found) for path, found in result.unreadable.items()},
        "seed": result.seed,
        "samples": {rule: [*map(_sampled, rows)] for rule, rows in result.samples.items()},
        "against": _against(result.against) if result.against else None,
        "min_cell": result.min_cell,
        "caution": CAUTION,
    }
    return report_text(members)


def _mapped(mapped: MappedColumn) -> Member:
    return {**mapped._asdict(), "absent": [*mapped.absent]}


def _refusals(refused: Refusals) -> Member:
    return {
        "by_reason": dict(refused.by_reason),
        "first": [row._asdict() for row in refused.first],
    }


def _rules(rules: Mapping[str, RuleCounts]) -> Member:
    return {rule: _rule(counts) for rule, counts in rules.items()}


def _rule(counts: RuleCounts) -> Member:
    return {
        "level": counts.level.value,
        "family": counts.family,
        "broken": counts.broken,
        "kept": counts.kept,
        "not_asked": counts.not_asked,
        "unchecked": counts.unchecked,
        "reported": counts.reported,
        "only": counts.only,
        "unchecked_by": dict(counts.unchecked_by),
    }


def _inactive(inactive: tuple[Inactive, ...]) -> Member:
    return [item._asdict() for item in inactive]


def _groups(found: Mapping[str, GroupCounts], result: AuditResult) -> Member:
    return {value: _group(counts, result) for value, counts in found.items()}


def _group(counts: GroupCounts, result: AuditResult) -> dict[str, Member]:
    """The counts of a group: null for each that is too small to be shown."""

    def shown(count: int) -> int | None:
        return None if result.hides(count) else count

    return {
        "rows": shown(counts.rows),
        "refused": shown(counts.refused),
        "stopped": shown(counts.stopped),
        "stopped_share": _share(counts.stopped, counts.judged, result),
        "rules": {
            rule: {
                "broken": shown(found.broken),
                "reported": shown(found.reported),
                "only": shown(found.only),
                "reported_share": _share(found.reported, counts.judged, result),
            }
            for rule, found in counts.rules.items()
        },
    }


def _share(count: int, of: int, result: AuditResult) -> Member:
    """The 95 % interval of a share, in millionths; null where a count of it is not shown."""
    if result.hides(count) or result.hides(of):
        return None
    return [round(end * 1_000_000) for end in wilson(count, of)]


def _months(result: AuditResult) -> Member:
    if result.month_of is None:
        return None
    return {"of": result.month_of, "counts": _groups(result.months, result)}


def _unreadable(found: Unreadable) -> Member:
    return {
        "texts": [{"text": text, "rows": rows} for text, rows in found.texts.items()],
        "others": found.others,
        "rows_of_others": found.rows_of_others,
    }


def _sampled(row: SampledRow) -> Member:
    return {**row._asdict(), "cells": dict(row.cells)}


def _against(against: Against) -> Member:
    return {
        "policy": {"title": against.policy, "digest": against.policy_digest},
        "rulebook": against.rulebook_digest,
        "stopped": against.stopped,
        "verdicts": {verdict.value: count for verdict, count in against.verdicts.items()},
        "rules": _rules(against.rules),
        "inactive": _inactive(against.inactive),
        "moved_stopped": against.moved_stopped._asdict(),
        "moved": {rule: moved._asdict() for rule, moved in against.moved.items()},
    }
