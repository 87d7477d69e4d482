"""Translates many conditions into one Python function, which says which are false or unknown.

The cases stand in the same order as in evaluate. Never reads an order.

INVARIANT: the text of the function is made of its own names and of whole numbers. Paths, choices,
flags and lists are constants that it names, so that nothing which a file says is ever run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias, assert_never

from orderlint.language.naming import naming
from orderlint.language.sharing import Sharing, height, notation_of, uses
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
    paths_of,
)
from orderlint.order import Leaf, State

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence

    from orderlint.language.tree import Atom, OneKind, Subject, Term, Tree

    Check: TypeAlias = Callable[[Mapping[str, Leaf]], tuple[list[int], list[int]]]
    """Of an order's leaves: the numbers of the conditions that are false, and that are unknown."""

DEEPEST = 12
"""Levels of a condition in one expression: Python's parser has a bound on brackets."""


class FunctionText(NamedTuple):
    """The text of a function, and the constants that it names."""

    text: str
    constants: Mapping[str, Any]


def compiled(trees: Sequence[Tree]) -> Check:
    """The function of these conditions, which are numbered as they stand, from 0.

    It takes tens of milliseconds to make, and every leaf that a condition reads must be there.
    """
    source = python(trees)
    room = dict(source.constants)
    exec(compile(source.text, "<conditions>", "exec"), room)
    made: Check = room["check"]
    return made


def python(trees: Sequence[Tree]) -> FunctionText:
    """The text of the function `check`.

    First stands what is read of the leaves, then each condition; what has several uses gets a name
    before the first. Conditions that only look for a flag stand last, those of each leaf behind the
    question whether it has any.
    """
    sharing = Sharing()
    asked: dict[int, Tree] = {}
    flags: dict[str, list[tuple[str, int]]] = {}
    for number, tree in enumerate(trees):
        shared = sharing.shared(tree)
        notation = notation_of(shared)
        if notation is None:
            asked[number] = shared
        else:
            flags.setdefault(notation[0], []).append((notation[1], number))
    writer = _FunctionWriter(uses(asked.values()))
    lines = [line for item in asked.items() for line in writer.asked(*item)]
    lines += [writer.flagged(path, tuple(numbers)) for path, numbers in flags.items()]
    ends = ("broken.sort()", "return broken, unknown")
    body = [*writer.loads(), "broken, unknown = [], []", *lines, *ends]
    return FunctionText("\n ".join(["def check(leaves):", *body]), writer.constants)


class _Test(NamedTuple):
    """When an atom is known (always, if empty), and whether it holds where it is."""

    known: str
    holds: str


