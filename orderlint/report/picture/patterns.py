"""How each kind of segment looks in a drawing: two colours and a pattern.

No two have the same pattern, so that colour only repeats it. Never words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from typing import Literal, TypeAlias

    Pattern: TypeAlias = Literal[
        "rising", "crossed", "broken", "drops", "lines", "dashes", "dots", "rings", "falling"
    ]


class Look(NamedTuple):
    """One look: the colour behind, and the colour of the pattern on it."""

    fill: str
    ink: str
    pattern: Pattern


# Inks are darker shades of the blue, vermilion and bluish green of a palette that people with any
# colour vision can tell apart: Okabe, Ito 2008, "Color Universal Design".
_BLUE, _VERMILION, _GREEN, _GREY = "#005b8f", "#a33c00", "#00634a", "#5c5c5c"

LOOKS = {
    "irrigating": Look("#d6eaf7", _BLUE, "rising"),
    "retaining": Look("#fbd9c6", _VERMILION, "crossed"),
    "irrigating, outflow not known": Look("#d6eaf7", _BLUE, "broken"),
    "draining": Look("#ddf0e9", _GREEN, "drops"),
    "open to nothing": Look("#fdece3", _VERMILION, "lines"),
    "open, outflow not known": Look("#ddf0e9", _GREEN, "dashes"),
    "watching": Look("#ffffff", _GREY, "dots"),
    "warned": Look("#e4e4e4", _GREY, "rings"),
    "stopped": Look("#f3f3f3", _GREY, "falling"),
}
"""By kind, as `kind_of` names it."""
