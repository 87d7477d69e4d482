"""What was verified as one JSON text, as schemas/findings.schema.json describes it.

Names, order and form of the members. Never wording, never a float.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from orderlint import __version__
from orderlint.reading.unicode_checks import first_refused_offset
from orderlint.report.escape import safe
from orderlint.report.words import instant_words
from orderlint.rulebook.standing_orders import filled_in
from orderlint.units import format_decimal, format_number, in_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import TypeAlias

    from orderlint.behaviour import Segment
    from orderlint.finding import Finding, Mention, Place, Refused, Suppressed, Unchecked
    from orderlint.order import Leaf
    from orderlint.verification import Verified

    Member: TypeAlias = "str | int | bool | list[Member] | dict[str, Member] | None"


def render(
    verified: Iterable[Verified],
    refused: Iterable[tuple[str, Refused]],
    faults: Iterable[tuple[str, str]],
    at: int,
) -> str:
    """All documents in the order given, ending in a line feed; the same input, the same text.

    `refused` are file names with why each was refused, `faults` file names with the words for the
    tool's own failure there; `at` is the instant of checking in
    milliseconds since 1970 UTC.
    """
    return report_text([_document(item, at) for item in verified], refused, faults, {})


def report_text(
    documents: list[Member],
    refused: Iterable[tuple[str, Refused]],
    faults: Iterable[tuple[str, str]],
    beside: Mapping[str, Member],
) -> str:
    """Documents, and the files that are none, as one text, with what a verb says beside them."""
    report: Member = {
        "format": 1,
        "tool": {"name": "orderlint", "version": __version__},
        "documents": documents,
        "refused": [refused_member(file, reason) for file, reason in refused],
        "faults": [{"file": safe(file), "message": safe(message)} for file, message in faults],
        **beside,
    }
    return escaped(json.dumps(report, ensure_ascii=False, indent=2)) + "\n"


def escaped(text: str) -> str:
    """JSON in which nothing hides: what does not show as what it is becomes a JSON escape."""
    if first_refused_offset(text) is None:
        return text
    return "".join(json.dumps(c)[1:-1] if first_refused_offset(c) is not None else c for c in text)


def _document(verified: Verified, at: int) -> Member:
    return {
        "file": safe(verified.file),
        "document": "order",
        "verdict": verified.assessment.verdict.value,
        **found_members(verified),
        **behaviour_members(verified),
        "checked": checked_member(verified, at),
    }


def found_members(verified: Verified) -> dict[str, Member]:
    """What was found, suppressed, not checked and not asked, as each report on an order has it."""
    return {
        "findings": [finding_member(finding) for finding in verified.assessment.findings],
        "suppressed": [suppressed_member(item) for item in verified.assessment.suppressed],
        "unchecked": [unchecked_member(rule) for rule in verified.assessment.unchecked],
        "inactive": [
            {"rule": rule.rule, "reason": rule.reason} for rule in verified.assessment.inactive
        ],
    }


def behaviour_members(verified: Verified) -> dict[str, Member]:
    """What the controller does at each pressure, or what is lacking to say so."""
    return {
        "behaviour": [segment_member(segment) for segment in verified.behaviour.segments],
        "behaviour_lacking": [*verified.behaviour.missing],
    }


def checked_member(verified: Verified, at: int) -> Member:
    """By what, and as of when, in milliseconds since 1970 UTC, the order was checked."""
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


def _standing_line(leaf: Leaf) -> Member:
    place = _place(leaf.place)
    return {"path": leaf.path, "written": safe(leaf.text), "from": "policy", "place": place}


def finding_member(finding: Finding) -> Member:
    """A finding, as each report has it."""
    return {
        "rule": finding.rule,
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
        "also": [_mention(mention) for mention in finding.also],
    }


def unchecked_member(rule: Unchecked) -> Member:
    """A rule that could not be judged, as each report has it."""
    return {"rule": rule.rule, "level": rule.level.value, "missing": [*rule.missing]}


def suppressed_member(item: Suppressed) -> Member:
    """A finding that the policy suppresses, as each report has it."""
    return {
        "finding": finding_member(item.finding),
        "reason": item.reason,
        "approved_by": item.approved_by,
        "until": item.until,
        "policy_place": _place(item.place),
    }


def _mention(mention: Mention) -> Member:
    return {
        "path": mention.path,
        "name": mention.name,
        "written": mention.written,
        "place": _place(mention.place),
    }


def _place(place: Place | None) -> Member:
    if place is None:
        return None
    return {"file": safe(place.file), "line": place.line, "column": place.column}


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


def refused_member(file: str, reason: Refused) -> Member:
    """A file that was refused, as each report has it."""
    place = None if isinstance(reason.place, str) else reason.place
    return {
        "file": safe(file),
        "message": safe(reason.message),
        "place": _place(place),
        "also": _place(reason.also),
    }
