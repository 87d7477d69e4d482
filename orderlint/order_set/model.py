"""What an order set can yield: options at each leaf, sections offered, and when each is shown.

Frozen data and the one meaning of a set of picks. Never a file, never a rule.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.finding import Place
from orderlint.language.evaluate import evaluate
from orderlint.order import Leaf

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Fault
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Tree


@dataclass(frozen=True, slots=True)
class Span:
    """The values of a blank that nobody bounded, too many to list.

    `lowest` and `highest` are ticks (milliseconds for an instant), both included. `grids` has, for
    each unit that it may be written in, the ticks of its finest step, of which every value in that
    unit is a whole multiple; an instant or a count has one grid, under ''.
    """

    lowest: int
    highest: int
    grids: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Slot:
    """What may stand at one leaf of an order signed from the set.

    `options` are the leaves that can be picked, in the order of the document; an optional blank has
    the absent leaf first. With a `span`, any value of it can stand there as well. `preset` is the
    index of what stands there if nobody picks, None where somebody must. `label` is the form's own
    words for a blank. `signed` marks a fact of signing, which no rule is proved of. `blank` is set
    where the form leaves the value to be written; `step` is the step, in ticks, of options that
    were given from one end to the other.
    """

    path: str
    options: tuple[Leaf, ...]
    preset: int | None
    span: Span | None = None
    label: str = ""
    signed: bool = False
    place: Place | None = None
    blank: bool = False
    step: int | None = None


@dataclass(frozen=True, slots=True)
class OfferedSection:
    """A section that is offered as a whole: taken or not by one tick."""

    path: str
    preset: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Gate:
    """When a leaf or section is shown. `tree` is the condition lowered; unknown hides."""

    path: str
    tree: Tree
    condition: Surface
    place: Place


@dataclass(frozen=True, slots=True)
class OrderSet:
    """A template that was read.

    `slots` has every leaf of an order: one that the set does not speak of has the absent leaf as
    its one option. `gates` stand in an order in which each reads only leaves whose own gates stand
    before it, or none. `head` has the facts on top by key, as written. `faults` were met in
    reading. `unsettled` are those of them that leave open what the set can yield: with any, nothing
    may be said to be proved of it.
    """

    file: str
    head: Mapping[str, str]
    slots: Mapping[str, Slot]
    ticks: Mapping[str, OfferedSection]
    gates: tuple[Gate, ...]
    faults: tuple[Fault, ...] = ()
    places: Mapping[str, Place] = field(default_factory=dict)
    unsettled: tuple[Fault, ...] = ()

    def place_of(self, path: str) -> Place:
        """Where `path` is written, or the nearest section in which it should be."""
        while path and path not in self.places:
            path = path.rpartition(".")[0]
        return self.places.get(path, Place(self.file, 1, 1))


def within(path: str, section: str) -> bool:
    """Whether a leaf is at a leaf's or section's path or below it."""
    return path == section or path.startswith(f"{section}.")


def order_of(
    order_set: OrderSet, leaves: Mapping[str, Leaf], ticked: Mapping[str, bool]
) -> Mapping[str, Leaf]:
    """The leaves of the order that some picks yield. This is the meaning of an order set.

    `leaves` is what was picked at each slot, `ticked` whether each offered section was taken. What
    lies in a section that was not taken, or is not shown, is absent, whatever was picked.
    """
    made = dict(leaves)
    for path in order_set.ticks:
        if not ticked[path]:
            _hide(made, path)
    for gate in order_set.gates:
        if evaluate(gate.tree, made) is not True:
            _hide(made, gate.path)
    return made


def _hide(leaves: dict[str, Leaf], section: str) -> None:
    for path in leaves:
        if within(path, section):
            leaves[path] = Leaf(path)
