"""Draws the picture of an order as SVG, to stand alone or inside a page.

Positions come from drawing.py. Every text is escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.picture import drawing as places
from orderlint.report.picture import shapes
from orderlint.report.picture.labels import LINE, Label
from orderlint.report.picture.segment_kinds import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.report.picture.drawing import Band, Drawing

_TITLE = "What the controller would do, by ICP"
_WITHOUT = "Levels of the order"
# A tile of 8 by 8 for each pattern, in its ink.
_TILES = {
    "rising": '<path d="M-1 1L1 -1M-1 9L9 -1M7 9L9 7" {thick}/>',
    "falling": '<path d="M-1 7L1 9M-1 -1L9 9M7 -1L9 1" {line}/>',
    "crossed": '<path d="M0 0L8 8M8 0L0 8" {thick}/>',
    "broken": '<path d="M1 7L4 4" {line}/>',
    "drops": '<path d="M2 1V5M6 5V8M6 0V1" {line}/>',
    "lines": '<path d="M0 2H8M0 6H8" {line}/>',
    "dashes": '<path d="M1 3H5" {line}/>',
    "dots": '<circle cx="4" cy="4" r="0.9" fill="{ink}"/>',
    "rings": '<circle cx="4" cy="4" r="2.2" fill="none" {line}/>',
}
_STROKES = {
    "pause.upper": {"stroke_width": "2.5"},
    "pause.lower": {"stroke_width": "2.5"},
    "treat_above": {"stroke_width": "1.5"},
    "drainage.height": {"stroke_width": "1.5", "stroke_dasharray": "5 3"},
}


def svg(picture: Drawing, name: str) -> str:
    """The picture as one element. `name`, letters and digits, begins its ids."""
    body = (
        *_patterns(picture, name),
        *(_band(band, name) for band in picture.bands),
        *_frame(picture),
        *_normal(picture),
        *(part for path, y in picture.lines.items() for part in _line(path, y)),
        *(_leader(label) for label in picture.levels),
        *_braces(picture),
        *(part for label in (*picture.levels, *picture.segments) for part in _label(label)),
        *_numbers(picture),
        *_note(picture),
    )
    title = _TITLE if picture.bands else _WITHOUT
    return shapes.svg_image(name, title, picture.description, places.WIDTH, picture.height, body)


def swatch(kind: str, name: str) -> str:
    """A small field that looks as the segments of this kind do in the picture `name`."""
    attributes = {
        "class": "swatch",
        "viewBox": "0 0 24 16",
        "width": "24",
        "height": "16",
        "aria-hidden": "true",
    }
    fill = shapes.rectangle(0.5, 0.5, 23, 15, STYLES[kind].fill)
    return shapes.element("svg", attributes, (fill, _patterned(0.5, 0.5, 23, 15, kind, name)))


def _patterns(picture: Drawing, name: str) -> Iterator[str]:
    for kind in dict.fromkeys(band.kind for band in picture.bands):
        look = STYLES[kind]
        line, thick = (f'stroke="{look.ink}" stroke-width="{width}"' for width in ("1.1", "2"))
        tile = _TILES[look.pattern].format(ink=look.ink, line=line, thick=thick)
        attributes = {
            "id": f"{name}-{look.pattern}",
            "width": "8",
            "height": "8",
            "patternUnits": "userSpaceOnUse",
        }
        yield shapes.element("pattern", attributes, (tile,))


def _band(band: Band, name: str) -> str:
    left, right = places.BAND
    around = (left, band.top, right - left, band.bottom - band.top)
    fill = shapes.rectangle(*around, STYLES[band.kind].fill)
    return fill + _patterned(*around, band.kind, name)


def _patterned(  # noqa: PLR0913, PLR0917 - a rectangle has four sides
    x: float, y: float, width: float, height: float, kind: str, name: str
) -> str:
    attributes = {
        **shapes.sides(x, y, width, height),
        "fill": f"url(#{name}-{STYLES[kind].pattern})",
        "stroke": shapes.TEXT,
        "stroke-width": "1",
    }
    return shapes.tag("rect", attributes)


def _frame(picture: Drawing) -> Iterator[str]:
    """Without segments the axis is an empty strip."""
    left, right = places.BAND
    top, bottom = picture.axis
    if not picture.bands:
        around = shapes.sides(left, top, right - left, bottom - top)
        yield shapes.tag("rect", {**around, "fill": "none", "stroke": shapes.TEXT})
    if picture.to_scale:
        first, second = picture.units
        yield shapes.text_line(places.NUMBERS[0], places.UNITS_LINE, first, shapes.QUIET, "end")
        yield shapes.text_line(places.NUMBERS[1], places.UNITS_LINE, second, shapes.QUIET)


def _normal(picture: Drawing) -> Iterator[str]:
    if picture.normal:
        top, bottom = picture.normal
        x = places.BRACKET
        shape = f"M{x + 3} {top}H{x}V{bottom}H{x + 3}"
        yield shapes.path(shape, stroke=shapes.QUIET, stroke_width=2)


def _line(path: str, y: int) -> Iterator[str]:
    left, right = places.BAND
    shape = f"M{places.BRACKET} {y}H{right + 3}"
    yield shapes.path(shape, stroke=shapes.TEXT, **_STROKES[path])
    if path == "drainage.height":  # the mark of a level that is set by hand, on a pole
        yield shapes.path(f"M{left} {y}l-7 -4v8z", fill=shapes.TEXT)


def _leader(label: Label) -> str:
    start = places.LEFT[1] + 3
    shape = f"M{start} {label.middle}L{places.BRACKET} {label.at}"
    return shapes.path(shape, stroke=shapes.QUIET)


def _braces(picture: Drawing) -> Iterator[str]:
    """From each segment, as high as it is drawn, to its label."""
    x = places.BRACE
    for band, label in zip(reversed(picture.bands), picture.segments, strict=True):
        ends = f"M{x - 3} {band.top + 2}H{x}V{band.bottom - 2}H{x - 3}"
        leader = f"M{x} {label.at}L{places.RIGHT[0] - 3} {label.middle}"
        yield shapes.path(ends + leader, stroke=shapes.QUIET)


def _label(label: Label) -> Iterator[str]:
    x = label.x + label.width if label.end else label.x
    for index, line in enumerate(label.lines):
        baseline = label.y + LINE * index + LINE - 3
        yield shapes.text_line(x, baseline, line, shapes.TEXT, "end" if label.end else "start")


def _numbers(picture: Drawing) -> Iterator[str]:
    for number in picture.numbers:
        x = places.NUMBERS[0 if number.left else 1]
        anchor = "end" if number.left else "start"
        yield shapes.text_line(
            x, number.y + 4, number.text, shapes.QUIET, anchor, places.NUMBER_SIZE
        )
        edge = places.BAND[0] - 4 if number.left else places.BAND[1]
        yield shapes.path(f"M{edge} {number.y}h4", stroke=shapes.QUIET)


def _note(picture: Drawing) -> Iterator[str]:
    if not picture.to_scale:
        y = picture.height - 6
        yield shapes.text_line(places.WIDTH // 2, y, places.NOT_TO_SCALE, shapes.QUIET, "middle")
