"""A model of z3's → the leaves of an order that is like it: the way back from `to_z3`.

With texts that name what is wanted and nothing else. Never a question to the solver, and never a
rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import z3

from orderlint.language.naming import names_one
from orderlint.language.to_z3 import (
    choice_code,
    flag_of,
    given_of,
    has_words_of,
    known_of,
    named_of,
    unit_of,
    value_of,
)
from orderlint.language.tree import Names, Tree, Written, atoms
from orderlint.order import Leaf, State

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.field import Field

    _List: TypeAlias = tuple[str, ...]


class FlagsAndLists(NamedTuple):
    """The notation flags and the lists of names that conditions look for, each with its leaf."""

    flags: frozenset[tuple[str, str]]
    lists: frozenset[tuple[str, _List]]

    def lists_of(self, path: str) -> list[_List]:
        """The lists that are looked for in one leaf."""
        return sorted(listed for leaf, listed in self.lists if leaf == path)


def read_by(trees: Iterable[Tree]) -> FlagsAndLists:
    """What some conditions read of texts."""
    found = [atom for tree in trees for atom in atoms(tree)]
    return FlagsAndLists(
        frozenset((atom.path, atom.flag) for atom in found if isinstance(atom, Written)),
        frozenset((atom.path, atom.listed) for atom in found if isinstance(atom, Names)),
    )


def leaf_in(model: z3.ModelRef, field: Field, read: FlagsAndLists) -> Leaf:
    """The leaf of a field, as far as a model tells what it is."""
    path = field.path
    if not _holds(model, given_of(path)):
        return Leaf(path)
    raised = frozenset(f for p, f in read.flags if p == path and _holds(model, flag_of(path, f)))
    if not _holds(model, known_of(path)):
        return Leaf(path, State.UNREADABLE, text=_text(model, field, read, None), flags=raised)
    number = model.eval(value_of(path), model_completion=True).as_long()
    value = _choice_of_code(number, field.choices) if field.kind == "choice" else number
    unit = None
    if field.kind == "quantity":
        chosen = model.eval(unit_of(path), model_completion=True).as_long()
        unit = _choice_of_code(chosen, tuple(field.decimals))
    return Leaf(path, State.KNOWN, value, unit, _text(model, field, read, value), raised)


def _text(model: z3.ModelRef, field: Field, read: FlagsAndLists, value: object) -> str:
    """What is written, where conditions look for names in it; nothing where none does."""
    own = read.lists_of(field.path)
    if not own or not _holds(model, has_words_of(field.path)):
        return ""
    wanted = frozenset(each for each in own if _holds(model, named_of(field.path, each)))
    return text_naming(field, value, wanted, own)


def nameable(field: Field, own: list[_List]) -> Iterator[z3.BoolRef]:
    """What holds of the names in a text: a choice is written in one of its spellings; in any other
    text a list is named by one of its entries, and so is each other list that has that entry.
    """
    path = field.path
    if own:
        yield z3.Implies(known_of(path), has_words_of(path))
    for choice in (each for each in field.choices if own and each != field.otherwise):
        exactly = (
            z3.And([named_of(path, each) == (each in way) for each in own])
            for way in ways(field, choice, own)
        )
        chosen = z3.And(known_of(path), value_of(path) == choice_code(choice))
        yield z3.Implies(chosen, z3.Or([*exactly]))
    for listed in own:
        beside = (
            z3.And([named_of(path, each) for each in named_in(entry, own)]) for entry in listed
        )
        yield z3.Implies(named_of(path, listed), z3.Or([*beside]))


def _holds(model: z3.ModelRef, condition: z3.BoolRef) -> bool:
    return bool(z3.is_true(model.eval(condition, model_completion=True)))


def _choice_of_code(number: int, words: tuple[str, ...]) -> str:
    """The word with this code."""
    return next(word for word in words if choice_code(word).as_long() == number)


_NOTHING = "sample"
"""A text that names nothing, and is no spelling of a choice."""


def named_in(text: str, lists: Iterable[_List]) -> frozenset[_List]:
    """The lists of which a text names an entry."""
    return frozenset(listed for listed in lists if names_one(text, listed))


def ways(field: Field, choice: str, lists: Iterable[_List]) -> frozenset[frozenset[_List]]:
    """The lists that the spellings of a choice name, for each way in which it can be spelt."""
    return frozenset(named_in(text, lists) for text in _spellings(field, choice))


def text_naming(field: Field, value: object, wanted: frozenset[_List], lists: list[_List]) -> str:
    """A text of the field that stands for a value and names the `wanted` of these lists alone.

    `value` is the choice, None or the field's `otherwise` where it is any text. StopIteration where
    no text does so.
    """
    if isinstance(value, str) and value in field.choices and value != field.otherwise:
        return next(t for t in _spellings(field, value) if named_in(t, lists) == wanted)
    chosen = (next(e for e in listed if named_in(e, lists) <= wanted) for listed in sorted(wanted))
    return "; ".join((_NOTHING, *chosen))


def _spellings(field: Field, choice: str) -> Iterator[str]:
    yield choice
    yield from (text for text, meant in field.spellings.items() if meant == choice)
