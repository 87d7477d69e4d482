"""Reads `shown_when:` and `limits:` of leaves and sections, and sorts the gates by dependency.

Conditions and their order only. Never an option, and never what is shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Fault, Place, Refused
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError, Surface
from orderlint.language.tree import Tree, Written, atoms, paths_in
from orderlint.language.types import Quantity, Scope
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import Gate, within
from orderlint.order_set.slot_reader import LIMITS, SHOWN_WHEN, entry_fault
from orderlint.reading.node import KeyValue, Node, Scalar, Section
from orderlint.rulebook.instantiate import names_in
from orderlint.rulebook.parsed_text import parse_condition, pinpointing
from orderlint.rulebook.rule_reader import taken_names
from orderlint.rulebook.yaml_fields import plain_name, quantity
from orderlint.schema_check import is_empty

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence


class WrittenGate(NamedTuple):
    """The condition that a set has at a path, and the `limits:` beside it."""

    path: str
    condition: Node
    limits: Node | None = None


class Gates(NamedTuple):
    """The usable gates in dependency order, and the faults of the others."""

    gates: tuple[Gate, ...]
    unsettled: tuple[Fault, ...]


def read_gates(conditions: Iterable[WrittenGate], derived: Mapping[str, Surface]) -> Gates:
    """Read the gates of paths with conditions, given in document order."""
    written = {each.path: each for each in conditions}
    read = [_gate(each, derived) for each in written.values()]
    gates = [gate for gate in read if isinstance(gate, Gate)]
    hidden_by = {gate.path: _hidden_by(gate, gates) for gate in gates}
    above = {path: _gates_above(path, hidden_by) for path in hidden_by}
    circular = {path for path in above if path in above[path]}
    cycles = [
        _cycle_fault(gate, _text(written[gate.path].condition), above)
        for gate in gates
        if gate.path in circular
    ]
    faults = [fault for made in read if not isinstance(made, Gate) for fault in made]
    sound = [gate for gate in gates if gate.path not in circular]
    return Gates(tuple(_dependency_order(sound, hidden_by)), (*faults, *cycles))


def gate_of(path: str, condition: str, place: Place) -> Gate:
    """The gate of a path that a condition in text makes. Raises Refused where it does not read."""
    text = Scalar(condition, condition, "text", place)
    surface = parse_condition(text).surface
    return Gate(path, _lowered(surface, text, Scope(field_table())), surface, place)


def _gate(written: WrittenGate, derived: Mapping[str, Surface]) -> Gate | tuple[Fault, ...]:
    """The gate at a path, or each mistake in its condition and its limits."""
    path, node = written.path, written.condition
    limits, faults = _limits(written, derived)
    if not isinstance(node, Scalar) or is_empty(node):
        reason = f"{SHOWN_WHEN}: is one condition, and not empty"
        return (*faults, entry_fault(path, node, reason))
    try:
        surface = parse_condition(node).surface
        if faults:  # a name whose limit does not read would be said to be unknown
            return faults
        tree = _lowered(surface, node, Scope(field_table(), limits=limits, derived=derived))
    except Refused as error:
        return (*faults, _refused(path, node, error))
    unread = _unread_limits(written, surface)
    return unread or Gate(path, tree, surface, node.place)


def _limits(
    written: WrittenGate, derived: Mapping[str, Surface]
) -> tuple[dict[str, Quantity], tuple[Fault, ...]]:
    """The constants beside a condition by name, and the mistakes in them."""
    limits: dict[str, Quantity] = {}
    faults: list[Fault] = []
    if written.limits is not None and not _entries(written.limits):
        reason = f"{LIMITS}: has names, each with a number and its unit"
        faults.append(entry_fault(written.path, written.limits, reason))
    for key, value in _entries(written.limits):
        node: Node = key
        try:
            name, node = plain_name(key, {*taken_names(), *derived}), value
            limits[name] = _limit(key, value)
        except Refused as error:
            faults.append(_refused(written.path, node, error))
    return limits, tuple(faults)


def _entries(limits: Node | None) -> tuple[KeyValue, ...]:
    return tuple(limits.entries) if isinstance(limits, Section) else ()


def _limit(key: Scalar, value: Node) -> Quantity:
    if not isinstance(value, Scalar) or is_empty(value):
        raise Refused(f"{key.text}: is one number with its unit, and not empty", value.place)
    return quantity(value)


def _unread_limits(written: WrittenGate, surface: Surface) -> tuple[Fault, ...]:
    """A fault for each limit that the condition does not name."""
    read = {name.path for name in names_in(surface, {})}
    return tuple(
        entry_fault(written.path, key, f"{SHOWN_WHEN}: does not read the limit {key.text}")
        for key, _ in _entries(written.limits)
        if key.text not in read
    )


def _refused(path: str, node: Node, error: Refused) -> Fault:
    """A mistake in the text of a node as a fault, at its place."""
    place = node.place if isinstance(error.place, str) else error.place
    return entry_fault(path, node._replace(place=place), error.message)


def _lowered(surface: Surface, text: Scalar, scope: Scope) -> Tree:
    """Lower the condition. Raises Refused if it reads what no order made from the set has."""
    with pinpointing(text):
        for name in names_in(surface, {}):
            if name.path.startswith("site."):
                raise LanguageError("a set is the same everywhere: it reads no policy", name.at)
            # INVARIANT: what is shown does not depend on signing, so a proof covers every order.
            if name.path == CHECKED_AT or name.path in SIGNING_FIELDS:
                said = "a set is the same whoever signs and when: it reads no fact of signing"
                raise LanguageError(said, name.at)
        tree = lower(surface, scope)
        # A blank may be filled in with any spelling, but a proof assumes the standard one.
        if any(isinstance(atom, Written) for atom in atoms(tree)):
            raise LanguageError("what is shown cannot hang on how a setting is spelt", surface.at)
        return tree


def _hidden_by(gate: Gate, gates: Sequence[Gate]) -> tuple[str, ...]:
    """Return the paths of the gates that can hide a leaf that this gate reads."""
    read = paths_in(gate.tree)
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
