"""Writes the comparison of two orders or order sets as JSON: schemas/comparison.schema.json.

Names, order and form of the members. Never wording, never a float.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.quantity_words import format_number
from orderlint.report.compare import set_words, words
from orderlint.report.order import json as of_order
from orderlint.report.order.segment_words import clipped_segments
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION, instant_words
from orderlint.rulebook.standing_orders import filled_in

if TYPE_CHECKING:
    from orderlint.behaviour import Difference
    from orderlint.comparison.option_changes import OptionChange
    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets, NewlyBrokenRule
    from orderlint.comparison.setting_changes import SettingChange
    from orderlint.proof.set_difference import DifferingOrder
    from orderlint.verification import Verified


FORMAT = 2
"""Since 2 a finding on sets has the id of the rule that is broken, and an order is a document."""


def render_orders(found: ComparedOrders, at: int) -> str:
    """The comparison of two orders, ending in a line feed; `at` is in ms since 1970 UTC."""
    document: of_order.Member = {
        "before": safe(found.before.file),
        "after": safe(found.after.file),
        "document": "order",
        "verdict": found.verdict.value,
        **of_order.assessment_members(found.assessment),
        "not_checked": of_order.not_checked_members(found.not_checked),
        "settings": [_setting(row) for row in found.settings],
        "signed": [_setting(row) for row in found.signed],
        "behaviour": [_difference(difference) for difference in found.differences],
        "behaviour_lacking": [*words.missing_for_behaviour(found)],
        "before_by_itself": _verified(found.before),
        "after_by_itself": _verified(found.after),
        "checked": {
            "policy": safe(found.after.policy),
            "rules": found.assessment.rules,
            "at": instant_words(at),
            **of_order.standing_members(found.after.paper, filled_in(found.after.order)),
        },
    }
    return of_order.documents_text([document], (), FORMAT, covers=words.COVERS, caution=CAUTION)


def _setting(row: SettingChange) -> of_order.Member:
    return {
        "path": row.path,
        "name": field_table().display_name(row.path),
        "how": row.kind.value,
        "before": of_order.text_member(row.before),
        "after": of_order.text_member(row.after),
        "factor": None if row.factor is None else format_number(row.factor),
        "says": safe(words.setting_words(row)),
    }


def _difference(difference: Difference) -> of_order.Member:
    before, after = clipped_segments(difference)
    return {"before": of_order.segment_member(before), "after": of_order.segment_member(after)}


def _verified(verified: Verified) -> of_order.Member:
    return {
        "verdict": verified.assessment.verdict.value,
        "findings": [
            {"rule": finding.rule, "level": finding.level.value}
            for finding in verified.assessment.findings
        ],
        "unchecked": len(verified.assessment.unchecked),
    }


def render_sets(found: ComparedSets, at: int) -> str:
    """The comparison of two order sets, ending in a line feed; `at` is in ms since 1970 UTC."""
    compared = found.comparison
    document: of_order.Member = {
        "before": safe(found.before.file),
        "after": safe(found.after.file),
        "document": "order-set",
        "verdict": found.assessment.verdict.value,
        "relation": compared.relation,
        "open": [safe(reason) for reason in compared.open],
        "findings": [
            of_order.finding_member(f, about_order=True) for f in found.assessment.findings
        ],
        "not_checked": of_order.not_checked_members(found.not_checked),
        "suppressed": [of_order.suppressed_member(item) for item in found.assessment.suppressed],
        "unchecked": [of_order.unchecked_member(rule) for rule in found.assessment.unchecked],
        "left_open": [*found.left_open],
        "unsettled": [
            {"rule": rule, "reason": safe(reason)} for rule, reason in compared.unsettled.items()
        ],
        "gone": _example(compared.gone),
        "new": _example(compared.new),
        "broken": [_newly(item) for item in (*found.newly_broken, *found.broken_before)],
        "broken_before": [item.broken.rule for item in found.broken_before],
        "headlines": [safe(line) for line in set_words.headlines(found)],
        "offers": [_offer(offer) for offer in found.option_changes],
        "checked": {
            "policy": safe(found.rulebook.policy),
            "rules": found.assessment.rules,
            "at": instant_words(at),
        },
    }
    return of_order.documents_text([document], (), FORMAT, covers=set_words.COVERS, caution=CAUTION)


def _example(example: DifferingOrder | None) -> of_order.Member:
    if example is None:
        return None
    return {
        "picks": [safe(line) for line in set_words.example_picks(example)],
        "differing": [*example.differing],
        "order": of_order.order_file(example.leaves),
        "is_nearest": example.is_least,
    }


def _newly(item: NewlyBrokenRule) -> of_order.Member:
    found = item.order_finding or (item.suppressed.finding if item.suppressed else None)
    return {
        "rule": item.broken.rule,
        "before": item.broken.before.result.value,
        "before_at_signing": [*item.broken.before.at_signing],
        "found": of_order.finding_member(found) if found else None,
        "is_suppressed": item.suppressed is not None,
        "example": _example(item.broken.example),
    }


def _offer(offer: OptionChange) -> of_order.Member:
    return {
        "path": offer.path,
        "name": field_table().display_name(offer.path),
        "new": [of_order.text_member(leaf) for leaf in offer.new],
        "gone": [of_order.text_member(leaf) for leaf in offer.gone],
        "says": safe(set_words.option_change_words(offer)),
    }
