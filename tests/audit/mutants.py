"""Mistakes planted in what an audit judges by: in polars, and in `evaluate` for each class of text.

Each is one function, which puts the mistake in place by monkeypatch.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from orderlint.language import evaluate, to_polars
from orderlint.language.tree import Compare, Multiple, Written
from orderlint.rulebook.rule import Rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

    import pytest

    from orderlint.language.tree import Tree

MEANINGS = evaluate._MEANINGS
EXPRESSION = to_polars.expression


def below_for_at_most_over_rows(patch: pytest.MonkeyPatch) -> None:
    compared = to_polars._compared
    patch.setattr(to_polars, "_compared", lambda total, _, bound: compared(total, "<", bound))


def below_for_at_most_in_a_class(patch: pytest.MonkeyPatch) -> None:
    def strict(atom: Compare, leaves: object) -> bool | None:
        sign = "<" if atom.sign == "<=" else atom.sign
        return evaluate._compare(atom._replace(sign=sign), leaves)

    patch.setitem(MEANINGS, Compare, strict)


def unknown_as_kept_over_rows(patch: pytest.MonkeyPatch) -> None:
    _wrap(patch, lambda found, _: found.fill_null(value=True))


def unknown_as_kept_in_a_class(patch: pytest.MonkeyPatch) -> None:
    for kind in (Compare, Multiple):
        meaning = MEANINGS[kind]
        patch.setitem(MEANINGS, kind, _known(meaning))


def _known(meaning: Callable[..., bool | None]) -> Callable[..., bool]:
    return lambda tree, leaves: meaning(tree, leaves) is not False


def unknown_for_no_flag_over_rows(patch: pytest.MonkeyPatch) -> None:
    def maybe(found: pl.Expr, tree: Tree) -> pl.Expr:
        return pl.when(found).then(pl.lit(value=True)) if isinstance(tree, Written) else found

    _wrap(patch, maybe)


def unknown_for_no_flag_in_a_class(patch: pytest.MonkeyPatch) -> None:
    patch.setitem(MEANINGS, Written, lambda tree, leaves: evaluate._written(tree, leaves) or None)


def units_of_two_kinds_compared(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(to_polars, "_of_one_kind", lambda _: pl.lit(value=True))
    patch.setattr(evaluate, "_of_one_kind", lambda *_: True)


def an_instance_dropped(patch: pytest.MonkeyPatch) -> None:
    """Of each rule that is asked of several settings or keys, the last is forgotten."""
    every = Rulebook.order_rules.fget

    def fewer(rulebook: Rulebook) -> tuple[object, ...]:
        return tuple(replace(rule, instances=_fewer(rule.instances)) for rule in every(rulebook))

    patch.setattr(Rulebook, "order_rules", property(fewer))


def _fewer(instances: tuple[object, ...]) -> tuple[object, ...]:
    return instances[:-1] if len(instances) > 1 else instances


def _wrap(patch: pytest.MonkeyPatch, change: Callable[[pl.Expr, Tree], pl.Expr]) -> None:
    """Change each expression that an audit makes, the parts of it too."""
    patch.setattr(to_polars, "expression", lambda tree: change(EXPRESSION(tree), tree))


ALL = (
    below_for_at_most_over_rows,
    below_for_at_most_in_a_class,
    unknown_as_kept_over_rows,
    unknown_as_kept_in_a_class,
    unknown_for_no_flag_over_rows,
    unknown_for_no_flag_in_a_class,
    units_of_two_kinds_compared,
    an_instance_dropped,
)
