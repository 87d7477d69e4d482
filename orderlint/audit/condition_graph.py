"""The conditions of a rulebook as one graph, in which equal parts stand once.

A part that reads one setting alone is a test: it is answered once for each class of that setting.
Evaluates nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from orderlint.fields import CHECKED_AT, field_table
from orderlint.language.tree import And, Atom, Compare, Given, Member, Not, Or, Same, Tree, paths_of

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable


ROW_BY_ROW = frozenset(
    {CHECKED_AT, *(p for p, field in field_table().fields.items() if field.kind == "instant")}
)
"""Paths whose values differ from row to row, so that their classes do not tell them."""


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A part of a condition. Two nodes of a graph that mean the same are one object.

    A `test` reads the one path `path`; an `atom` reads several, or one that is row by row; the
    others join their `parts`. A `constant` reads nothing.
    """

    kind: Literal["constant", "test", "atom", "not", "and", "or"]
    tree: Tree
    path: str = ""
    parts: tuple[Node, ...] = ()

    @property
    def atom(self) -> Atom:
        """The tree of an atom."""
        assert not isinstance(self.tree, Not | And | Or)
        return self.tree


class Graph:
    """Nodes of conditions, each made once."""

    def __init__(self) -> None:
        self._nodes: dict[Hashable, Node] = {}

    def node(self, tree: Tree) -> Node:
        """The node that means what `tree` means."""
        match tree:
            case Not(item):
                return self._joined("not", tree, (self.node(item),))
            case And(items) | Or(items):
                return self._several(tree, items)
            case Given(paths) if len(paths) > 1:
                return self._several(Or(tuple(Given((path,)) for path in paths)))
            case _:
                return self._of_atom(tree)

    def _several(self, tree: And | Or, items: tuple[Tree, ...] = ()) -> Node:
        """An `and` or an `or`. Those of its parts that read the same one path are one test."""
        parts = [self.node(item) for item in items or tree.items]
        kind: Literal["and", "or"] = "and" if isinstance(tree, And) else "or"
        by_path: dict[str, list[Node]] = {}
        for part in dict.fromkeys(parts):
            by_path.setdefault(part.path, []).append(part)
        joined = by_path.pop("", [])
        for path, tests in by_path.items():
            alone = tests[0] if len(tests) == 1 else self._test(kind, path, tests)
            joined.append(alone)
        if len(joined) == 1:
            return joined[0]
        return self._joined(kind, tree, tuple(joined))

    def _test(self, kind: str, path: str, tests: Iterable[Node]) -> Node:
        trees = tuple(test.tree for test in tests)
        made = And(trees) if kind == "and" else Or(trees)
        return self._kept((kind, trees), Node("test", made, path))

    def _joined(
        self, kind: Literal["not", "and", "or"], tree: Tree, parts: tuple[Node, ...]
    ) -> Node:
        paths = {part.path for part in parts}
        if len(paths) == 1 and paths != {""}:
            return self._kept((kind, parts), Node("test", tree, paths.pop()))
        return self._kept((kind, parts), Node(kind, tree, "", parts))

    def _of_atom(self, atom: Atom) -> Node:
        paths = read_by_atom(atom)
        key = (type(atom).__name__, atom)
        if not paths:
            return self._kept(key, Node("constant", atom))
        if len(paths) == 1 and not paths & ROW_BY_ROW:
            return self._kept(key, Node("test", atom, next(iter(paths))))
        return self._kept(key, Node("atom", atom))

    def _kept(self, key: Hashable, node: Node) -> Node:
        return self._nodes.setdefault(key, node)


def read_by_atom(atom: Atom) -> frozenset[str]:
    """Every path that an atom reads, those whose units it looks at included."""
    of_kind = atom.one_kind.paths if isinstance(atom, Compare) and atom.one_kind else ()
    return frozenset({*paths_of(atom), *of_kind})


def units_read(atom: Atom) -> frozenset[str]:
    """The paths whose units an atom looks at."""
    if isinstance(atom, Compare):
        return frozenset(atom.one_kind.paths if atom.one_kind else ())
    if isinstance(atom, Same):
        return frozenset(each.path for each in (atom.left, atom.right) if each.is_unit)
    return frozenset(
        {atom.subject.path} if isinstance(atom, Member) and atom.subject.is_unit else ()
    )
