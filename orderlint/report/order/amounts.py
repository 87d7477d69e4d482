"""The words of what runs in: of a drug by the hour and by the day, and by the weight of a child.

Exact numbers of what is written, in sentences. Never a limit, and never a dose.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.quantity_words import display_number
from orderlint.report.words import name_of
from orderlint.templates import quote
from orderlint.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.additive import Additive
    from orderlint.order import Leaf

ADDITIVE = "What runs in of the additive"
PER_WEIGHT = "Irrigation by weight"


def additive_words(additive: Additive) -> Iterator[str]:
    """What runs in of a drug at each rate, what is published of it, and what that says."""
    name, concentration = quote(additive.name.text), quote(additive.concentration.text)
    for amount in additive.runs_in:
        rate_name = name_of(amount.rate.path)
        rate = f"{rate_name}, {quote(amount.rate.text)}"
        yield f"{name}, {concentration}, at the {rate}: {amount.hourly}, {amount.daily}."
    if additive.published:
        published = f"{additive.published}, in single doses with the drain clamped"
        yield f"Published: {published} ({'; '.join(additive.sources)})."
    else:
        yield "The policy has no published daily amount of it."
    yield "This is what runs in as long as irrigation does, and much of it drains."


def rate_per_weight(leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """How fast irrigation runs for each kilogram of a child or an infant, at each rate written."""
    weight, group = leaves["patient.weight"], leaves["patient.group"].value
    if not isinstance(weight.value, int) or not weight.value or group not in {"child", "infant"}:
        return
    for path in ("irrigation.rate", "titration.max"):
        rate = leaves[path]
        if isinstance(rate.value, int):
            per_kg = in_unit(rate.value, "mL/h") / in_unit(weight.value, "kg")
            name = field_table().display_name(path)
            written = f"{quote(rate.text)} at {quote(weight.text)}"
            about = "" if (per_kg * 100).denominator == 1 else "about "
            yield f"{name}, {written}: {about}{display_number(per_kg)} mL/kg/h."
