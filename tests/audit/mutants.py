"""Mistakes planted in the walker by which an audit judges its columns; each must be found out."""

from __future__ import annotations

import functools
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from orderlint.language import to_polars
from orderlint.language.tree import And, Compare, Not, Or, Written
from orderlint.rulebook.rule import Rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

    from orderlint.language.tree import Tree

    Walker = Callable[[Tree], pl.Expr]

ORIGINAL = to_polars.expression


def below_for_at_most(tree: Tree) -> pl.Expr:
    """`<` where a comparison says `<=`."""
    return ORIGINAL(_with_atoms(tree, _strict))


def unknown_as_kept(tree: Tree) -> pl.Expr:
    """A rule that cannot be checked passes."""
    return ORIGINAL(tree).fill_null(value=True)


def unknown_for_no_flag(tree: Tree) -> pl.Expr:
    """A flag that a text does not have is unknown."""
    return _joined(tree, lambda atom: pl.when(ORIGINAL(atom)).then(pl.lit(value=True)))


def unit_forgotten(tree: Tree) -> pl.Expr:
    """Two settings are compared whose units are of two kinds."""
    return ORIGINAL(_with_atoms(tree, lambda atom: atom._replace(one_kind=None)))


def _strict(atom: Compare) -> Compare:
    return atom._replace(sign="<") if atom.sign == "<=" else atom


def _with_atoms(tree: Tree, change: Callable[[Compare], Compare]) -> Tree:
    """The tree with each comparison changed."""
    match tree:
        case Not(item):
            return Not(_with_atoms(item, change))
        case And(items) | Or(items):
            return type(tree)(tuple(_with_atoms(item, change) for item in items))
        case Compare():
            return change(tree)
        case _:
            return tree


def _joined(tree: Tree, flag: Callable[[Written], pl.Expr]) -> pl.Expr:
    """The tree as an expression, with another for each flag of a text."""
    match tree:
        case Not(item):
            return ~_joined(item, flag)
        case And(items):
            return functools.reduce(pl.Expr.and_, [_joined(item, flag) for item in items])
        case Or(items):
            return functools.reduce(pl.Expr.or_, [_joined(item, flag) for item in items])
        case Written():
            return flag(tree)
        case _:
            return ORIGINAL(tree)


WALKERS = (below_for_at_most, unknown_as_kept, unknown_for_no_flag, unit_forgotten)


def put_in_place(monkeypatch, walker: Walker) -> None:
    """Let every module that has the walker have another."""
    for name, module in [*sys.modules.items()]:
        if name.startswith("orderlint.") and getattr(module, "expression", None) is ORIGINAL:
            monkeypatch.setattr(module, "expression", walker)


def drop_the_last_instance(monkeypatch) -> None:
    """Of each rule that is asked of several settings or keys, the last is forgotten."""
    every = Rulebook.order_rules.fget

    def fewer(rulebook):
        rules = every(rulebook)
        return tuple(replace(rule, instances=_all_but_one(rule.instances)) for rule in rules)

    monkeypatch.setattr(Rulebook, "order_rules", property(fewer))


def _all_but_one(instances):
    return instances[:-1] if len(instances) > 1 else instances
