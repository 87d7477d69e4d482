"""Two order sets setting by setting: which options are new or gone, and what is preset.

The options alone: which orders that makes new or gone is for the proof to say. Never a word.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.proof.set_membership import DRUG_NAME, TEXTS, allowed_at, equivalence_key

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet, Slot


class OptionChange(NamedTuple):
    """A setting that two order sets do not offer alike.

    `new` and `gone` are the options that only the later and only the earlier has, where nothing may
    stand the absent leaf among them. `before` and `after` are the presets where they differ, None
    where somebody must pick. `bounds` says that the values of an unbounded blank differ, `shown`
    that it is shown or offered as a whole under other conditions, `reworded` that only a text or a
    name differs. `disjoint`: no value of this setting is on orders of both sets.
    """

    path: str
    new: tuple[Leaf, ...]
    gone: tuple[Leaf, ...]
    presets: tuple[Leaf | None, Leaf | None] | None
    bounds: bool
    shown: bool
    reworded: bool
    disjoint: bool


class SectionChange(NamedTuple):
    """A section that two sets do not offer alike.

    `before` and `after` say whether it is in the order of whoever picks nothing: None where it is
    not offered as a whole.
    """

    path: str
    before: bool | None
    after: bool | None


def section_changes(before: OrderSet, after: OrderSet) -> Iterator[SectionChange]:
    """Every section that is offered in only one of two sets, or preselected otherwise."""
    for path in dict.fromkeys((*before.offered_sections, *after.offered_sections)):
        old, new = (item.offered_sections.get(path) for item in (before, after))
        taken = tuple(None if item is None else item.preset for item in (old, new))
        if taken[0] is not taken[1]:
            yield SectionChange(path, *taken)


def option_changes(before: OrderSet, after: OrderSet) -> Iterator[OptionChange]:
    """Every setting that is not offered alike, in the order of the form."""
    for path in field_table().fields:
        # INVARIANT: a set that was read has a slot for every leaf of an order.
        old, new = before.slots[path], after.slots[path]
        in_old, in_new = allowed_at(old), allowed_at(new)
        offer = OptionChange(
            path,
            tuple(leaf for leaf in new.options if not in_old(leaf)),
            tuple(leaf for leaf in old.options if not in_new(leaf)),
            _preset_change(old, new),
            old.span != new.span,
            _conditions(before, path) != _conditions(after, path),
            _text_options(old) != _text_options(new),
            _is_disjoint(before, after, path),
        )
        if any(offer[1:]):
            yield offer


def _preset_change(old: Slot, new: Slot) -> tuple[Leaf | None, Leaf | None] | None:
    one, other = (None if slot.preset is None else slot.options[slot.preset] for slot in (old, new))
    if one is None or other is None:
        return None if one is other else (one, other)
    return None if equivalence_key(one) == equivalence_key(other) else (one, other)


def _conditions(order_set: OrderSet, path: str) -> tuple[object, ...]:
    """All that decides whether a leaf is on an order, and whether its section is preselected."""
    # Nodes of a tree are tuples, so that an `and` equals an `or`; their names differ.
    gates = (repr(gate.tree) for gate in order_set.gates_over(path))
    offered = order_set.offered_sections
    sections = ((section, offered[section].preset) for section in order_set.sections_over(path))
    return (*gates, *sections)


def _text_options(slot: Slot) -> tuple[object, ...]:
    """The words of texts and names. A comparison of orders leaves them out, but for a drug's."""
    is_text = field_table().fields[slot.path].kind in TEXTS and slot.path != DRUG_NAME
    if not is_text or slot.signed:
        return ()
    return tuple(leaf.value for leaf in slot.options if leaf.known)


def _is_disjoint(before: OrderSet, after: OrderSet, path: str) -> bool:
    """Whether no two orders of the two sets have the same there, as each has something else."""
    old, new = before.slots[path], after.slots[path]
    always = all(leaf.given for slot in (old, new) for leaf in slot.options)
    hidden = any(_conditions(order_set, path) for order_set in (before, after))
    listed = old.options and new.options and not (old.span or new.span or hidden)
    return bool(listed and always and not any(map(allowed_at(old), new.options)))
