"""Writes a read-back as JSON, as schemas/readback.schema.json describes it.

Names, order and form of the members. Never wording.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.readback.observed import seen_table
from orderlint.report.order import json as of_order
from orderlint.report.order.segment_words import clipped_segments
from orderlint.report.readback import words
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION, instant_words
from orderlint.rulebook.standing_orders import filled_in

if TYPE_CHECKING:
    from orderlint.behaviour import Difference
    from orderlint.readback import ReadBack
    from orderlint.readback.differences import SettingComparison
    from orderlint.readback.result import EffectOnBehaviour
    from orderlint.verification import Verified


def render(result: ReadBack, digest: str, at: int) -> str:
    """The comparison, ending in a line feed.

    `digest` is that of the order's bytes, `at` the instant of comparing, in ms since 1970 UTC.
    """
    sheet = words.sheet_of(result, digest, at)
    members: dict[str, of_order.Member] = {
        "order": safe(result.ordered.file),
        "order_sha256": digest,
        "seen": safe(result.seen.file),
        "compared_at": instant_words(at),
        "verdict": result.verdict.value,
        "findings": [of_order.finding_member(finding) for finding in result.assessment.findings],
        "not_checked": of_order.not_checked_members(result.not_checked),
        "unchecked": [of_order.unchecked_member(rule) for rule in result.assessment.unchecked],
        "inactive": [rule._asdict() for rule in result.assessment.inactive],
        "suppressed": [of_order.suppressed_member(item) for item in result.assessment.suppressed],
        "settings": [_row(row, result) for row in result.rows],
        "changes": [_change(change) for change in result.effects],
        "as_ordered": _verified(result.ordered),
        "as_seen": _verified(result.as_set),
        "sheet": [
            {"group": item.group, "label": item.label, "value": safe(item.value) or None}
            for item in sheet
        ],
        "void": words.VOID,
        "caution": CAUTION,
    }
    return of_order.report_text(members)


def _row(row: SettingComparison, result: ReadBack) -> of_order.Member:
    return {
        "path": row.path,
        "name": seen_table().display_name(row.path),
        "outcome": row.outcome.value,
        "ordered": of_order.text_member(row.ordered),
        "seen": of_order.text_member(row.seen),
        "first_look": safe(result.first[row.path]) if row.path in result.first else None,
        "step": row.step.text if row.step else None,
        "says": safe(words.row_words(row)),
    }


def _change(change: EffectOnBehaviour) -> of_order.Member:
    return {
        "path": change.path,
        "lacking": [*change.missing],
        "stretches": [_difference(difference) for difference in change.differences],
    }


def _difference(difference: Difference) -> of_order.Member:
    """What is ordered and what would be done, each as a segment cut to the difference."""
    ordered, seen = clipped_segments(difference)
    return {"ordered": of_order.segment_member(ordered), "seen": of_order.segment_member(seen)}


def _verified(verified: Verified) -> of_order.Member:
    return {
        "verdict": verified.assessment.verdict.value,
        "findings": [of_order.finding_member(finding) for finding in verified.assessment.findings],
        "unchecked": [of_order.unchecked_member(rule) for rule in verified.assessment.unchecked],
        "suppressed": [of_order.suppressed_member(item) for item in verified.assessment.suppressed],
        **of_order.standing_members(verified.paper, filled_in(verified.order)),
    }
