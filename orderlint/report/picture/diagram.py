"""Selects what the picture of an order shows: levels, segments and the normal range.

Taken from the table of segments and the leaves. Never a coordinate or a colour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.quantity_words import display_number, display_quantity
from orderlint.report.order.segment_words import action_words, opens_drain, range_words, units_of
from orderlint.units import in_unit, read_constant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.behaviour import Behaviour, Segment
    from orderlint.order import Leaf

LEVELS = ("pause.lower", "treat_above", "drainage.height", "pause.upper")
"""The settings that are drawn as levels."""

NORMAL_ICP = {
    "adult": ("5 mmHg", "15 mmHg"),
    "child": ("3 mmHg", "7 mmHg"),
    "infant": ("1.5 mmHg", "6 mmHg"),
}
"""Lowest and highest normal ICP, lying, by patient group. Source: NORMAL_ICP_SOURCE."""

NORMAL_ICP_SOURCE = "The Anesthesia Guide, ch. 98: normal ICP supine"


class LevelMark(NamedTuple):
    """A level that is written: its path, display name and ticks."""

    path: str
    name: str
    ticks: int


class Normal(NamedTuple):
    """The normal range of ICP of a patient group, lying, both ends in ticks."""

    group: str
    lowest: int
    highest: int


class Diagram(NamedTuple):
    """What is drawn. `marks` are from the lowest to the highest, `units` as displayed.

    `segments` is empty if the table of segments is unknown.
    """

    segments: tuple[Segment, ...]
    marks: tuple[LevelMark, ...]
    normal: Normal | None
    units: tuple[str, str]


def diagram_of(behaviour: Behaviour, leaves: Mapping[str, Leaf]) -> Diagram | None:
    """The diagram of an order; None if no level is known."""
    marks = tuple(sorted(_marks(leaves), key=lambda mark: mark.ticks))
    if not marks:
        return None
    return Diagram(
        behaviour.segments, marks, _normal(leaves), units_of(leaves["display_unit"].value)
    )


def _marks(leaves: Mapping[str, Leaf]) -> Iterator[LevelMark]:
    for path in LEVELS:
        value = leaves[path].value
        if isinstance(value, int):
            yield LevelMark(path, field_table().display_name(path), value)


def _normal(leaves: Mapping[str, Leaf]) -> Normal | None:
    group = str(leaves["patient.group"].value)
    if group not in NORMAL_ICP:
        return None
    lowest, highest = (read_constant(text)[0] for text in NORMAL_ICP[group])
    return Normal(group, lowest, highest)


def level_words(mark: LevelMark, units: tuple[str, str]) -> str:
    """As in "Upper pause limit: 22 mmHg (29.90922 cmH2O)"."""
    first, second = (display_quantity(mark.ticks, unit) for unit in units)
    return f"{mark.name}: {first} ({second})"


def normal_words(normal: Normal, unit: str) -> str:
    """As in "Normal ICP of an adult, lying: 5 to 15 mmHg".

    Of children there are no reference values; those of one textbook are shown as such.
    """
    article = "an" if normal.group[0] in "ai" else "a"
    by = "" if normal.group == "adult" else ", by one textbook"
    return f"Normal ICP of {article} {normal.group}, lying{by}: {ends_words(normal, unit)}"


def ends_words(normal: Normal, unit: str) -> str:
    """As in "5 to 15 mmHg"."""
    ends = (display_number(in_unit(end, unit)) for end in (normal.lowest, normal.highest))
    return f"{' to '.join(ends)} {unit}"


def description_of(diagram: Diagram) -> list[str]:
    """The picture in words, a sentence for each part of it, from the highest ICP down."""
    acts = opens_drain(diagram.segments)
    said = [level_words(mark, diagram.units) for mark in reversed(diagram.marks)]
    if diagram.normal:
        said.append(normal_words(diagram.normal, diagram.units[0]))
    said += [
        f"ICP {range_words(segment, diagram.units[0])}: {action_words(segment, acts)}"
        for segment in reversed(diagram.segments)
    ]
    return [f"{words}." for words in said]
