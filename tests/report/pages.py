"""A page taken apart: its elements with their attributes, and the text that a reader gets."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

from orderlint.report.order.words import PICTURE

STRUCTURE = {"html", "head", "meta", "title", "style", "body", "main", "article", "section", "div"}
TEXTS = {
    "details",
    "summary",
    "h1",
    "h2",
    "h3",
    "p",
    "ul",
    "ol",
    "li",
    "dl",
    "dt",
    "dd",
    "span",
    "figure",
    "figcaption",
}
TABLES = {"table", "caption", "thead", "tbody", "tr", "th", "td"}
SHAPES = {"svg", "desc", "rect", "path", "circle", "text", "pattern"}
ALLOWED = STRUCTURE | TEXTS | TABLES | SHAPES
VOID = {"meta"}


@dataclass
class Page(HTMLParser):
    """What is on a page. `text` is what is said outside the style sheet, a part a node."""

    tags: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    styles: list[str] = field(default_factory=list)
    _open: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag, attrs):
        self._part(tag)
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        self._part(tag)
        assert self._open.pop() == tag

    def handle_data(self, data):
        (self.styles if self._open and self._open[-1] == "style" else self.texts).append(data)

    def handle_comment(self, data):
        raise AssertionError(f"a comment: {data}")

    def _part(self, tag):
        if tag != "span":
            self.texts.append(" ")

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())


def taken_apart(text: str) -> Page:
    """The page, which must be whole and hold nothing that acts, fetches or leads away."""
    page = Page()
    page.feed(text)
    page.close()
    assert not page._open
    new = {tag for tag, _ in page.tags} - ALLOWED
    assert not new, f"{new}: an element that no page had; if it does nothing, add it to ALLOWED"
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in page.tags:
        for name, value in attributes.items():
            assert not name.startswith("on")
            assert name not in {"href", "src", "style", "action", "srcdoc", "xlink:href"}, tag
            if name == "data-head":  # shown as text by the page's style, and read by nothing else
                continue
            for reference in re.findall(r"url\((.*?)\)", value or ""):
                assert reference.removeprefix("#") in ids
    assert_closed(page)
    return page


def assert_closed(page: Page) -> None:
    """Its policy lets nothing in but the one style sheet, and that fetches nothing."""
    (style,) = page.styles
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policies = [a["content"] for _, a in page.tags if "http-equiv" in a]
    assert policies == [
        f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    ]
    assert "url(" not in style
    assert "@import" not in style


def squeezed(text: str) -> str:
    """Letters and figures alone, so that layout and punctuation make no difference."""
    return "".join(c for c in text if c.isalnum())


def says_in_order(page: Page, report: str) -> None:
    """Each line of a report in text stands on the page, in the same order, but for its picture."""
    said, at = squeezed(page.text), 0
    drawn = re.compile(f"^{PICTURE}$.*?^$", re.MULTILINE | re.DOTALL)
    for line in filter(None, map(squeezed, drawn.sub("", report).splitlines())):
        found = said.find(line, at)
        assert found >= 0, line
        at = found + len(line)
