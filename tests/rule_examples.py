"""The examples that every built-in rule carries, run by many tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.rulebook.examples import OUTCOMES, RuleExample, examples_of
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["OUTCOMES", "RuleExample", "examples"]


def examples() -> Iterator[RuleExample]:
    """Every example of every rule of the built-in rulebook."""
    for rule in load("all").rules.values():
        yield from examples_of(rule)
