"""An order set as facts for z3: what may be picked at each slot, and what that puts on the order.

The variables are those of language.to_z3, on the final leaves. Of proof, only this folder has z3.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, TypeAlias

import z3

from orderlint.language.naming import names_one
from orderlint.language.to_z3 import (
    choice_code,
    flag_of,
    given_of,
    has_words_of,
    known_of,
    named_of,
    solve,
    unit_of,
    value_of,
)
from orderlint.language.tree import Compare, Given, Member, Multiple, Names, Same, Written, atoms
from orderlint.proof.search_space import Picks, is_variable, leaf_in_range, nearest
from orderlint.proof.solver.option_runs import Run, runs
from orderlint.proof.solver.partial_eval import NOWHERE, PartialEvaluator

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

    from orderlint.language.tree import Atom, Tree
    from orderlint.order import Leaf
    from orderlint.order_set.model import Slot
    from orderlint.proof.search_space import SlotChoice, Space

Need: TypeAlias = "tuple[str, str | tuple[str, ...]]"
"""A leaf and what is read of it: given, known, words, value, unit, a flag, or a list of names."""
_STATES: Mapping[str, Callable[[str], z3.BoolRef]] = {
    "given": given_of,
    "known": known_of,
    "words": has_words_of,
}
"""What a leaf can be, with the variable that says so."""


def pick_variable(path: str) -> z3.ArithRef:
    """Which option was picked; the count of options stands for a value of the span."""
    return z3.Int(f"{path} pick")


def section_variable(path: str) -> z3.BoolRef:
    """Whether an offered section was taken."""
    return z3.Bool(f"{path} taken")


class Encoding:
    """The facts of one order set, each made when it is first needed and then kept."""

    def __init__(self, evaluator: PartialEvaluator) -> None:
        self.evaluator = evaluator
        self.space = evaluator.space
        self._facts: dict[Need | str, tuple[z3.BoolRef, ...]] = {}

    def facts(self, trees: Iterable[Tree], picked: Collection[str] = ()) -> list[z3.BoolRef]:
        """All that holds of what these folded trees read, and of what is picked at more slots."""
        slots = self.space.order_set.slots
        found: dict[Need | str, None] = dict.fromkeys(picked)
        waiting = [need for tree in trees for need in needs(tree)]
        waiting += [(path, "value") for path in picked if slots[path].span is not None]
        while waiting:
            path, what = need = waiting.pop()
            if need not in found:
                found |= {need: None, path: None}
                over = self.evaluator.over[path] if what in _STATES else ()
                waiting += [other for _, tree in over for other in needs(tree)]
        return [fact for need in found for fact in self._made(need)]

    def shown(self, path: str) -> list[z3.BoolRef]:
        """The conditions under which a leaf is on the order; none where it always is."""
        sections = [section_variable(section) for section in self.evaluator.sections_over[path]]
        return sections + [_gate(number) for number, _ in self.evaluator.over[path]]

    def _made(self, need: Need | str) -> tuple[z3.BoolRef, ...]:
        if need not in self._facts:
            made = self._range(need) if isinstance(need, str) else self._fact(*need)
            self._facts[need] = tuple(made)
        return self._facts[need]

    def _range(self, path: str) -> Iterator[z3.BoolRef]:
        """What can be picked at all."""
        slot = self.space.order_set.slots[path]
        last = len(slot.options) - (slot.span is None)
        if is_variable(slot):
            yield pick_variable(path) >= 0
            yield pick_variable(path) <= last

    def _fact(self, path: str, what: str | tuple[str, ...]) -> Iterator[z3.BoolRef]:
        slot = self.space.order_set.slots[path]
        if isinstance(what, tuple):
            naming = [n for n, leaf in enumerate(slot.options) if names_one(leaf.text, what)]
            yield named_of(path, what) == among(slot, naming)
        elif what in _STATES and path in self.evaluator.hidden:
            yield z3.Not(_STATES[what](path))
        elif what in _STATES:
            yield from self._state(slot, what)
        elif what in _OF_SLOT:
            yield from _of_slot(_SlotOptions(slot, what))
        else:
            raised = [index for index, leaf in enumerate(slot.options) if what in leaf.flags]
            yield flag_of(path, what) == among(slot, raised)

    def _state(self, slot: Slot, what: str) -> Iterator[z3.BoolRef]:
        has = [n for n, leaf in enumerate(slot.options) if _is(leaf, what)]
        if slot.span is not None:
            has.append(len(slot.options))
        variable = _STATES[what](slot.path)
        for number, tree in self.evaluator.over[slot.path]:
            yield from self._gate_fact(number, tree)
        yield variable == z3.And([*self.shown(slot.path), among(slot, has)])

    def _gate_fact(self, number: int, tree: Tree) -> tuple[z3.BoolRef, ...]:
        key = ("", f"gate {number}")
        if key not in self._facts:
            self._facts[key] = (_gate(number) == solve(tree).true,)
        return self._facts[key]


class _SlotOptions:
    """What is read of a slot, known by the slot itself: to compare its options takes too long."""

    __slots__ = ("slot", "what")

    def __init__(self, slot: Slot, what: str) -> None:
        self.slot, self.what = slot, what

    def __hash__(self) -> int:
        return hash((id(self.slot), self.what))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, _SlotOptions) and self.slot is other.slot and self.what == other.what
        )


@functools.lru_cache(maxsize=256)
def _of_slot(read: _SlotOptions) -> tuple[z3.BoolRef, ...]:
    """The values or units of a slot, kept for the sets that differ in another slot alone."""
    return tuple(_OF_SLOT[read.what](read.slot))


def _is(leaf: Leaf, what: str) -> bool:
    """Whether a leaf is in one of _STATES."""
    return {"given": leaf.given, "known": leaf.known, "words": leaf.has_words}[what]


def _gate(number: int) -> z3.BoolRef:
    return z3.Bool(f"gate {number}")


def needs(tree: Tree) -> Iterator[Need]:
    """What a tree reads of each leaf, as language.to_z3 translates it."""
    return (need for atom in atoms(tree) for need in _needs(atom) if need[0] != NOWHERE)


def _needs(atom: Atom) -> Iterator[Need]:
    match atom:
        case Given(paths):
            yield from ((path, "given") for path in paths)
        case Written(path, flag):
            yield from ((path, "given"), (path, flag))
        case Names(path, listed):
            yield from ((path, "words"), (path, listed))
        case Compare(terms, _, _, one_kind):
            for path in (path for term in terms for path in term.paths):
                yield from ((path, "known"), (path, "value"))
            yield from ((path, "unit") for path in (one_kind.paths if one_kind else ()))
        case Multiple(path):
            yield from ((path, "known"), (path, "value"))
        case Member(subject):
            yield from ((subject.path, "known"), (subject.path, _read(subject.is_unit)))
        case Same(left, right):
            for side in (left, right):
                yield from ((side.path, "known"), (side.path, _read(side.is_unit)))


def _read(is_unit: bool) -> str:
    return "unit" if is_unit else "value"


def _values(slot: Slot) -> Iterator[z3.BoolRef]:
    """The value that each option has. What is not known has any: no condition looks at it."""
    listed = [
        (index, leaf.value if isinstance(leaf.value, int) else choice_code(leaf.value).as_long())
        for index, leaf in enumerate(slot.options)
        if leaf.value is not None
    ]
    value = value_of(slot.path)
    found = runs(listed)
    for run in found:
        along = z3.IntVal(run.value)
        if run.step:
            along = along + run.step * (pick_variable(slot.path) - run.first)
        yield _where(slot, run, value == along)
    if slot.span is not None:
        yield _spanned(slot)
    elif len(found) > 1:  # implied by the rest, and a short way to what can never be
        yield value >= min(number for _, number in listed)
        yield value <= max(number for _, number in listed)


def _units(slot: Slot) -> Iterator[z3.BoolRef]:
    words = [(n, leaf.unit or "") for n, leaf in enumerate(slot.options) if leaf.known]
    for word in dict.fromkeys(word for _, word in words):
        for run in runs([(index, 0) for index, other in words if other == word]):
            yield _where(slot, run, unit_of(slot.path) == choice_code(word))
    if slot.span is not None:
        yield _spanned(slot)


_OF_SLOT: Mapping[str, Callable[[Slot], Iterator[z3.BoolRef]]] = {"value": _values, "unit": _units}


def _spanned(slot: Slot) -> z3.BoolRef:
    """Where a value of the span was picked: a whole multiple of the grid of the unit it is in."""
    assert slot.span is not None
    value, unit = value_of(slot.path), unit_of(slot.path)
    on_grid = z3.Or(
        [
            z3.And(unit == choice_code(name), value % grid == 0)
            for name, grid in slot.span.grids.items()
        ]
    )
    held = z3.And(value >= slot.span.lowest, value <= slot.span.highest, on_grid)
    return z3.Implies(pick_variable(slot.path) == len(slot.options), held)


def _where(slot: Slot, run: Run, fact: z3.BoolRef) -> z3.BoolRef:
    """The fact, for the options of a run."""
    if run.first == 0 and run.last + 1 == len(slot.options) + (slot.span is not None):
        return fact
    return z3.Implies(_within(slot, run.first, run.last), fact)


def among(slot: Slot, indices: Sequence[int]) -> z3.BoolRef:
    """Whether one of these options was picked, by index; their count stands for the span."""
    if len(indices) == len(slot.options) + (slot.span is not None):
        return z3.BoolVal(True)
    found = runs([(index, 0) for index in indices])
    return z3.Or([_within(slot, run.first, run.last) for run in found])


def _within(slot: Slot, first: int, last: int) -> z3.BoolRef:
    pick = pick_variable(slot.path)
    if first == last:
        return pick == first
    return z3.And(pick >= first, pick <= last)


def picked_in(space: Space, model: z3.ModelRef) -> Picks:
    """The picks of a model, and presets where it leaves them open."""
    slots = space.order_set.slots
    chosen: dict[str, SlotChoice] = dict(space.base.chosen)
    sections_on = dict(space.base.sections_on)
    for variable in model.decls():
        path, _, what = variable.name().rpartition(" ")
        if what == "pick" and path in slots and is_variable(slots[path]):
            index = model[variable].as_long()
            slot = slots[path]
            chosen[path] = index if index < len(slot.options) else _value(slot, model)
        elif what == "taken" and path in sections_on:
            sections_on[path] = z3.is_true(model[variable])
    return Picks(chosen, sections_on)


def _value(slot: Slot, model: z3.ModelRef) -> Leaf:
    assert slot.span is not None
    found = model.eval(value_of(slot.path))
    if not z3.is_int_value(found):  # nothing looked at the value
        return nearest(slot, slot.span)
    value = found.as_long()
    unit = model.eval(unit_of(slot.path), model_completion=True).as_long()
    names = [name for name in slot.span.grids if choice_code(name).as_long() == unit]
    fitting = [name for name, grid in slot.span.grids.items() if value % grid == 0]
    return leaf_in_range(slot.path, value, (names or fitting or [""])[0])
