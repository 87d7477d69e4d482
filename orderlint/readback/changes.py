"""Computes what each differing setting would change in the behaviour of the controller.

Compares two behaviour tables. Never words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.behaviour import behaviour_of
from orderlint.behaviour_diff import find_differences
from orderlint.readback.differences import DIFFERENCES, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.behaviour_diff import Difference
    from orderlint.order import Leaf
    from orderlint.readback.differences import SettingComparison


class EffectOnBehaviour(NamedTuple):
    """What one setting, as seen, would change if all else were as ordered.

    `missing` are the settings without which that is unknown.
    """

    path: str
    differences: tuple[Difference, ...]
    missing: tuple[str, ...]


def effects_of(
    rows: Iterable[SettingComparison], ordered: Mapping[str, Leaf], outflow: str | None
) -> tuple[EffectOnBehaviour, ...]:
    """The change that each difference makes, a rounded setting's among them."""
    plain = behaviour_of(ordered, outflow)
    found = []
    for row in rows:
        if row.outcome in DIFFERENCES or row.outcome is Outcome.ROUNDED:
            changed = behaviour_of({**ordered, row.path: row.seen}, outflow)
            missing = tuple(dict.fromkeys((*plain.missing, *changed.missing)))
            differences = () if missing else tuple(find_differences(plain, changed))
            found.append(EffectOnBehaviour(row.path, differences, missing))
    return tuple(found)
