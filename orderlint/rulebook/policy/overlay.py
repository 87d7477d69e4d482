"""Applies a site policy to the built-in policy and rulebook. Imported only if there is one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.rulebook.policy.builtin import Policy
from orderlint.rulebook.policy.levels import with_levels
from orderlint.rulebook.policy.suppressions import suppressions
from orderlint.rulebook.policy.values import (
    policy_values,
    value_entries,
    weaker_values,
    with_policy_sources,
)
from orderlint.rulebook.yaml_fields import scalar

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document
    from orderlint.rulebook.rule import Rulebook


def with_policy_values(
    document: Document, built_in: Policy, catalogue: Mapping[str, str]
) -> Policy:
    """The built-in policy with a site policy's title and values."""
    own = policy_values(document, built_in, catalogue)
    return Policy(scalar(document.root, "title").text, {**built_in.values, **own})


def apply_policy(built: Rulebook, document: Document, built_in: Policy) -> Rulebook:
    """The rulebook with a site policy's levels and suppressions, and the policy's faults."""
    allowed, wrong = suppressions(document, built.rules)
    places = {entry.key.text: entry.value.place for entry in value_entries(document)}
    own = {name: built.values[name] for name in places}
    weaker = tuple(weaker_values(own, built_in, places))
    rules = with_levels(document, with_policy_sources(built.rules, own))
    return built._replace(rules=rules, suppressions=allowed, faults=wrong, weaker=weaker)
