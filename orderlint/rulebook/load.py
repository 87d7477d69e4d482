"""Loads the rulebook for a purpose, so that a cold start reads no more files than it needs."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Literal, TypeAlias

from orderlint.finding import Refused, RuleFileRefused
from orderlint.rulebook.prebuilt import Prebuilt
from orderlint.rulebook.prebuilt_files import found, is_wheel, keep, write_rulebook
from orderlint.rulebook.rules_folder import CHANGED, document

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from orderlint.reading import Document
    from orderlint.reading.node import Section
    from orderlint.rulebook.plain_data import Plain
    from orderlint.rulebook.prebuilt_parts import Parts
    from orderlint.rulebook.rule import Rule, Rulebook

    Purpose: TypeAlias = Literal["order", "read-back", "order-set", "change", "all"]
    """What a rulebook is read for: an order, a double check of one, an order set, a change between
    two orders; or all of these, with the examples of each rule."""

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
        from orderlint.rulebook.build import build_with_policy  # noqa: PLC0415 - cold start

        return build_with_policy(policy, examples=purpose == "all")
    return _built_in(purpose)


def ship(folder: Path) -> None:
    """Build every rule, proofread, and write it into a folder of a wheel. Raises OSError, Refused.

    Nothing is read that was built before.
    """
    write_rulebook(_whole(), folder)


@functools.cache
def _built_in(purpose: Purpose) -> Rulebook:
    kept = found()
    if kept is not None:
        return _prebuilt(purpose, *kept)
    try:
        parts = keep(_whole)
    except Refused:  # raised again if the purpose needs that rule, for its words too
        return _build_checked(purpose, proofreading=True)
    if parts is not None:
        return _prebuilt(purpose, parts.conditions, lambda: parts.words)
    return _build_checked(purpose)


def _whole() -> Parts:
    """The parts that are kept for other processes: of nothing that a policy had a hand in."""
    from orderlint.rulebook.build import build_anew  # noqa: PLC0415 - cold start
    from orderlint.rulebook.prebuilt_parts import parts_of  # noqa: PLC0415 - cold start

    return parts_of(build_anew())


def _prebuilt(purpose: Purpose, conditions: Plain, words: Callable[[], Plain]) -> Rulebook:
    examples = _examples if purpose == "all" else None
    return Prebuilt(words, examples).rulebook(conditions, _left_out(purpose))


def _examples(rule: Rule) -> Section | None:
    """The examples of a rule as its file has them."""
    from orderlint.rulebook.build import records  # noqa: PLC0415 - cold start
    from orderlint.rulebook.rule_reader import examples_in  # noqa: PLC0415 - cold start

    record = next((r for r in records(document(rule.family)) if r.place == rule.place), None)
    if record is None:
        raise RuntimeError(CHANGED)
    return examples_in(record)


def _build_checked(purpose: Purpose, *, proofreading: bool = False) -> Rulebook:
    """Build a rulebook of the files. Raises RuleFileRefused where whoever changes them is told."""
    try:
        return _build(purpose, proofreading=proofreading)
    except Refused as reason:
        if is_wheel():
            raise
        raise RuleFileRefused(reason.message, reason.place, reason.also) from None


def _build(purpose: Purpose, *, proofreading: bool = False) -> Rulebook:
    from orderlint.rulebook.build import build_for_check, build_with_values  # noqa: PLC0415 - cold start

    if purpose == "all":
        return build_with_values({})
    return build_for_check(_left_out(purpose), proofreading=proofreading)


def _left_out(purpose: Purpose) -> frozenset[str]:
    """The families that are not read for a purpose."""
    if purpose == "all":
        return frozenset()
    return frozenset(family for family, only_for in _ONLY_FOR.items() if only_for != purpose)
