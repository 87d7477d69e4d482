"""A site policy laid over the built-in rulebook, and its mistakes told where they stand in it.

Joins what its parts read. Imported only where there is a policy: a cold start has none.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.reading.node import Section
from orderlint.rulebook.load import rulebook_of, shipped
from orderlint.rulebook.policy.builtin import Policy, read_policy
from orderlint.rulebook.policy.document import locate_cause
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
    from orderlint.rulebook.load import Files
    from orderlint.rulebook.rule import Rulebook

_BESIDE_VALUES = frozenset({"levels", "completeness", "rules", "suppressions"})


def with_policy(document: Document, *, examples: bool = False) -> Rulebook:
    """The built-in rules and a site policy's own, as that policy has them.

    Raises Refused, with line and column in the policy, at the first mistake in it.
    """
    files = shipped(examples=examples)
    try:
        return rulebook_of(replace(files, local=document), {}, proofreading=examples)
    except Refused as reason:

        def alone(name: str) -> Rulebook:
            kept = replace(document, root=_only(document.root, name))
            return rulebook_of(replace(files, local=kept), {}, proofreading=False)

        raise locate_cause(reason, document, alone) from None


def _only(root: Section, name: str) -> Section:
    """A site policy with one of its values, its sources and its title."""
    kept = tuple(entry for entry in root.entries if entry.key.text not in _BESIDE_VALUES)
    values = root.get("values")
    assert isinstance(values, Section)
    one = tuple(entry for entry in values.entries if entry.key.text == name)
    entries = (
        entry._replace(value=values._replace(entries=one)) if entry.key.text == "values" else entry
        for entry in kept
    )
    return root._replace(entries=tuple(entries))


def with_policy_values(
    document: Document, built_in: Policy, catalogue: Mapping[str, str]
) -> Policy:
    """The built-in policy with a site policy's title and values."""
    own = policy_values(document, built_in, catalogue, field_table())
    return Policy(scalar(document.root, "title").text, {**built_in.values, **own})


def apply_policy(
    built: Rulebook, document: Document, files: Files, catalogue: Mapping[str, str]
) -> Rulebook:
    """The rulebook with a site policy's levels and suppressions, and what is to be said of it."""
    table = field_table()
    allowed, wrong = suppressions(document, built.rules, table)
    places = {entry.key.text: entry.value.place for entry in value_entries(document)}
    built_in = read_policy(files.policy, catalogue, table)
    own = {name: built.values[name] for name in places}
    weaker = tuple(weaker_values(own, built_in, places))
    rules = with_levels(document, with_policy_sources(built.rules, own))
    return built._replace(rules=rules, suppressions=allowed, faults=wrong, weaker=weaker)
