"""Which slots, sections and gates of a set decide the leaves that a condition reads.

Worked out from the gates' conditions, apart from what the solver knows of them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.language.tree import Atom, paths_in, paths_of
from orderlint.order_set.model import OrderSet, within

if TYPE_CHECKING:
    from collections.abc import Iterable


def depended_on(order_set: OrderSet, read: Iterable[Atom]) -> OrderSet:
    """The set with only the slots, sections and gates that can change what these atoms read."""
    waiting = [path for atom in read for path in paths_of(atom)]
    paths: set[str] = set()
    gates: set[int] = set()
    while waiting:
        path = waiting.pop()
        if path not in paths:
            paths.add(path)
            over = {n for n, gate in enumerate(order_set.gates) if within(path, gate.path)} - gates
            waiting.extend(each for n in over for each in paths_in(order_set.gates[n].tree))
            gates |= over
    return replace(
        order_set,
        slots={path: slot for path, slot in order_set.slots.items() if path in paths},
        offered_sections={
            section: order_set.offered_sections[section]
            for path in order_set.slots
            if path in paths
            for section in order_set.offered_sections
            if within(path, section)
        },
        gates=tuple(order_set.gates[n] for n in sorted(gates)),
    )
