"""Makes a condition on the leaves of an order: true if a given order set can yield that order.

With it, enumeration and solver can look at every order of one set and tell which the other set
yields too. Never a solver, never a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.field import normalise_text
from orderlint.fields import field_table
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    Or,
    Subject,
    Term,
    Written,
    paths_of,
)
from orderlint.order_set.model import OrderSet, Slot, Span, within
from orderlint.proof.search_space import space_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator, Mapping

    from orderlint.language.tree import Atom, Tree
    from orderlint.order import Leaf

# Marks on the options of the first set, besides the flags of notation.
# INVARIANT: no notation flag is called so, so that no rule reads them.
_UNREADABLE = "mark: cannot be read"
_WORDLESS = "mark: has no words"
_ABSENT_THERE = "mark: not in the other set"
_LISTED = "mark: stands in a list"
TEXTS = frozenset({"text", "label", "zone"})
"""The kinds of fields whose words are not compared, but for a drug's name."""
DRUG_NAME = "irrigation.additive.name"
"""The text whose words are compared: rules know drugs by their names."""


@dataclass(frozen=True, slots=True)
class Membership:
    """The orders of a set, and when another set yields one of them.

    `order_set` is the first with a slot for every leaf of either, `marked` the same with marks on
    its options, of which `agrees` speaks: by path, what holds of an order of the first where the
    other can have the same at that leaf, all else being as it is. INVARIANT: never unknown.
    """

    order_set: OrderSet
    marked: OrderSet
    agrees: Mapping[str, Tree]

    def differing(self, leaves: Mapping[str, Leaf]) -> tuple[str, ...]:
        """The leaves of an order of `marked` that the other set does not allow."""
        return tuple(path for path, tree in self.agrees.items() if not evaluate(tree, leaves))


def membership(first: OrderSet, other: OrderSet) -> Membership:
    """When an order that the first set yields is one that the other yields too."""
    every = space_of(other, space_of(first, other.slots).order_set.slots).order_set.slots
    ours, theirs = (space_of(each, every).order_set for each in (first, other))
    slots = {p: _marked(s, theirs.slots[p]) for p, s in ours.slots.items()}
    agrees = {path: And(tuple(_agrees(slot, theirs))) for path, slot in slots.items()}
    return Membership(ours, replace(ours, slots=slots), agrees)


def yields(order_set: OrderSet, leaves: Mapping[str, Leaf]) -> bool:
    """Whether a set yields an order. A leaf that the set has no slot for must be absent.

    A section is taken where anything in it is given: were it not, all of it would be absent.
    """
    whole = space_of(order_set, leaves).order_set
    hidden = [
        section
        for section in whole.offered_sections
        if not any(leaf.given for path, leaf in leaves.items() if within(path, section))
    ]
    hidden += [gate.path for gate in whole.gates if evaluate(gate.tree, leaves) is not True]
    return all(
        not leaf.given
        if any(within(path, section) for section in hidden)
        else allowed_at(whole.slots[path])(leaf)
        for path, leaf in leaves.items()
    )


def allowed_at(slot: Slot) -> Callable[[Leaf], bool]:
    """Says of a leaf whether it may stand at a slot that is shown."""
    listed = {equivalence_key(option) for option in slot.options}
    return lambda leaf: equivalence_key(leaf) in listed or _writes(slot, leaf)


def _writes(slot: Slot, leaf: Leaf) -> bool:
    """Whether a leaf can be written in a blank: a value of its span, or any other text."""
    if slot.span is not None:
        return _spans(slot.span, leaf)
    if slot.path == DRUG_NAME:
        is_open = any(option.to_be_written for option in slot.options)
        return is_open and leaf.known and not leaf.flags
    otherwise = field_table().fields[slot.path].otherwise
    is_free = slot.blank and any(option.value == otherwise for option in slot.options)
    return otherwise is not None and is_free and leaf.value == otherwise and not leaf.flags


