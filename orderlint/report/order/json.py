"""Writes verified orders as JSON, as schemas/findings.schema.json describes it.

Also the members that other reports share. Never wording, never a float.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeAlias

from orderlint import __version__
from orderlint.fields import field_table
from orderlint.quantity_words import format_decimal, format_number
from orderlint.reading.unicode_checks import first_refused_offset
from orderlint.report.order.as_yaml import put
from orderlint.report.visible_text import safe
from orderlint.report.words import instant_words
from orderlint.rulebook.standing_orders import filled_in
from orderlint.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.additive import Additive
    from orderlint.assessment import Assessment
    from orderlint.behaviour import Segment
    from orderlint.finding import Finding, NotChecked, Place, Suppressed, Unchecked
    from orderlint.order import Leaf
    from orderlint.report.unchecked_files import Unread
    from orderlint.verification import Verified

    Member: TypeAlias = "str | int | bool | list[Member] | dict[str, Member] | None"


def render(verified: Iterable[Verified], unread: Sequence[Unread], at: int) -> str:
    """All documents in the order given, ending in a line feed; the same input, the same text.

    `unread` are the files that were not checked; `at` is the instant of checking in milliseconds
    since 1970 UTC.
    """
    return documents_text([_document(item, at) for item in verified], unread)


def documents_text(
    documents: list[Member], unread: Sequence[Unread], version: int = 1, **more: Member
) -> str:
    """A report on documents, and on files that were not checked; `more` are its last members.

    `version` is that of its format.
    """
    members: dict[str, Member] = {
        "documents": documents,
        "refused": [_refused(item) for item in unread if not item.is_fault],
        "faults": [
            {"file": safe(item.file), "message": safe(item.message)}
            for item in unread
            if item.is_fault
        ],
    }
    return report_text({**members, **more}, version)


def report_text(members: Mapping[str, Member], version: int = 1) -> str:
    """A report of these members, after its format and the tool; ends in a line feed."""
    tool: Member = {"name": "orderlint", "version": __version__}
    return format_json({"format": version, "tool": tool, **members})


def format_json(value: Member) -> str:
    """A value as JSON, ending in a line feed; each character that does not show is escaped."""
    text = json.dumps(value, ensure_ascii=False, indent=2) + "\n"
    if first_refused_offset(text) is None:
        return text
    return "".join(json.dumps(c)[1:-1] if first_refused_offset(c) is not None else c for c in text)


def _document(verified: Verified, at: int) -> Member:
    return {
        "file": safe(verified.file),
        "document": "order",
        "verdict": verified.assessment.verdict.value,
        **assessment_members(verified.assessment),
        "not_checked": not_checked_members(verified.not_checked),
        **behaviour_members(verified),
        "additive": _additive_member(verified.additive),
        "checked": checked_member(verified, at),
    }


def _additive_member(additive: Additive | None) -> Member:
    """What runs in of the additive; None where that cannot be reckoned."""
    if additive is None:
        return None
    return {
        "name": safe(additive.name.text),
        "concentration": safe(additive.concentration.text),
        "runs_in": [
            {
                "path": amount.rate.path,
                "rate": safe(amount.rate.text),
                "hourly": amount.hourly,
                "daily": amount.daily,
            }
            for amount in additive.runs_in
        ],
        "published": additive.published,
        "sources": [*additive.sources],
    }


def assessment_members(assessment: Assessment, *, about_order: bool = False) -> dict[str, Member]:
    """The findings, and the rules that were suppressed, could not be checked or were not asked."""
    return {
        "findings": [
            finding_member(finding, about_order=about_order) for finding in assessment.findings
        ],
        "suppressed": [suppressed_member(item) for item in assessment.suppressed],
        "unchecked": [unchecked_member(rule) for rule in assessment.unchecked],
        "inactive": [rule._asdict() for rule in assessment.inactive],
    }


def not_checked_members(texts: Iterable[NotChecked]) -> list[Member]:
    """The free texts that are not checked, as each report has them."""
    return [{"path": item.path, "text": item.text, "place": _place(item.place)} for item in texts]


def behaviour_members(verified: Verified) -> dict[str, Member]:
    """What the controller does at each pressure, or the missing settings."""
    return {
        "behaviour": [segment_member(segment) for segment in verified.behaviour.segments],
        "behaviour_lacking": [*verified.behaviour.missing],
    }


def checked_member(verified: Verified, at: int) -> Member:
    """Schema, policy, number of rules, and `at`, milliseconds since 1970 UTC."""
    return {
        "schema": "order, format 1",
        "policy": verified.policy,
        "weaker": [*verified.weaker],
        "rules": verified.assessment.rules,
        "at": instant_words(at),
        **standing_members(verified.paper, filled_in(verified.order)),
    }


def standing_members(paper: str, leaves: Iterable[Leaf]) -> dict[str, Member]:
    """The lines that are from the policy's standing orders; no member where there are none."""
    lines: list[Member] = [
        {
            "path": leaf.path,
            "written": safe(leaf.text),
            "from": "policy",
            "place": _place(leaf.place),
        }
        for leaf in leaves
    ]
    return {"standing_orders": {"paper": safe(paper), "lines": lines}} if lines else {}


