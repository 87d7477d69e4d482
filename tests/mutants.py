"""Small changes to a lowered tree: each a mistake somebody could make in writing a condition."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    Or,
    Same,
    Written,
    atoms,
    paths_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.language.tree import Tree

NEVER = Or(())


def mutants(tree: Tree) -> Iterator[tuple[str, Tree]]:
    """Each mutant with its name: strictness, direction, a dropped part, a dropped member or not.

    Trees made from one condition for several paths have the same mutants in the same order.
    """
    match tree:
        case Not(item):
            yield "a dropped not", item
            for name, mutant in mutants(item):
                yield name, Not(mutant)
        case And(items) | Or(items):
            for index, item in enumerate(items):
                rest = (*items[:index], *items[index + 1 :])
                if rest:
                    yield f"without its part on {_named(item)}", tree._replace(items=rest)
                for name, mutant in mutants(item):
                    changed = (*items[:index], mutant, *items[index + 1 :])
                    yield name, tree._replace(items=changed)
        case Compare():
            yield from _comparisons(tree)
        case Member(subject, among):
            for index, word in enumerate(among):
                rest = (*among[:index], *among[index + 1 :])
                yield f"a dropped member, {word}", Member(subject, rest) if rest else NEVER
            yield "not among", Not(tree)
        case Multiple(path, step):
            yield "half the step", Multiple(path, step // 2)
        case Same() | Given() | Written() | Names():
            yield "the contrary", Not(tree)


def _comparisons(tree: Compare) -> Iterator[tuple[str, Tree]]:
    turned = tuple(term._replace(coefficient=-term.coefficient) for term in tree.terms)
    yield "the other direction", tree._replace(terms=turned, bound=-tree.bound)
    # The same tree where there is one kind alone, so that all paths have the same mutants.
    yield "units of any kind", tree._replace(one_kind=None)
    if tree.sign == "==":
        yield "not equal", Not(tree)
        yield "at most", tree._replace(sign="<=")
    else:
        yield "the other strictness", tree._replace(sign="<=" if tree.sign == "<" else "<")


def _named(tree: Tree) -> str:
    return ", ".join(dict.fromkeys(path for atom in atoms(tree) for path in paths_of(atom)))
