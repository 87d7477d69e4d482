"""Labels of a picture: measures text, wraps it, and places labels so that none overlap.

Sizes are in the units of the drawing, y downwards. Never what a label says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

LINE = 13
"""From one line of a label to the next."""
GAP = 5
"""Between two labels, at least."""
SIZE = 11
"""Of letters."""
_NARROW, _BROAD, _WIDE = frozenset("fijlrt.,:;'()- |"), frozenset("wGHMNOQU"), frozenset("mW%")


class Label(NamedTuple):
    """Lines of text in a box. `at` is the y of what it labels, `end` aligns to the right."""

    x: int
    y: int
    width: int
    lines: tuple[str, ...]
    at: int
    end: bool = False

    @property
    def middle(self) -> int:
        """The height of the box's middle."""
        return self.y + LINE * len(self.lines) // 2


def text_width(text: str, size: float = SIZE) -> float:
    """The width of a text, rather too large: measured for a wide sans-serif, DejaVu Sans."""
    return size * sum(map(_width, text))


def _width(c: str) -> float:
    if c in _NARROW:
        return 0.42
    return 0.98 if c in _WIDE else 0.88 if c in _BROAD else 0.64


def wrapped(text: str, width: int) -> Iterator[str]:
    """The text in lines that are no wider, broken at spaces only."""
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if line and text_width(longer) > width:
            yield line
            longer = word
        line = longer
    yield line


def stacked(heights: Sequence[int], wanted: Sequence[int], top: int, bottom: int) -> list[int]:
    """The upper edges of boxes one below the other, each as near to its wanted middle as possible.

    `wanted` rises. Boxes that would touch stand together around the mean of what they want. Between
    `top` and `bottom` there must be room for all of them, a GAP between each two.
    """
    # Without their heights and gaps boxes may stand at the same place, but not in another order:
    # the nearest such places are means over neighbours (pool-adjacent-violators).
    before = [sum(heights[:index]) + GAP * index for index in range(len(heights))]
    pools: list[tuple[float, int]] = []
    for height, middle, offset in zip(heights, wanted, before, strict=True):
        place, count = middle - height / 2 - offset, 1
        while pools and pools[-1][0] >= place:
            other, many = pools.pop()
            place, count = (place * count + other * many) / (count + many), count + many
        pools.append((place, count))
    most = bottom - sum(heights) - GAP * (len(heights) - 1)
    places = [min(max(round(place), top), most) for place, count in pools for _ in range(count)]
    return [place + offset for place, offset in zip(places, before, strict=True)]
