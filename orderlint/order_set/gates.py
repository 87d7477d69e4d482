"""`shown_when:` of leaves and sections → gates, each after those that hide what it reads.

Conditions and their order only. Never an option, and never what is shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table, in_sentence
from orderlint.finding import Fault, Refused
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError
from orderlint.language.tree import Written, atoms, paths_of
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.order import SIGNED
from orderlint.order_set.model import Gate, within
from orderlint.order_set.slot_reader import SHOWN_WHEN, not_understood
from orderlint.reading.node import Scalar
from orderlint.rulebook.instantiate import names_in
from orderlint.rulebook.parsed_text import parse_condition, pinpoint
from orderlint.shape import is_empty

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Place
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Tree
    from orderlint.reading.node import Node


class Gates(NamedTuple):
    """The gates that can be judged, in order, and the faults of the others."""

    gates: tuple[Gate, ...]
    unsettled: tuple[Fault, ...]


def read_gates(conditions: Iterable[tuple[str, Node]], derived: Mapping[str, Surface]) -> Gates:
    """The gates of some paths with their conditions, in the order of the document."""
    nodes = dict(conditions)
    read = [_gate(path, node, derived) for path, node in nodes.items()]
    gates = [gate for gate in read if isinstance(gate, Gate)]
    hidden_by = {gate.path: _hidden_by(gate, gates) for gate in gates}
    circular = {path for path in hidden_by if path in _reached(path, hidden_by)}
    cycles = [
        _cycle(gate, _text(nodes[gate.path]), hidden_by) for gate in gates if gate.path in circular
    ]
    faults = [fault for fault in read if isinstance(fault, Fault)]
    sound = [gate for gate in gates if gate.path not in circular]
    return Gates(tuple(_in_order(sound, hidden_by)), (*faults, *cycles))


def _gate(path: str, node: Node, derived: Mapping[str, Surface]) -> Gate | Fault:
    if not isinstance(node, Scalar) or is_empty(node):
        return not_understood(path, node, f"{SHOWN_WHEN}: is one condition, and not empty")
    try:
        surface = parse_condition(node).surface
        return Gate(path, _lowered(surface, node, derived), surface, node.place)
    except Refused as error:
        place: Place = error.place if not isinstance(error.place, str) else node.place
        return not_understood(path, node._replace(place=place), error.message)


def _lowered(surface: Surface, text: Scalar, derived: Mapping[str, Surface]) -> Tree:
    """The condition's tree. Refused where it reads what no order made from the set holds."""
    try:
        for name in names_in(surface, {}):
            if name.path.startswith("site."):
                raise LanguageError("a set is the same everywhere: it reads no policy", name.at)
            # INVARIANT: so that what is shown is the same on every order that a proof looks at.
            if name.path == CHECKED_AT or name.path in SIGNED:
                said = "a set is the same whoever signs and when: it reads no fact of signing"
                raise LanguageError(said, name.at)
        tree = lower(surface, Scope(field_table(), derived=derived))
        # A blank may be filled in in any spelling, and a proof takes it as plainly written.
        if any(isinstance(atom, Written) for atom in atoms(tree)):
            raise LanguageError("what is shown cannot hang on how a setting is spelt", surface.at)
        return tree
    except LanguageError as error:
        raise pinpoint(text, error) from None


def _hidden_by(gate: Gate, gates: Sequence[Gate]) -> tuple[str, ...]:
    """The gates, by path, that hide some leaf that this one reads."""
    read = {path for atom in atoms(gate.tree) for path in paths_of(atom)}
    return tuple(other.path for other in gates if any(within(path, other.path) for path in read))


def _reached(path: str, hidden_by: Mapping[str, tuple[str, ...]]) -> frozenset[str]:
    """Every gate on which the gate at a path hangs, straight or through others."""
    reached: set[str] = set()
    ahead = list(hidden_by[path])
    while ahead:
        other = ahead.pop()
        if other not in reached:
            reached.add(other)
            ahead.extend(hidden_by[other])
    return frozenset(reached)


def _cycle(gate: Gate, written: str, hidden_by: Mapping[str, tuple[str, ...]]) -> Fault:
    """That what is shown by a gate hangs on whether it is shown."""
    back = {
        path for path in _reached(gate.path, hidden_by) if gate.path in _reached(path, hidden_by)
    }
    names = [_name(path) for path in hidden_by if path in back and path != gate.path]
    through = f", by way of the {' and the '.join(names)}" if names else ""
    details = {"name": _name(gate.path), "through": through}
    return Fault("shown-when-cycle", gate.path, written, gate.place, details)


def _text(node: Node) -> str:
    return node.text.strip() if isinstance(node, Scalar) else ""


def _name(path: str) -> str:
    return in_sentence(field_table().trade_name(path))


def _in_order(gates: Sequence[Gate], hidden_by: Mapping[str, tuple[str, ...]]) -> Iterator[Gate]:
    """Each gate after those on which it hangs, and else as they stand in the document."""
    # INVARIANT: no gate hangs on itself, so some gate is always free of those that are left.
    left = {gate.path: gate for gate in gates}
    while left:
        free = next(path for path in left if not left.keys() & set(hidden_by[path]))
        yield left.pop(free)
