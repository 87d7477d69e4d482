"""The kinds of segments, and how each looks: a character in text; two colours and a pattern in SVG.

No two kinds share a character or a pattern, so that colour only repeats it. Never words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from orderlint.behaviour import Segment

    Pattern: TypeAlias = Literal[
        "rising", "crossed", "broken", "drops", "lines", "dashes", "dots", "rings", "falling"
    ]


class SegmentStyle(NamedTuple):
    """How one kind looks: its character, its background, and a pattern in the colour `ink`."""

    sign: str
    fill: str
    ink: str
    pattern: Pattern


# Inks are darker shades of the blue, vermilion and bluish green of a palette that people with any
# colour vision can tell apart: Okabe, Ito 2008, "Color Universal Design".
_BLUE, _VERMILION, _GREEN, _GREY = "#005b8f", "#a33c00", "#00634a", "#5c5c5c"

STYLES = {
    "irrigating": SegmentStyle("▒", "#d6eaf7", _BLUE, "rising"),
    "retaining": SegmentStyle("█", "#fbd9c6", _VERMILION, "crossed"),
    "irrigating, outflow not known": SegmentStyle("?", "#d6eaf7", _BLUE, "broken"),
    "draining": SegmentStyle("░", "#ddf0e9", _GREEN, "drops"),
    "open to nothing": SegmentStyle("≡", "#fdece3", _VERMILION, "lines"),
    "open, outflow not known": SegmentStyle("~", "#ddf0e9", _GREEN, "dashes"),
    "watching": SegmentStyle("·", "#ffffff", _GREY, "dots"),
    "warned": SegmentStyle("!", "#e4e4e4", _GREY, "rings"),
    "stopped": SegmentStyle("×", "#f3f3f3", _GREY, "falling"),
}
"""By kind, as `kind_of` names it."""

_OPEN = {
    ("on", "possible by gravity"): "irrigating",
    ("on", "none by gravity"): "retaining",
    ("on", "not known"): "irrigating, outflow not known",
    ("off", "possible by gravity"): "draining",
    ("off", "none by gravity"): "open to nothing",
    ("off", "not known"): "open, outflow not known",
}


def kind_of(segment: Segment, acts: bool) -> str:
    """The kind of a segment; `acts`: the controller opens the drain's valve at some ICP."""
    if segment.valve == "open":
        return _OPEN[segment.irrigation, segment.outflow]
    if acts and segment.alarm == "low limit":
        return "stopped"
    return "warned" if segment.alarm else "watching"