def found_member(finding: Finding) -> dict[str, Member]:
    """Of a rule that an order from a set breaks: the presets, or another order."""
    if not finding.breaks:
        return {}
    return {"found": "preset" if finding.rule == "preset-breaks-rule" else "reachable"}


def finding_member(finding: Finding, *, about_order: bool = False) -> Member:
    """A finding, as each report has it; with `about_order`, by the rule that an order breaks."""
    rule = {"rule": finding.about, **found_member(finding)} if about_order else None
    return {
        **(rule or {"rule": finding.rule}),
        "level": finding.level.value,
        "path": finding.path,
        "name": finding.name,
        "says": finding.says,
        "written": finding.written,
        "expected": finding.expected,
        "why": finding.why,
        "ask": finding.ask,
        "ask_whom": finding.ask_whom,
        "source": finding.source,
        "place": _place(finding.place),
        "also": [{**each._asdict(), "place": _place(each.place)} for each in finding.also],
    }


def unchecked_member(rule: Unchecked) -> Member:
    """A rule that could not be judged, as each report has it."""
    return {"rule": rule.rule, "level": rule.level.value, "missing": [*rule.missing]}


def text_member(leaf: Leaf) -> Member:
    """What is written at a leaf, as each report has it; None if nothing is."""
    return safe(leaf.text) if leaf.given else None


def suppressed_member(item: Suppressed) -> Member:
    """A finding that the policy suppresses, as each report has it."""
    return {
        "finding": finding_member(item.finding),
        "reason": item.reason,
        "approved_by": item.approved_by,
        "until": item.until,
        "policy_place": _place(item.place),
    }


def _place(place: Place | None) -> Member:
    if place is None:
        return None
    element: dict[str, Member] = {"element": safe(place.element)} if place.element else {}
    return {"file": safe(place.file), "line": place.line, "column": place.column, **element}


def segment_member(segment: Segment) -> Member:
    """A segment of the behaviour table, as each report has it."""
    return {
        "from": _level(segment.start),
        "from_included": segment.start_included,
        "to": _level(segment.end),
        "to_included": segment.end_included,
        "irrigation": segment.irrigation,
        "valve": segment.valve,
        "outflow": segment.outflow,
        "alarm": segment.alarm,
    }


def _level(ticks: int | None) -> Member:
    """A pressure: `ticks` and `cmH2O` are exact, `mmHg` is so unless it says "about"."""
    if ticks is None:
        return None
    return {
        "ticks": ticks,
        "cmH2O": format_decimal(ticks, 7),  # a tick is 1e-7 cmH2O
        "mmHg": format_number(in_unit(ticks, "mmHg")),
    }


def _refused(item: Unread) -> Member:
    return {
        "file": safe(item.file),
        "message": safe(item.message),
        "place": _place(item.place),
        "also": _place(item.also),
    }


def order_file(leaves: Mapping[str, Leaf]) -> Member:
    """An order as a document that `verify` reads, each value as it is written."""
    made: dict[str, Member] = {"document": "order", "format": 1}
    for path, leaf in leaves.items():
        if leaf.given and path not in made:
            is_count = field_table().fields[path].kind == "count" and leaf.text.isdigit()
            put(made, path, int(leaf.text) if is_count else leaf.text)
    return made
