"""How far an order is from a set's presets, as a sort key: the lowest is the nearest.

Departures first, then option steps, then document order. Never a solver.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.proof.search_space import Picks, SlotChoice, example_of, is_open

if TYPE_CHECKING:
    from orderlint.order_set.model import OrderSet, Slot

Key: TypeAlias = "tuple[int, int, tuple[int, ...], tuple[tuple[int, ...], ...]]"


def origin(slot: Slot) -> int:
    """The option from which steps are counted: the preset, else the first."""
    return slot.preset or 0


def differs_from_preset(slot: Slot, choice: SlotChoice) -> bool:
    """Whether somebody changed a preset; what is picked or written in a blank changes none."""
    return not is_open(slot) and choice != slot.preset


def steps(slot: Slot, choice: SlotChoice) -> int:
    """Options away from where one starts; a value of a span is none away."""
    return abs(choice - origin(slot)) if isinstance(choice, int) else 0


class Position(NamedTuple):
    """A place at which orders differ: a slot, or an offered section."""

    path: str
    is_section: bool


def positions(order_set: OrderSet) -> tuple[Position, ...]:
    """Slots and sections in document order, each section before the first slot in it."""
    found: dict[Position, None] = {}
    for path in order_set.slots:
        for section in order_set.sections_over(path):
            found[Position(section, True)] = None
        found[Position(path, False)] = None
    return tuple(found)


def rank(slot: Slot, choice: SlotChoice) -> tuple[int, ...]:
    """Of two choices at one slot that cost the same, the lower comes first.

    Options by index; then values of the span: those on a whole step first, then those in the first
    of its units, of which the nearest to the schema's example comes first.
    """
    if isinstance(choice, int):
        return (0, choice)
    assert slot.span is not None
    assert isinstance(choice.value, int)
    unit = choice.unit or ""
    is_off = choice.value % slot.span.steps.get(unit, 1) != 0
    far = abs(choice.value - example_of(slot.path))
    return (1, int(is_off), list(slot.span.grids).index(unit), far, choice.value)


def cost(order_set: OrderSet, picks: Picks) -> Key:
    """The key of some picks; of two orders the better has the lesser key."""
    slots, sections = order_set.slots, order_set.offered_sections
    departing: list[bool] = []
    ranks: list[tuple[int, ...]] = []
    for path, is_section in positions(order_set):
        if is_section:
            taken = picks.sections_on[path]
            departing.append(taken != sections[path].preset)
            ranks.append((0, int(taken)))
        else:
            departing.append(differs_from_preset(slots[path], picks.chosen[path]))
            ranks.append(rank(slots[path], picks.chosen[path]))
    walked = sum(steps(slot, picks.chosen[path]) for path, slot in slots.items())
    # The earliest that differs_from_preset comes first: False sorts after True here.
    order = tuple(int(not each) for each in departing)
    return (sum(departing), walked, order, tuple(ranks))
