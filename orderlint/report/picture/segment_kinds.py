"""The kinds of segments that pictures tell apart, and the character of each in text.

No two have the same character. Never colours, and never words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from orderlint.behaviour import Segment

SIGNS = {
    "irrigating": "▒",
    "retaining": "█",
    "irrigating, outflow not known": "?",
    "draining": "░",
    "open to nothing": "≡",
    "open, outflow not known": "~",
    "watching": "·",
    "warned": "!",
    "stopped": "×",
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
