"""Loads the rulebook for a purpose, so that a cold start reads no more files than it needs."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, TypeAlias

from orderlint.finding import Refused
from orderlint.rulebook.build import build_rulebook
from orderlint.rulebook.files import shipped_files

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document
    from orderlint.reading.node import Node
    from orderlint.rulebook.rule import Rulebook

Purpose: TypeAlias = Literal["order", "read-back", "order-set", "change", "all"]
"""What a rulebook is read for: an order, a double check of one, an order set, a change between two
orders; or all of these, with the examples of each rule."""

_ONLY_FOR: Mapping[str, str] = {
    "double-check": "read-back",
    "order-sets": "order-set",
    "change": "change",
    "policy-use": "a site policy",
}
"""The families that are read for one purpose only, with that purpose."""


def load(purpose: Purpose = "order", policy: Document | None = None) -> Rulebook:
    """The built-in rules for a purpose, as a site `policy` changes them.

    With a policy, every family is read for every purpose, since it may change any rule. Examples
    are read, and words proofread, for "all" only. Raises Refused, with line and column in the
    policy, at the first mistake in it.
    """
    if policy is not None:
        return _with_policy(policy, examples=purpose == "all")
    return _built_in(purpose)


def load_with_values(values: Mapping[str, Node]) -> Rulebook:
    """Every built-in rule with its examples; `values` replace values of the built-in policy."""
    return build_rulebook(shipped_files(), values)


@functools.cache
def _built_in(purpose: Purpose) -> Rulebook:
    if purpose == "all":
        return load_with_values({})
    others = frozenset(family for family, only_for in _ONLY_FOR.items() if only_for != purpose)
    return build_rulebook(shipped_files(examples=False, without=others), {}, proofreading=False)


def _with_policy(policy: Document, *, examples: bool) -> Rulebook:
    files = shipped_files(examples=examples)
    try:
        return build_rulebook(replace(files, policy=policy), {}, proofreading=examples)
    except Refused as reason:
        from orderlint.rulebook.policy.document import locate_cause  # noqa: PLC0415 - cold start

        def build(part: Document) -> Rulebook:
            return build_rulebook(replace(files, policy=part), {}, proofreading=examples)

        raise locate_cause(reason, policy, build) from None
