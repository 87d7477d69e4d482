"""Applies the levels of a site policy: rules raised, lowered, or for a missing part not asked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.finding import Fault, Level
from orderlint.reading.node import Listing, Scalar, Section
from orderlint.rulebook.citation import Source
from orderlint.rulebook.rule import MISSING_FAMILY, CodeRule, OrderRule, Rule, Skipped
from orderlint.rulebook.yaml_fields import known_keys, near, pairs, refuse, scalar, section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document

    _Changed = tuple[Rule, Scalar, Scalar, str]

SILENT = "silent"
"""Written for the level of a rule that is not to be asked."""
_LEVELS = tuple(level.value for level in Level)


def why_it_must_stand(rule: Rule) -> str | None:
    """Why no policy may lower or suppress a rule; None if one may."""
    if rule.found_by in {"policy", "check"}:
        return "it says something of the policy itself"
    if rule.level is not Level.DO_NOT_START:
        return None
    if rule.found_by == "readback":
        return "nobody looks again after the double check"
    if isinstance(rule, CodeRule):
        return "what cannot be read cannot be accepted"
    if any(source.kind == "logic" for source in rule.sources):
        return "it follows from the order itself, and such an order must not be started"
    return "no order is started without it" if rule.family == MISSING_FAMILY else None


def with_levels(document: Document, rules: Mapping[str, Rule]) -> Mapping[str, Rule]:
    """The rules with the policy's levels. Raises Refused at one that it may not change.

    A rule that was lowered no longer covers heavier ones.
    """
    changed = dict(rules)
    seen: set[str] = set()
    for rule, written, level, why in _changed(document, rules):
        if rule.id in seen:
            refuse(written, f"the level of {rule.id} is set twice")
        seen.add(rule.id)
        changed[rule.id] = _at_level(rule, level, why)
    return {name: replace(rule, covers=_covers(rule, changed)) for name, rule in changed.items()}


def lowered_rules(document: Document, rules: Mapping[str, Rule]) -> Iterator[Fault]:
    """A fault for each do-not-start rule that the policy gives a lower level."""
    for rule, written, level, _ in _changed(document, rules):
        if rule.level is Level.DO_NOT_START and level.text != rule.level.value:
            details = {"rule": rule.id, "level": level.text}
            path = f"levels.{rule.id}"
            yield Fault("do-not-start-lowered", path, level.text, written.place, details)


def _covers(rule: Rule, rules: Mapping[str, Rule]) -> frozenset[str]:
    weight = rule.level.weight
    return frozenset(name for name in rule.covers if rules[name].level.weight <= weight)


def _at_level(rule: Rule, level: Scalar, why: str) -> Rule:
    new = rule.level if level.text == SILENT else Level(level.text)
    reason = why_it_must_stand(rule)
    if reason and (level.text == SILENT or new.weight < rule.level.weight):
        what = "silenced" if level.text == SILENT else "lowered"
        refuse(level, f"{rule.id} cannot be {what}: {reason}")
    if level.text == SILENT:
        assert isinstance(rule, OrderRule)  # INVARIANT: only `completeness:` may say so
        return replace(rule, instances=(), skipped=(Skipped("the policy does not ask for it"),))
    if new is rule.level:
        return rule
    text = f"level by local policy, {rule.level.value} without it{why}"
    return replace(rule, level=new, sources=(*rule.sources, Source("local-policy", text)))


def _changed(document: Document, rules: Mapping[str, Rule]) -> list[_Changed]:
    """Each rule of which the policy sets the level, where that is written, the level, and why."""
    return [*_completeness(document, rules), *_levels(document, rules)]


def _completeness(document: Document, rules: Mapping[str, Rule]) -> Iterator[_Changed]:
    asked = {
        path: rule
        for rule in rules.values()
        if rule.family == MISSING_FAMILY and isinstance(rule, OrderRule)
        for path in (*rule.over, rule.main_path)
        if path
    }
    for path, level in pairs(document.root, "completeness"):
        if path.text not in asked:
            refuse(path, f"no rule asks for {path.text}{near(path.text, asked)}")
        _check_level(level, (*_LEVELS, SILENT))
        yield asked[path.text], path, level, ""


def _levels(document: Document, rules: Mapping[str, Rule]) -> Iterator[_Changed]:
    for record in policy_records(document, "levels"):
        known_keys(record, ("rule", "level", "reason", "approved_by"), "a changed level")
        rule, level = scalar(record, "rule"), scalar(record, "level")
        if rule.text not in rules:
            refuse(rule, f"there is no rule {rule.text}{near(rule.text, rules)}")
        _check_level(level, _LEVELS)
        reason, by = scalar(record, "reason").text, scalar(record, "approved_by").text
        yield rules[rule.text], rule, level, f": {reason} (approved by {by})"


def _check_level(level: Scalar, levels: tuple[str, ...]) -> None:
    if level.text not in levels:
        refuse(level, f"a level is one of: {', '.join(levels)}{near(level.text, levels)}")


def policy_records(document: Document, key: str) -> tuple[Section, ...]:
    """The sections of a list at the top of a policy; none if it is left out."""
    node = document.root.get(key)
    if node is None:
        return ()
    if not isinstance(node, Listing):
        refuse(node, f"{key}: is a list")
    return tuple(section(item, f"an item of {key}:", item) for item in node.items)
