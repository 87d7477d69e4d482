"""Compares each setting seen with the one ordered: equal, the nearest step, or different.

Whole ticks throughout, never rounded. Never a level, a word or a verdict.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.order import Leaf, State
from orderlint.readback.checklist import ADDITIVE, ALWAYS_THERE, SETTINGS, UNIT_OF
from orderlint.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.types import Quantity
    from orderlint.rulebook.rule import Rulebook


class Outcome(enum.Enum):
    """How a setting seen compares with the one ordered."""

    EQUAL = "equal"
    ROUNDED = "nearest step"
    OTHER_UNIT = "same number in another unit"
    DIFFERS = "different"
    MISSING = "ordered and not seen"
    NOT_ORDERED = "seen and not ordered"
    UNSAID = "the order does not say"
    NEITHER = "neither ordered nor seen"
    OPEN = "could not be compared"


DIFFERENCES = frozenset({Outcome.OTHER_UNIT, Outcome.DIFFERS, Outcome.MISSING, Outcome.NOT_ORDERED})
"""The outcomes after which somebody has to look once more."""


class SettingComparison(NamedTuple):
    """One setting as ordered and as seen.

    `step` is the size of the steps in which it is set, where they are known.
    """

    path: str
    outcome: Outcome
    ordered: Leaf
    seen: Leaf
    step: Quantity | None = None


def compare_settings(
    ordered: Mapping[str, Leaf], seen: Mapping[str, Leaf], rulebook: Rulebook
) -> tuple[SettingComparison, ...]:
    """Every setting that is seen at the bedside, in the order in which a nurse comes to it."""
    inside = [path for path in SETTINGS if path.startswith(f"{ADDITIVE}.")]
    apart = _is_one_answer(ordered) or _is_one_answer(seen)
    rows: list[SettingComparison] = []
    for path in SETTINGS:
        if not (apart and path in inside):
            leaves, step = (ordered[path], seen[path]), _step(path, seen, rulebook)
            rows.append(SettingComparison(path, _outcome(path, *leaves, step), *leaves, step))
        elif path == inside[0]:
            rows.append(_compare_additive(ordered, seen))
    return tuple(rows)


def _is_one_answer(leaves: Mapping[str, Leaf]) -> bool:
    """True if an additive is one word or nothing, without a name or concentration."""
    below = (leaf for path, leaf in leaves.items() if path.startswith(f"{ADDITIVE}."))
    return not any(leaf.given for leaf in below)


def _compare_additive(ordered: Mapping[str, Leaf], seen: Mapping[str, Leaf]) -> SettingComparison:
    """Compare the additive as one setting, if one side has no name or concentration of it."""
    mine, theirs = _as_one(ordered), _as_one(seen)
    if State.UNREADABLE in {mine.state, theirs.state}:
        return SettingComparison(ADDITIVE, Outcome.OPEN, mine, theirs)
    if mine.value == theirs.value:
        outcome = Outcome.EQUAL if mine.known else Outcome.NEITHER
    elif not theirs.known or (theirs.value == "none" and mine.known):
        outcome = Outcome.MISSING
    elif theirs.value == "none":
        outcome = Outcome.UNSAID
    else:
        outcome = Outcome.NOT_ORDERED
    return SettingComparison(ADDITIVE, outcome, mine, theirs)


def _as_one(leaves: Mapping[str, Leaf]) -> Leaf:
    """The additive as one leaf: the word `none`, or its parts joined; unreadable if a part is."""
    parts = [leaf for path, leaf in leaves.items() if path.startswith(f"{ADDITIVE}.")]
    parts = [part for part in parts if part.given]
    if not parts:
        return leaves[ADDITIVE]
    text = ", ".join(part.text for part in parts)
    state = State.KNOWN if all(part.known for part in parts) else State.UNREADABLE
    return Leaf(ADDITIVE, state, text, None, text, place=parts[0].place)


def _outcome(path: str, ordered: Leaf, seen: Leaf, step: Quantity | None) -> Outcome:
    if State.UNREADABLE in {ordered.state, seen.state}:
        return Outcome.OPEN
    if not ordered.known and not seen.known:
        return Outcome.NEITHER
    if not seen.known:
        return Outcome.MISSING
    if not ordered.known:
        return Outcome.UNSAID if path in ALWAYS_THERE else Outcome.NOT_ORDERED
    field = field_table().fields[path]
    compared = (field.comparison_key(leaf.value, leaf.text, leaf.unit) for leaf in (ordered, seen))
    if len({*compared}) == 1:
        return Outcome.EQUAL
    return _of_difference(ordered, seen, step)


def _of_difference(ordered: Leaf, seen: Leaf, step: Quantity | None) -> Outcome:
    if ordered.number is None or seen.number is None:
        return Outcome.DIFFERS
    if step is not None and is_nearest(ordered.number, seen.number, step.ticks):
        # Said before the other unit: 1 mmHg is 1.36 cmH2O, which cannot be held but as 1 cmH2O.
        return Outcome.ROUNDED
    written = in_unit(ordered.number, ordered.unit or ""), in_unit(seen.number, seen.unit or "")
    return Outcome.OTHER_UNIT if written[0] == written[1] else Outcome.DIFFERS


def is_nearest(ordered: int, seen: int, step: int) -> bool:
    """True if `seen` is the multiple of `step` nearest to `ordered`; at a half, none is."""
    return seen % step == 0 and 2 * abs(ordered - seen) < step


def _step(path: str, seen: Mapping[str, Leaf], rulebook: Rulebook) -> Quantity | None:
    """The step in which a setting can be set here, by the unit that is seen to be shown."""
    if path == "irrigation.rate":
        return _policy_quantity("rate_step", "", rulebook)
    unit = UNIT_OF.get(path)
    if unit is None or not seen[unit].known:
        return None
    name = "level_step" if unit == "display_unit" else "drain_scale_step"
    return _policy_quantity(name, str(seen[unit].value), rulebook)


def _policy_quantity(name: str, key: str, rulebook: Rulebook) -> Quantity | None:
    """A quantity of the policy; None where the policy leaves it out."""
    value = rulebook.values.get(name)
    return value.quantity_for(key) if value else None
