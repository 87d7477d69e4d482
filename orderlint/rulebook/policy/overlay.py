"""Applies a site policy to the built-in rulebook. Imported only if there is one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.rulebook.policy.levels import lowered_rules, with_levels
from orderlint.rulebook.policy.standing_orders import standing_orders, with_standing_orders
from orderlint.rulebook.policy.suppressions import suppressions
from orderlint.rulebook.policy.values import value_entries, weaker_values, with_policy_sources

if TYPE_CHECKING:
    from orderlint.reading import Document
    from orderlint.rulebook.policy.builtin import Policy
    from orderlint.rulebook.rule import Rulebook


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
