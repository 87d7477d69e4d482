"""Lists what a plan leaves out, and why.

Never fills anything in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.quantity_words import format_quantity
from orderlint.shift_plan.model import Omission
from orderlint.shift_plan.settings import (
    CHECKS,
    SHORTEST_BAG,
    SHORTEST_INTERVAL,
    TITRATION,
    PlanSettings,
)
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf

_OF_A_DRAIN = {"monitoring.output_every", "monitoring.level_every"}


def find_omissions(
    leaves: Mapping[str, Leaf], settings: PlanSettings, formation: int | None
) -> Iterator[Omission]:
    """Yield each part that is left out, with the missing settings or the reason."""
    if not leaves["therapy"].known:
        yield Omission("Volumes, bags and titration", ("therapy",))
    yield from _checks(leaves, settings)
    if settings.irrigates:
        yield from _irrigation(leaves, settings)
    if settings.drains:
        yield from _output(leaves, settings, formation)
    if not leaves["review_by"].known:
        yield Omission("Review", ("review_by",))


def _checks(leaves: Mapping[str, Leaf], settings: PlanSettings) -> Iterator[Omission]:
    drains = settings.drains or not leaves["therapy"].known
    due = [path for path in CHECKS if drains or path not in _OF_A_DRAIN or leaves[path].given]
    missing = tuple(path for path in due if not leaves[path].known)
    if missing:
        yield Omission("Checks", missing)
    for path in due:
        if leaves[path].known and CHECKS[path] not in settings.checks:
            yield Omission("Checks", reason=_too_often(path, leaves[path], SHORTEST_INTERVAL))


def _too_often(path: str, leaf: Leaf, shortest: int) -> str:
    name = in_sentence(field_table().display_name(path))
    return f"the {name}, {quote(leaf.text)}, is shorter than {format_quantity(shortest, 'min')}"


def _irrigation(leaves: Mapping[str, Leaf], settings: PlanSettings) -> Iterator[Omission]:
    missing = _unknown(leaves, "irrigation.rate", "irrigation.bag")
    if missing:
        yield Omission("Irrigation bag times and bags to send up", missing)
    elif settings.bag is None:
        yield Omission(
            "Irrigation bag times and bags to send up", reason=_small("irrigation.bag", leaves)
        )
    change = leaves["irrigation.bag_change_every"]
    if not change.known:
        yield Omission("Bag changes by time", (change.path,))
    elif settings.bag_change_every is None:
        yield Omission("Bag changes by time", reason=_too_often(change.path, change, SHORTEST_BAG))
    if not leaves["irrigation.rate"].known:
        yield Omission("Volumes irrigated", ("irrigation.rate",))
    missing = _unknown(leaves, "irrigation.rate", "irrigation.daily_max")
    if missing:
        yield Omission("When the daily irrigation limit is reached", missing)
    yield from _titration(leaves, settings)


def _titration(leaves: Mapping[str, Leaf], settings: PlanSettings) -> Iterator[Omission]:
    if settings.titration or not any(leaves[path].given for path in TITRATION):
        return
    missing = _unknown(leaves, "irrigation.rate", *TITRATION)
    if missing:
        yield Omission("Titration steps", missing)
        return
    every = leaves["titration.every"]
    if (every.number or 0) < SHORTEST_INTERVAL:
        yield Omission("Titration steps", reason=_too_often(every.path, every, SHORTEST_INTERVAL))
    elif not leaves["titration.step"].number:
        yield Omission("Titration steps", reason="the titration step is zero")
    elif (leaves["titration.max"].number or 0) <= (leaves["irrigation.rate"].number or 0):
        yield Omission("Titration steps", reason="the titration maximum is not above the rate")
    else:
        yield Omission("Titration steps", reason="one step would pass the titration maximum")


def _output(
    leaves: Mapping[str, Leaf], settings: PlanSettings, formation: int | None
) -> Iterator[Omission]:
    needed = ("irrigation.rate",) if settings.irrigates else ()
    for part, bag in (("Expected output", ()), ("Collection bag times", ("drainage.bag",))):
        missing = _unknown(leaves, *needed, "patient.group", *bag)
        if missing:
            yield Omission(part, missing)
        elif formation is None:
            group = leaves["patient.group"].value
            reason = f"no rate of CSF formation is held for the patient group {group}"
            yield Omission(part, reason=reason)
        elif bag and settings.collection_bag is None:
            yield Omission(part, reason=_small("drainage.bag", leaves))


def _small(path: str, leaves: Mapping[str, Leaf]) -> str:
    name = in_sentence(field_table().display_name(path))
    shortest = format_quantity(SHORTEST_BAG, "min")
    return f"the {name}, {quote(leaves[path].text)}, would not last {shortest}"


def _unknown(leaves: Mapping[str, Leaf], *paths: str) -> tuple[str, ...]:
    return tuple(path for path in paths if not leaves[path].known)
