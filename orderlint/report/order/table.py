"""The behaviour of the controller, segment by segment, in both pressure units.

Turns a table into lines. Never works one out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table, in_sentence
from orderlint.report.escape import safe
from orderlint.report.layout import NARROWEST, paragraph
from orderlint.report.words import UNSEEN, UNSEEN_CLOSED
from orderlint.units import in_unit, number_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from typing import Any

    from orderlint.behaviour import Behaviour, Segment
    from orderlint.behaviour_diff import Difference
    from orderlint.order import Leaf

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


class Row(NamedTuple):
    """A segment in words: its ICP in the unit displayed and in the other, and what happens."""

    segment: Segment
    first: str
    second: str
    action: str


class Table(NamedTuple):
    """The table in words, or in `before` alone why there is none."""

    before: str
    rows: tuple[Row, ...]
    after: tuple[str, ...]


def behaviour_words(behaviour: Behaviour, leaves: Mapping[str, Leaf]) -> Table:
    """What the controller does, segment by segment, from the lowest ICP up."""
    if behaviour.lacking:
        return Table(_no_table(behaviour, leaves), (), ())
    first, second = units_of(leaves)
    acts = acts_in(behaviour.segments)
    rows = (
        Row(s, range_words(s, first), range_words(s, second), action_words(s, acts))
        for s in behaviour.segments
    )
    return Table(_legend(leaves), tuple(rows), tuple(_provisos(behaviour, leaves)))


def behaviour_lines(
    behaviour: Behaviour, leaves: Mapping[str, Leaf], width: int
) -> tuple[str, ...]:
    """A line with the ICP in the unit displayed and in the other, and one with what happens."""
    table = behaviour_words(behaviour, leaves)
    column = max((len(row.first) for row in table.rows), default=0)
    lines = [paragraph(table.before, width, 2)]
    for row in table.rows:
        beside = f"  {row.first:<{column}}   {row.second}"
        fits = len(beside) <= max(width, NARROWEST)
        lines.append(beside if fits else f"  {row.first}\n  {row.second}")
        lines.append(paragraph(row.action, width, 6))
    lines.extend(paragraph(text, width, 2) for text in table.after)
    return tuple(lines)


def units_of(leaves: Mapping[str, Leaf]) -> tuple[str, str]:
    """Both units of pressure, first the one that the controller shows."""
    shown = leaves["display_unit"].value
    return ("cmH2O", "mmHg") if shown == "cmH2O" else ("mmHg", "cmH2O")


def acts_in(segments: Iterable[Segment]) -> bool:
    """Whether the controller opens the drain's valve at any pressure."""
    return any(segment.valve == "open" for segment in segments)


def range_words(segment: Segment, unit: str) -> str:
    """The ICP of a segment in `unit`, as in "above 8 up to 22 mmHg"."""
    ends = [None if end is None else in_unit(end, unit) for end in (segment.start, segment.end)]
    both = [end for end in ends if end is not None]
    start, end = (None if end is None else number_words(end, beside=both) for end in ends)
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


def stretch_parts(stretch: Difference, shown: object) -> tuple[str, str, str]:
    """A stretch of ICP in both units, the unit `shown` first, and what each of two tables has."""
    one, other = of_extent(stretch)
    first, second = ("cmH2O", "mmHg") if shown == "cmH2O" else ("mmHg", "cmH2O")
    where = f"at an ICP {range_words(one, first)} ({range_words(one, second)})"
    return where, action_words(one, acts=True), action_words(other, acts=True)


def of_extent(stretch: Difference) -> tuple[Segment, Segment]:
    """What each of two tables has on a stretch, as segments of that extent."""
    ends: dict[str, Any] = {
        key: getattr(stretch, key) for key in ("start", "start_included", "end", "end_included")
    }
    return stretch.one._replace(**ends), stretch.other._replace(**ends)


def not_had(path: str, leaf: Leaf) -> str:
    """A setting that is lacking, and whether nothing is written or it cannot be read."""
    name = in_sentence(field_table().trade_name(path))
    return f"{name} ({'cannot be read' if leaf.given else 'not written'})"


def _no_table(behaviour: Behaviour, leaves: Mapping[str, Leaf]) -> str:
    lacking = ", ".join(not_had(path, leaves[path]) for path in behaviour.lacking)
    return f"This cannot be said, for lack of: {lacking}."


def _legend(leaves: Mapping[str, Leaf]) -> str:
    shown = leaves["display_unit"]
    unit = f"The controller shows {safe(str(shown.value))}, which stands first. "
    limits = "“From” and “up to” include the number itself; “above” and “below” do not."
    return (unit if shown.known else "It is not known which unit the controller shows. ") + limits


def _provisos(behaviour: Behaviour, leaves: Mapping[str, Leaf]) -> Iterator[str]:
    if any(segment.outflow == "not known" for segment in behaviour.segments):
        paths = ("drainage.height", "drainage.scale")
        lacking = [not_had(path, leaves[path]) for path in paths if not leaves[path].known]
        cause = (
            f"lack of: {', '.join(lacking)}" if lacking else "how the drain empties at this site"
        )
        yield f"Outflow is not known because of {cause}."
    yield UNSEEN if acts_in(behaviour.segments) else UNSEEN_CLOSED
