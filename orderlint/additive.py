"""How much of an order's additive runs in, by the hour and by the day, beside published amounts.

Exact multiplication of what is written. Never a limit, and never a dose.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.quantity_words import display_quantity, drug_unit, group_digits
from orderlint.units import dimension_of_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from fractions import Fraction

    from orderlint.order import Leaf
    from orderlint.rulebook.policy.policy_values import PolicyValue
    from orderlint.rulebook.rule import Rulebook

NAME, CONCENTRATION = "irrigation.additive.name", "irrigation.additive.concentration"
RATES = ("irrigation.rate", "titration.max")
"""The rates at which amounts are reckoned: as ordered, and the highest."""
TABLES = ("additive_mass", "additive_units")
"""The policy's tables of published daily amounts."""


class RunsIn(NamedTuple):
    """What runs in at one rate of RATES, as text: `0.4 mg/h` and `9.6 mg/day`."""

    rate: Leaf
    hourly: str
    daily: str


class Additive(NamedTuple):
    """The drug in the bag, what runs in of it, and what the policy knows to be published of it.

    `published` is a range as text, such as `5 mg/day to 20 mg/day`, with its `sources`; both are
    empty where nothing is known.
    """

    name: Leaf
    concentration: Leaf
    runs_in: tuple[RunsIn, ...]
    published: str = ""
    sources: tuple[str, ...] = ()


def additive_of(leaves: Mapping[str, Leaf], rulebook: Rulebook) -> Additive | None:
    """The additive of an order that irrigates; None without one whose amounts can be reckoned."""
    runs_in = tuple(_runs_in(leaves)) if leaves["therapy"].value == "irrigation" else ()
    if not runs_in:
        return None
    published = _published(leaves[NAME], rulebook)
    return Additive(leaves[NAME], leaves[CONCENTRATION], runs_in, *published)


def _runs_in(leaves: Mapping[str, Leaf]) -> Iterator[RunsIn]:
    concentration = leaves[CONCENTRATION]
    if not isinstance(concentration.value, int) or concentration.unit is None:
        return
    from orderlint.language.amounts import product_dimension  # noqa: PLC0415 - cold start

    dimension, ticks = product_dimension(dimension_of_unit(concentration.unit), "flow", 0)
    for path in RATES:
        rate = leaves[path]
        if isinstance(rate.value, int):
            amount = concentration.value * rate.value * ticks
            yield RunsIn(rate, _by(amount, dimension, "h"), _by(amount, dimension, "day"))


def _by(amount: Fraction, dimension: str, time: str) -> str:
    return group_digits(display_quantity(amount, drug_unit(amount, dimension, time)))


def _published(name: Leaf, rulebook: Rulebook) -> tuple[str, tuple[str, ...]]:
    """The published range of the row that an additive's name names, and where it is from."""
    from orderlint.language.figures import named_rows  # noqa: PLC0415 - cold start
    from orderlint.language.types import Quantity  # noqa: PLC0415 - cold start

    for table in TABLES:
        value = rulebook.values.get(table)
        row = value and next(iter(named_rows(name, value.keyed)), None)
        if value and row:
            ends = (item.text for item in value.keyed[row].values() if isinstance(item, Quantity))
            return " to ".join(dict.fromkeys(ends)), tuple(_sources(value, row))
    return "", ()


def _sources(value: PolicyValue, row: str) -> Iterator[str]:
    """The sources of a table that are of one of its rows: those whose note names it, or none."""
    from orderlint.language.figures import row_names  # noqa: PLC0415 - cold start

    for source in value.sources:
        if source.note is None or row_names(row)[0] in source.note:
            yield source.text.removesuffix(f" ({source.note})")