class _FunctionWriter:
    """Writes conditions, and keeps what they name: leaves, constants, nodes with several uses."""

    def __init__(self, used: Mapping[int, int]) -> None:
        self.constants: dict[str, Any] = {"absent": State.ABSENT, "known": State.KNOWN}
        self._used = used
        self._named: dict[int, str] = {}
        self._numbers: dict[Hashable, str] = {}
        self._leaves: dict[str, str] = {}
        self._loads: dict[str, str] = {}
        self._lists: dict[str, dict[tuple[str, ...], int]] = {}

    def loads(self) -> Iterator[str]:
        """The lines that read the leaves."""
        for path, leaf in self._leaves.items():
            yield f"{leaf} = leaves[{self._constant(path)}]"
        for path, lists in self._lists.items():
            leaf = self._leaves[path]
            self.constants[f"named_{leaf}"] = naming(lists)
            read = f"named_{leaf}({leaf}.text)"
            yield f"n{leaf} = {read} if {leaf}.text and not {leaf}.to_be_written else None"
        for name, read in self._loads.items():
            yield f"{name} = {read}"

    def asked(self, number: int, tree: Tree) -> Iterator[str]:
        """The lines that ask one condition, and name what of it has several uses."""
        yield from self._names(tree)
        yield f"if not {self._is(True, tree)}:"
        yield f" (broken if {self._is(False, tree)} else unknown).append({number})"

    def flagged(self, path: str, numbers: tuple[tuple[str, int], ...]) -> str:
        """The line that asks all conditions that only look for a flag of one leaf."""
        flags, wanted = f"{self.leaf(path)}.flags", self._constant(numbers)
        found = f"[number for flag, number in {wanted} if flag in {flags}]"
        return f"if {flags} and {self._given(path)}: broken.extend({found})"

    def _names(self, tree: Tree) -> Iterator[str]:
        """The lines that name the nodes of a tree which are to have a name, inner ones first."""
        if isinstance(tree, Not):
            yield from self._names(tree.item)
        elif id(tree) not in self._named:
            if isinstance(tree, And | Or):
                for item in tree.items:
                    yield from self._names(item)
            if self._gets_name(tree):
                value = self._value(tree)
                self._named[id(tree)] = name = f"x{len(self._named)}"
                yield f"{name} = {value}"

    def _gets_name(self, tree: Tree) -> bool:
        """A leaf that is given has its own name already."""
        if isinstance(tree, Given) and len(tree.paths) == 1:
            return False
        return self._used[id(tree)] > 1 or height(tree) % DEEPEST == DEEPEST - 1

    def _value(self, tree: Tree) -> str:
        """A node as an expression that is True, False or None."""
        match tree:
            case And() | Or() | Not():
                true, false = self._is(True, tree), self._is(False, tree)
                return f"True if {true} else False if {false} else None"
            case _:
                known, holds = self._test(tree)
                return f"{holds} if {known} else None" if known else holds

    def _is(self, truth: bool, tree: Tree) -> str:
        """An expression that is true where the node has this truth value."""
        if id(tree) in self._named:
            name = self._named[id(tree)]
            return name if truth else f"({name} is False)"
        match tree:
            case Not(item):
                return self._is(not truth, item)
            case And(items) | Or(items):
                word = "and" if isinstance(tree, And) == truth else "or"
                return _joined(word, [self._is(truth, item) for item in items])
            case _:
                known, holds = self._test(tree)
                said = holds if truth else f"not {holds}"
                return f"({known} and {said})" if known else said if truth else f"({said})"

    def _test(self, atom: Atom) -> _Test:
        match atom:
            case Given(paths):
                return _Test("", _joined("or", map(self._given, paths)))
            case Written(path, flag):
                flags = self._load("f", path, "{}.flags")
                return _Test(self._given(path), f"({self._constant(flag)} in {flags})")
            case Names(path, listed):
                named, lists = f"n{self.leaf(path)}", self._lists.setdefault(path, {})
                place = lists.setdefault(listed, len(lists))
                return _Test(f"{named} is not None", f"({place:d} in {named})")
            case Compare(terms, sign, bound, one_kind):
                total = " + ".join(map(self._term, terms)) or "0"
                of_kind = [self._of_one_kind(one_kind)] if one_kind else []
                read = dict.fromkeys(paths_of(atom))
                all_known = [*of_kind, *(f"{self._value_of(path)} is not None" for path in read)]
                return _Test(" and ".join(all_known), f"({total} {_SIGNS[sign]} {bound:d})")
            case Multiple(path, step):
                value = self._value_of(path)
                return _Test(f"{value} is not None", f"({value} % {step:d} == 0)")
            case Member(subject, among):
                chosen = self._choice(subject)
                words = self._constant(frozenset(among))
                return _Test(f"{chosen} is not None", f"({chosen} in {words})")
            case Same(left, right):
                ours, theirs = self._choice(left), self._choice(right)
                known = f"{ours} is not None and {theirs} is not None"
                return _Test(known, f"({ours} == {theirs})")
            case _:
                assert_never(atom)

    def _term(self, term: Term) -> str:
        factors = [f"{term.coefficient:d}"] if term.coefficient != 1 else []
        return " * ".join([*factors, *map(self._value_of, term.paths)])

    def _of_one_kind(self, one_kind: OneKind) -> str:
        kinds = [self._constant(frozenset(kind)) for kind in one_kind.kinds]
        units = [f"{self.leaf(path)}.unit" for path in one_kind.paths]
        return _joined("or", (_joined("and", [f"{u} in {kind}" for u in units]) for kind in kinds))

    def leaf(self, path: str) -> str:
        """The name of a leaf."""
        return self._leaves.setdefault(path, f"l{len(self._leaves)}")

    def _given(self, path: str) -> str:
        return self._load("g", path, "{}.state is not absent")

    def _value_of(self, path: str) -> str:
        return self._load("v", path, "{}.value")

    def _choice(self, subject: Subject) -> str:
        if subject.is_unit:
            return self._load("u", subject.path, "{0}.unit if {0}.state is known else None")
        return self._value_of(subject.path)

    def _load(self, kind: str, path: str, read: str) -> str:
        """The name under which something of a leaf is read before all conditions."""
        leaf = self.leaf(path)
        self._loads[f"{kind}{leaf}"] = read.format(leaf)
        return f"{kind}{leaf}"

    def _constant(self, value: Hashable) -> str:
        name = self._numbers.setdefault(value, f"c{len(self._numbers)}")
        self.constants[name] = value
        return name


_SIGNS: Mapping[str, str] = {"<": "<", "<=": "<=", "==": "=="}
"""The sign of a comparison in Python."""


def _joined(word: str, conditions: Iterable[str]) -> str:
    """Conditions joined by `and` or `or`; of none, what has no effect on either."""
    return f"({f' {word} '.join(conditions) or word == 'and'})"
