"""One part of a report: a heading, and the lines under it, for text and page alike.

Never a layout, and never a word of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable


class Part(NamedTuple):
    """A heading, and the lines under it, not yet wrapped or made safe."""

    heading: str
    lines: tuple[str, ...]


def part_of(heading: str, lines: Iterable[str], without: str = "") -> Part:
    """The part with its lines, or with what is said where there are none."""
    return Part(heading, tuple(lines) or (without,))
