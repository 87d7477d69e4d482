"""Checks the file of a site policy, and applies it to the built-in rulebook; imported only then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Place, Refused
from orderlint.reading.node import KeyValue, Section
from orderlint.rulebook.covers import Cover, covers_of
from orderlint.rulebook.policy.levels import lowered_rules, with_levels
from orderlint.rulebook.policy.replaced_values import (
    value_entries,
    weaker_values,
    with_policy_sources,
)
from orderlint.rulebook.policy.standing_orders import standing_orders, with_standing_orders
from orderlint.rulebook.policy.suppressions import suppressions
from orderlint.rulebook.rule import POLICY_FAMILY, Rule, Rulebook
from orderlint.rulebook.rule_reader import rules_of
from orderlint.rulebook.yaml_fields import known_keys, optional, pairs, refuse, scalar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.rulebook.instantiate import Environment
    from orderlint.rulebook.policy.policy_values import Policy


_NOT_VALUES = ("levels", "completeness", "standing_orders", "rules", "suppressions")
KEYS = ("document", "format", "title", "sources", "values", *_NOT_VALUES)
"""What may stand at the top of a site policy."""


def checked_sources(document: Document, catalogue: Mapping[str, str]) -> Mapping[str, str]:
    """The sources by name, with the policy's own. Raises Refused at a key that no policy has."""
    known_keys(document.root, KEYS, "a site policy")
    scalar(document.root, "title")
    own: dict[str, str] = {}
    for key, text in pairs(document.root, "sources"):
        if key.text in catalogue:
            refuse(key, f"there is a source {key.text} already")
        own[key.text] = text.text
    return {**catalogue, **own}


def own_rules(
    records: Iterable[Section], environment: Environment, rules: Mapping[str, Rule]
) -> Iterator[tuple[Section, Rule]]:
    """The policy's own rules with their records; `rules` are those before them.

    Raises Refused at what only a built-in rule may have.
    """
    for record in records:
        found_by = optional(record, "found_by")
        if found_by is not None:
            refuse(found_by, "a rule of a policy has a condition; nothing else would find it")
        for rule in rules_of(record, POLICY_FAMILY, environment):
            for cover in covers_of(record, rule.id):
                _own_cover(cover, rules)
            yield record, rule


def _own_cover(cover: Cover, rules: Mapping[str, Rule]) -> None:
    lower = rules.get(cover.lower)
    if lower is not None and lower.family != POLICY_FAMILY:
        refuse(cover.written, f"{cover.lower} is built in; a rule of a policy cannot cover it")


def locate_cause(
    reason: Refused, document: Document, build: Callable[[Document], object]
) -> Refused:
    """If a built-in rule was refused, the refusal at the policy's value that causes it.

    `build` makes the rulebook under a part of the policy; it is tried with one value at a time.
    """
    if not isinstance(reason.place, Place) or reason.place.file == document.file:
        return reason
    for entry in value_entries(document):
        try:
            build(_with_one_value(document, entry))
        except Refused as again:
            also = again.place if isinstance(again.place, Place) else None
            return Refused(f"{entry.key.text}: {again.message}", entry.value.place, also)
    return reason


def _with_one_value(document: Document, value: KeyValue) -> Document:
    """A policy with the title, the sources and one value of another."""
    root = document.root
    kept = [entry for entry in root.entries if entry.key.text not in _NOT_VALUES]
    entries = tuple(
        entry._replace(value=Section((value,), entry.value.place))
        if entry.key.text == "values"
        else entry
        for entry in kept
    )
    return document._replace(root=root._replace(entries=entries))


def apply_policy(built: Rulebook, document: Document, built_in: Policy) -> Rulebook:
    """The rulebook with a site policy's levels, suppressions, standing orders and faults."""
    allowed, wrong = suppressions(document, built.rules)
    places = {entry.key.text: entry.value.place for entry in value_entries(document)}
    own = {name: built.values[name] for name in places}
    weaker = tuple(weaker_values(own, built_in, places))
    standing = standing_orders(document)
    rules = with_levels(document, with_policy_sources(built.rules, own))
    return built._replace(
        rules=with_standing_orders(rules, standing),
        suppressions=allowed,
        faults=wrong,
        weaker=weaker,
        lowered=tuple(lowered_rules(document, built.rules)),
        standing_orders=standing,
    )
