"""Makes SVG elements: values are escaped; no script, no style sheet, no reference.

Shapes only. Never a position.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from orderlint.report.picture.labels import SIZE
from orderlint.report.visible_text import safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

TEXT, QUIET, PAPER = "#1b1b1b", "#595959", "#ffffff"
"""The colours of words and lines, of the scales, and of what is behind them."""

_FONT = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif"


def svg_image(  # noqa: PLR0913, PLR0917 - a picture has a frame, a name and words
    name: str, title: str, words: Iterable[str], width: int, height: int, body: Iterable[str]
) -> str:
    """A whole picture on paper. `name`, letters and digits, begins its ids."""
    attributes = {
        "xmlns": "http://www.w3.org/2000/svg",
        "viewBox": f"0 0 {width} {height}",
        "width": width,
        "height": height,
        "role": "img",
        "aria-labelledby": f"{name}-title {name}-words",
        "font-family": _FONT,
        "fill": TEXT,
    }
    head = (
        tag("title", {"id": f"{name}-title"}, safe(title)),
        tag("desc", {"id": f"{name}-words"}, " ".join(map(safe, words))),
        rectangle(0, 0, width, height, PAPER),
    )
    return element("svg", attributes, (*head, *body))


def text_line(  # noqa: PLR0913, PLR0917 - a text has a place and a look
    x: float, y: float, text: str, color: str, anchor: str = "start", size: int = SIZE
) -> str:
    """A line of text; `y` is its base line."""
    look = {"fill": color, "text-anchor": anchor, "font-size": size}
    return tag("text", {"x": x, "y": y, **look}, safe(text))


def path(shape: str, **look: object) -> str:
    """A path; `look` are its attributes, with _ for -."""
    said = {key.replace("_", "-"): value for key, value in look.items()}
    return tag("path", {"d": shape, "fill": "none", **said})


def rectangle(x: float, y: float, width: float, height: float, fill: str) -> str:
    """A rectangle without an edge."""
    return tag("rect", {**sides(x, y, width, height), "fill": fill})


def sides(x: float, y: float, width: float, height: float) -> dict[str, float]:
    """The attributes that say where a rectangle is."""
    return {"x": x, "y": y, "width": width, "height": height}


def tag(name: str, attributes: Mapping[str, object], text: str = "") -> str:
    """An element with a text or nothing in it."""
    return element(name, attributes, [escape(text)] if text else [])


def element(name: str, attributes: Mapping[str, object], inside: Iterable[str]) -> str:
    """An element; `inside` is markup already."""
    said = "".join(f' {key}="{escape(str(value))}"' for key, value in attributes.items())
    body = "".join(inside)
    return f"<{name}{said}>{body}</{name}>" if body else f"<{name}{said}/>"
