"""Reads `shown_when:` of leaves and sections, and sorts the gates by dependency.

Conditions and their order only. Never an option, and never what is shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Refused
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError
from orderlint.language.tree import Written, atoms, paths_of
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import Gate, within
from orderlint.order_set.slot_reader import SHOWN_WHEN, entry_fault
from orderlint.reading.node import Scalar
from orderlint.rulebook.instantiate import names_in
from orderlint.rulebook.parsed_text import parse_condition, pinpointing
from orderlint.schema_check import is_empty

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Place
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Tree
    from orderlint.reading.node import Node


class Gates(NamedTuple):
    """The usable gates in dependency order, and the faults of the others."""

    gates: tuple[Gate, ...]
    unsettled: tuple[Fault, ...]


def read_gates(conditions: Iterable[tuple[str, Node]], derived: Mapping[str, Surface]) -> Gates:
    """Read the gates of paths with conditions, given in document order."""
    nodes = dict(conditions)
    read = [_gate(path, node, derived) for path, node in nodes.items()]
    gates = [gate for gate in read if isinstance(gate, Gate)]
    hidden_by = {gate.path: _hidden_by(gate, gates) for gate in gates}
    above = {path: _gates_above(path, hidden_by) for path in hidden_by}
    circular = {path for path in above if path in above[path]}
    cycles = [
        _cycle_fault(gate, _text(nodes[gate.path]), above)
        for gate in gates
        if gate.path in circular
    ]
    faults = [fault for fault in read if isinstance(fault, Fault)]
    sound = [gate for gate in gates if gate.path not in circular]
    return Gates(tuple(_dependency_order(sound, hidden_by)), (*faults, *cycles))


def gate_of(path: str, condition: str, place: Place) -> Gate:
    """The gate of a path that a condition in text makes. Raises Refused where it does not read."""
    text = Scalar(condition, condition, "text", place)
    surface = parse_condition(text).surface
    return Gate(path, _lowered(surface, text, {}), surface, place)


def _gate(path: str, node: Node, derived: Mapping[str, Surface]) -> Gate | Fault:
    if not isinstance(node, Scalar) or is_empty(node):
        return entry_fault(path, node, f"{SHOWN_WHEN}: is one condition, and not empty")
    try:
        surface = parse_condition(node).surface
        return Gate(path, _lowered(surface, node, derived), surface, node.place)
    except Refused as error:
        place: Place = error.place if not isinstance(error.place, str) else node.place
        return entry_fault(path, node._replace(place=place), error.message)


def _lowered(surface: Surface, text: Scalar, derived: Mapping[str, Surface]) -> Tree:
    """Lower the condition. Raises Refused if it reads what no order made from the set has."""
    with pinpointing(text):
        for name in names_in(surface, {}):
            if name.path.startswith("site."):
                raise LanguageError("a set is the same everywhere: it reads no policy", name.at)
            # INVARIANT: what is shown does not depend on signing, so a proof covers every order.
            if name.path == CHECKED_AT or name.path in SIGNING_FIELDS:
                said = "a set is the same whoever signs and when: it reads no fact of signing"
                raise LanguageError(said, name.at)
        tree = lower(surface, Scope(field_table(), derived=derived))
        # A blank may be filled in with any spelling, but a proof assumes the standard one.
        if any(isinstance(atom, Written) for atom in atoms(tree)):
            raise LanguageError("what is shown cannot hang on how a setting is spelt", surface.at)
        return tree


def _hidden_by(gate: Gate, gates: Sequence[Gate]) -> tuple[str, ...]:
    """Return the paths of the gates that can hide a leaf that this gate reads."""
    read = {path for atom in atoms(gate.tree) for path in paths_of(atom)}
    return tuple(other.path for other in gates if any(within(path, other.path) for path in read))


# Not graphlib: its CycleError names one circle, where an author is told of every gate in any, and
# its order is by distance, where gates that do not depend on each other keep that of the document.
def _gates_above(path: str, hidden_by: Mapping[str, tuple[str, ...]]) -> frozenset[str]:
    """Return every gate on which the gate at a path depends, directly or through others."""
    reached: set[str] = set()
    ahead = list(hidden_by[path])
    while ahead:
        other = ahead.pop()
        if other not in reached:
            reached.add(other)
            ahead.extend(hidden_by[other])
    return frozenset(reached)


def _cycle_fault(gate: Gate, written: str, above: Mapping[str, frozenset[str]]) -> Fault:
    """Make the fault of a gate that depends on itself."""
    back = {path for path in above[gate.path] if gate.path in above[path]}
    names = [_name(path) for path in above if path in back and path != gate.path]
    through = f", by way of the {' and the '.join(names)}" if names else ""
    details = {"name": _name(gate.path), "through": through}
    return Fault("shown-when-cycle", gate.path, written, gate.place, details)


def _text(node: Node) -> str:
    return node.text.strip() if isinstance(node, Scalar) else ""


def _name(path: str) -> str:
    return in_sentence(field_table().display_name(path))


def _dependency_order(
    gates: Sequence[Gate], hidden_by: Mapping[str, tuple[str, ...]]
) -> Iterator[Gate]:
    """Yield each gate after those on which it depends, otherwise in document order."""
    # INVARIANT: no gate depends on itself, so one of the remaining gates is always free.
    left = {gate.path: gate for gate in gates}
    while left:
        free = next(path for path in left if not left.keys() & set(hidden_by[path]))
        yield left.pop(free)