def equivalence_key(leaf: Leaf) -> Hashable:
    """Key that tells two leaves apart as options of a set; a number's spelling is left out.

    What a free text says is no part of it, nor how a fluid is spelt, though rules look for names in
    them; but that there is a text, and its notation is.
    """
    field = field_table().fields.get(leaf.path)
    if leaf.path == DRUG_NAME:
        return leaf.state, normalise_text(leaf.text), leaf.flags, leaf.to_be_written
    if field is not None and field.kind in TEXTS and leaf.known:
        return leaf.state, leaf.flags
    as_written = not leaf.known or (field is not None and leaf.value == field.otherwise)
    return leaf.state, leaf.value, leaf.unit, leaf.flags, leaf.text if as_written else ""


def _spans(span: Span, leaf: Leaf) -> bool:
    """Whether a leaf is a value of a span, plainly written."""
    grid = span.grids.get(leaf.unit or "")
    if grid is None or leaf.flags or not isinstance(leaf.value, int):
        return False
    return span.lowest <= leaf.value <= span.highest and leaf.value % grid == 0


def _marked(ours: Slot, theirs: Slot) -> Slot:
    is_allowed = allowed_at(theirs)

    def marked(leaf: Leaf) -> Leaf:
        marks = {_LISTED}
        if not leaf.known:
            marks.add(_UNREADABLE)
        if not leaf.has_words:
            marks.add(_WORDLESS)
        if not is_allowed(leaf):
            marks.add(_ABSENT_THERE)
        return replace(leaf, flags=leaf.flags | marks) if leaf.given else leaf

    return replace(ours, options=tuple(map(marked, ours.options)))


def _agrees(ours: Slot, theirs: OrderSet) -> Iterator[Tree]:
    """A leaf that is given is allowed in the other set; one that is absent may be absent there."""
    path = ours.path
    slot, given = theirs.slots[path], Given((path,))
    met = [is_true(gate.tree) for gate in theirs.gates_over(path)]
    yield _or(Not(given), Not(Written(path, _ABSENT_THERE)))
    if ours.span is not None:
        yield _or(Not(given), Written(path, _LISTED), *_written_there(path, slot))
    yield from (_or(Not(given), tree) for tree in met)
    if slot.options and all(leaf.given for leaf in slot.options):
        taken = [
            Given(tuple(other for other in theirs.slots if within(other, section)))
            for section in theirs.sections_over(path)
        ]
        yield _or(given, *map(Not, (*taken, *met)))


def _or(*trees: Tree) -> Tree:
    return Or(trees)


def _written_there(path: str, theirs: Slot) -> Iterator[Tree]:
    """The ways in which a value of our span is one that the other set has."""
    for leaf in theirs.options:
        if isinstance(leaf.value, int) and not leaf.flags:
            yield And((Compare((Term(1, (path,)),), "==", leaf.value), *_in_unit(path, leaf.unit)))
    span = theirs.span
    for unit, grid in span.grids.items() if span is not None else ():
        assert span is not None
        ends = (
            Compare((Term(-1, (path,)),), "<=", -span.lowest),
            Compare((Term(1, (path,)),), "<=", span.highest),
        )
        yield And((*ends, Multiple(path, grid), *_in_unit(path, unit or None)))


def _in_unit(path: str, unit: str | None) -> Iterator[Tree]:
    """That it is written in a unit; nothing of what has none."""
    if unit is not None:
        yield Member(Subject(path, is_unit=True), (unit,))


def is_true(tree: Tree, side: bool = True) -> Tree:
    """A tree that is true where `tree` is `side`, and false where it is the other or unknown."""
    match tree:
        case Not(item):
            return is_true(item, not side)
        case And(items) | Or(items):
            parts = tuple(is_true(item, side) for item in items)
            return And(parts) if isinstance(tree, And) == side else Or(parts)
        case Given():
            return tree if side else Not(tree)
        case _:
            return And((*_decided(tree), tree if side else Not(tree)))


def _decided(atom: Atom) -> Iterator[Tree]:
    """That an atom is true or false, rather than unknown."""
    for path in dict.fromkeys(paths_of(atom)):
        yield Given((path,))
        if not isinstance(atom, Written):
            yield Not(Written(path, _WORDLESS if isinstance(atom, Names) else _UNREADABLE))
    if isinstance(atom, Compare) and atom.one_kind is not None:
        paths, kinds = atom.one_kind
        yield Or(
            tuple(And(tuple(Member(Subject(p, True), units) for p in paths)) for units in kinds)
        )
