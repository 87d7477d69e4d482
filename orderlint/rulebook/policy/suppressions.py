"""Reads a site policy's suppressions: those that may be applied, and the faults of the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.rulebook.policy.levels import policy_records, why_it_must_stand
from orderlint.rulebook.rule import CodeRule, Rule, Suppression
from orderlint.rulebook.rule_reader import known_path
from orderlint.rulebook.yaml_fields import known_keys, most_like, optional, refuse, scalar, words
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.finding import Fault
    from orderlint.reading import Document
    from orderlint.reading.node import Section

_KEYS = ("rule", "path", "reason", "approved_by", "until")


def suppressions(
    document: Document, rules: Mapping[str, Rule]
) -> tuple[tuple[Suppression, ...], tuple[Fault, ...]]:
    """The suppressions that may be applied, and the faults of those that may not.

    `rules` have the levels that they have without the policy. Raises Refused at a key, a path or a
    time that cannot be read.
    """
    written = policy_records(document, "suppressions")
    items = [_suppression(number, record) for number, record in enumerate(written, 1)]
    wrong = [(item, next(_wrong(item, rules), None)) for item in items]
    allowed = tuple(item for item, fault in wrong if fault is None)
    return allowed, tuple(fault for _, fault in wrong if fault is not None)


def _suppression(number: int, record: Section) -> Suppression:
    known_keys(record, _KEYS, "a suppression")
    path, until = optional(record, "path"), scalar(record, "until")
    named = known_path(path) if path else None
    instant = parse_instant(until.text)
    if instant is None:
        refuse(
            until, "until: is a date and time with its offset, such as 2026-09-30T23:59:00+02:00"
        )
    rule, by = scalar(record, "rule"), _said(record, "approved_by")
    reason = _said(record, "reason")
    return Suppression(number, rule.text, named, reason, by, instant, until.text, rule.place)


def _said(record: Section, key: str) -> str:
    """The text under a key; '' if it is empty, which is a finding rather than a mistake."""
    node = record.get(key)
    is_empty = node is not None and getattr(node, "text", "x").strip() == ""
    return "" if is_empty else words(record, key)


def _wrong(item: Suppression, rules: Mapping[str, Rule]) -> Iterator[Fault]:
    """What keeps a suppression from being applied, the most serious fault first."""
    rule = rules.get(item.rule)
    if rule is None:
        close = most_like(item.rule, rules)
        yield item.fault(
            "suppression-rule-unknown", near=f"; the nearest is {close}" if close else ""
        )
    elif because := why_it_must_stand(rule):
        yield item.fault("suppression-not-allowed", because=because)
    elif why := _never(item, rule):
        yield item.fault("suppression-unmatched", why=why)
    for key, text in (("reason", item.reason), ("approved_by", item.approved_by)):
        if not text:
            yield item.fault("suppression-reason-missing", lacking=key)


def _never(item: Suppression, rule: Rule) -> str:
    """Why a suppression can match no finding; '' if it can."""
    if isinstance(rule, CodeRule):
        return ""  # such a rule may be broken at any path
    if not rule.instances:
        return f"it is not asked, as {rule.inactive[0]}"
    if any(item.matches(rule.id, instance.paths) for instance in rule.instances):
        return ""
    return "it does not look there"
