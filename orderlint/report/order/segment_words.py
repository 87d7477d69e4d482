"""Puts into words what the controller does, segment by segment, and what runs in by the hour.

Exact numbers, pressures in both units. Never computes a table, never a layout, and never a dose.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from orderlint.fields import field_table
from orderlint.quantity_words import display_number
from orderlint.report.blocks import SegmentRow, Segments
from orderlint.report.picture.segment_kinds import kind_of
from orderlint.report.visible_text import safe
from orderlint.report.words import UNSEEN, UNSEEN_CLOSED, name_of
from orderlint.templates import quote
from orderlint.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.additive import Additive
    from orderlint.behaviour import Behaviour, Difference, Segment
    from orderlint.order import Leaf

ADDITIVE = "What runs in of the additive"
PER_WEIGHT = "Irrigation by weight"
_OUTFLOWS = {
    "possible by gravity": "drain valve open, outflow possible by gravity",
    "none by gravity": "drain valve open, but no outflow by gravity",
    "not known": "drain valve open, outflow not known",
    "valve closed": "drain valve closed",
}
_SHORT = {
    "possible by gravity": "outflow possible by gravity",
    "none by gravity": "no outflow by gravity",
    "not known": "outflow not known",
}
_ALARMS = {
    "low limit": "; the low limit warns",
    "high limit": "; the high limit warns",
    None: "",
}


def behaviour_words(behaviour: Behaviour, leaves: Mapping[str, Leaf], name: str) -> Segments:
    """What the controller does, segment by segment, from the lowest ICP up.

    `name` is that of the picture in which the segments look the same.
    """
    units = units_of(leaves["display_unit"].value)
    if behaviour.missing:
        return Segments(no_table(behaviour.missing, leaves), units, (), (), name)
    acts = opens_drain(behaviour.segments)
    first, second = units
    rows = (
        SegmentRow(
            range_words(segment, first),
            range_words(segment, second),
            action_words(segment, acts),
            kind_of(segment, acts),
        )
        for segment in behaviour.segments
    )
    return Segments(_legend(leaves), units, tuple(rows), tuple(_provisos(behaviour, leaves)), name)


def units_of(shown: object) -> tuple[str, str]:
    """Both units of pressure, first the one that the controller shows."""
    return ("cmH2O", "mmHg") if shown == "cmH2O" else ("mmHg", "cmH2O")


def opens_drain(segments: Iterable[Segment]) -> bool:
    """Whether the controller opens the drain's valve at any pressure."""
    return any(segment.valve == "open" for segment in segments)


def range_words(segment: Segment, unit: str) -> str:
    """The ICP of a segment in `unit`, as in "above 8 up to 22 mmHg"."""
    ends = [None if end is None else in_unit(end, unit) for end in (segment.start, segment.end)]
    both = [end for end in ends if end is not None]
    start, end = (None if end is None else display_number(end, both) for end in ends)
    if segment.start == segment.end and start is not None:
        return f"exactly {start} {unit}"
    # INVARIANT: every segment has a start or an end; below the lower pause limit all differs.
    words = [f"{'from' if segment.start_included else 'above'} {start}"] if start else []
    words += [f"{'up to' if segment.end_included else 'below'} {end}"] if end else []
    return f"{' '.join(words)} {unit}"


def action_words(segment: Segment, acts: bool) -> str:
    """What the controller does in a segment, in plain words; `acts`: at some pressure it does."""
    words = f"irrigation {segment.irrigation}, {_OUTFLOWS[segment.outflow]}"
    if segment.irrigation == "on" and segment.outflow == "none by gravity":
        words += ": what runs in stays in"
    if segment.valve == "closed":
        words = f"{_closed(segment, acts)}: {words}"
    return words + _ALARMS[segment.alarm]


def short_words(segment: Segment, acts: bool) -> str:
    """The same, as short as the label of a picture must be."""
    if segment.valve == "closed":
        return _closed(segment, acts) + _ALARMS[segment.alarm]
    return f"irrigation {segment.irrigation}, {_SHORT[segment.outflow]}"


def _closed(segment: Segment, acts: bool) -> str:
    # INVARIANT: where the valve is closed, irrigation is off.
    return "all stopped" if acts and segment.alarm == "low limit" else "watching only"


def difference_parts(difference: Difference, shown: object) -> tuple[str, str, str]:
    """An interval of ICP in both units, the unit `shown` first, and what each table has there."""
    one, other = clipped_segments(difference)
    first, second = units_of(shown)
    where = f"at an ICP {range_words(one, first)} ({range_words(one, second)})"
    return where, action_words(one, acts=True), action_words(other, acts=True)


def clipped_segments(difference: Difference) -> tuple[Segment, Segment]:
    """The segments of the two tables, cut to the interval in which they differ."""
    ends: dict[str, Any] = {
        key: getattr(difference, key) for key in ("start", "start_included", "end", "end_included")
    }
    return difference.one._replace(**ends), difference.other._replace(**ends)


def describe_missing(path: str, leaf: Leaf) -> str:
    """A missing setting: not written, not read, or in a unit that does not compare."""
    name = name_of(path)
    if leaf.known:
        return f"{name} (in a unit that cannot be compared)"
    return f"{name} ({'cannot be read' if leaf.given else 'not written'})"


def list_missing(paths: Iterable[str], leaves: Mapping[str, Leaf]) -> str:
    """Missing settings, and for each whether it is not written or cannot be read."""
    return ", ".join(describe_missing(path, leaves[path]) for path in paths)


def no_table(paths: Iterable[str], leaves: Mapping[str, Leaf]) -> str:
    """Say that the behaviour is unknown, and which settings are missing."""
    return f"This cannot be said, for lack of: {list_missing(paths, leaves)}."


def _legend(leaves: Mapping[str, Leaf]) -> str:
    shown = leaves["display_unit"]
    unit = (
        f"The controller shows {safe(str(shown.value))}, which stands first; the other is rounded. "
    )
    limits = "“From” and “up to” include the number itself; “above” and “below” do not."
    return (unit if shown.known else "It is not known which unit the controller shows. ") + limits


def _provisos(behaviour: Behaviour, leaves: Mapping[str, Leaf]) -> Iterator[str]:
    if any(segment.outflow == "not known" for segment in behaviour.segments):
        paths = ("drainage.height", "drainage.scale")
        unknown = [path for path in paths if not leaves[path].known]
        cause = (
            f"lack of: {list_missing(unknown, leaves)}"
            if unknown
            else "how the drain empties at this site"
        )
        yield f"Outflow is not known because of {cause}."
    yield UNSEEN if opens_drain(behaviour.segments) else UNSEEN_CLOSED


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
