"""How each thing that a controller can do looks: two colours, a pattern, a character.

No two have the same pattern or character, so that colour only repeats them. Never words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from typing import Literal, TypeAlias

    from orderlint.behaviour import Segment

    Pattern: TypeAlias = Literal[
        "rising", "crossed", "broken", "drops", "lines", "dashes", "dots", "rings", "falling"
    ]


class Look(NamedTuple):
    """One look: the colour behind, the colour of the pattern on it, and a character for text."""

    fill: str
    ink: str
    pattern: Pattern
    sign: str


# Inks are darker shades of the blue, vermilion and bluish green of a palette that people with any
# colour vision can tell apart: Okabe, Ito 2008, "Color Universal Design".
_BLUE, _VERMILION, _GREEN, _GREY = "#005b8f", "#a33c00", "#00634a", "#5c5c5c"

LOOKS = {
    "irrigating": Look("#d6eaf7", _BLUE, "rising", "▒"),
    "retaining": Look("#fbd9c6", _VERMILION, "crossed", "█"),
    "irrigating, outflow not known": Look("#d6eaf7", _BLUE, "broken", "?"),
    "draining": Look("#ddf0e9", _GREEN, "drops", "░"),
    "open to nothing": Look("#fdece3", _VERMILION, "lines", "≡"),
    "open, outflow not known": Look("#ddf0e9", _GREEN, "dashes", "~"),
    "watching": Look("#ffffff", _GREY, "dots", "·"),
    "warned": Look("#f3f3f3", _GREY, "rings", "!"),
    "stopped": Look("#e4e4e4", _GREY, "falling", "×"),
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
    """The key of a segment's look in LOOKS; `acts`: the controller does something at some ICP."""
    if segment.valve == "open":
        return _OPEN[segment.irrigation, segment.outflow]
    if acts and segment.alarm == "low limit":
        return "stopped"
    return "warned" if segment.alarm else "watching"
