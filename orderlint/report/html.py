"""Renders blocks as one HTML page: no script, no request, one style sheet allowed by its digest.

pages/blocks.html has a macro for each kind of block. Every value is escaped except markup that is
made here. Never the words of a report. The only import of jinja2.
"""

from __future__ import annotations

import base64
import functools
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup, escape

from orderlint.report.blocks import Marked
from orderlint.report.picture.drawing import drawing_of, drawings_of
from orderlint.report.picture.svg import svg, swatch
from orderlint.report.visible_text import safe
from orderlint.report.words import LEVELS, file_not_checked_words
from orderlint.report.wrapping import mark_quantities

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from orderlint.report import blocks as b
    from orderlint.report.unchecked_files import Unread

_PAGES = Path(__file__).parent / "pages"


def page(title: str, reports: Iterable[Iterable[b.Block]], unread: Iterable[Unread] = ()) -> str:
    """A page of these reports, and of the files that were not checked; ends in a line feed."""
    style = asset("page.css")
    # The picture has attributes only, so that the one style sheet is all that must be let in.
    style_source = f"style-src {csp_source(style)}"
    policy = f"default-src 'none'; {style_source}; base-uri 'none'; form-action 'none'"
    return (
        _environment(_shown)
        .get_template("page.html")
        .render(
            # A title holds text alone: no element would be one there.
            title=escape(safe(title)),
            policy=policy,
            style=Markup(style),
            reports=reports,
            unread=[file_not_checked_words(str(item)) for item in unread],
        )
        + "\n"
    )


def _show(blocks: Iterable[b.Block]) -> Markup:
    """Blocks one after another, each by the macro of its name."""
    macros = _environment(_shown).get_template("blocks.html").module
    shown = (str(getattr(macros, type(block).__name__)(block)).strip() for block in blocks)
    return Markup("\n").join(map(Markup, filter(None, shown)))


def fragment(blocks: Iterable[b.Block]) -> str:
    """Blocks alone, to stand in a page of another's making."""
    return str(_show(blocks))


def template(name: str) -> Template:
    """A page that is no report, from pages/; all that it is given is escaped, and no more."""
    return _environment().get_template(name)


def csp_source(text: str) -> str:
    """The source by which a content security policy lets in this style sheet or script alone."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


@functools.cache
def asset(name: str) -> str:
    """A style sheet or script of pages/, as its file has it."""
    return (_PAGES / name).read_text(encoding="utf-8")


def _pair(block: b.Pictures) -> list[tuple[str, Markup]]:
    """Pictures to one scale, each with its caption; one alone if all are equal."""
    (_, first), *others = block.diagrams
    shown = block.diagrams if any(diagram != first for _, diagram in others) else block.diagrams[:1]
    drawn = [(caption, diagram) for caption, diagram in shown if diagram]
    pictures = drawings_of([diagram for _, diagram in drawn]) if drawn else ()
    return [
        (caption, Markup(svg(picture, f"{block.name}{index}")))
        for index, ((caption, _), picture) in enumerate(zip(drawn, pictures, strict=True))
    ]


def _timeline(block: b.Timeline) -> Markup | None:
    from orderlint.report.picture.plan_timeline import timeline_of, timeline_svg  # noqa: PLC0415 - rare

    timeline = timeline_of(block.plan)
    return Markup(timeline_svg(timeline, "plan")) if timeline else None


def _monthly(block: b.Monthly) -> Markup:
    from orderlint.report.picture.audit_shares import monthly_svg  # noqa: PLC0415 - for audits alone

    return Markup(monthly_svg(block))


def _bar(bar: b.Bar) -> Markup:
    from orderlint.report.picture.audit_shares import bar_svg  # noqa: PLC0415 - for audits alone

    return Markup(bar_svg(bar))


@functools.cache
def _environment(finalize: Callable[[object], object] | None = None) -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_PAGES),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finalize,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        {
            "show": _show,
            "picture": lambda block: Markup(svg(drawing_of(block.diagram), block.name)),
            "pair": _pair,
            "timeline": _timeline,
            "monthly": _monthly,
            "bar": _bar,
            "swatch": lambda kind, name: Markup(swatch(kind, name)),
            "levels": LEVELS,
        }
    )
    return environment


def _shown(value: object) -> Markup:
    """Leave markup as it is; escape all else, and keep each number with its unit."""
    if isinstance(value, Markup):
        return value
    text = str(value)
    if isinstance(value, Marked):
        text = f"{value.label or LEVELS[value.level]}: {value.text}"
    # Elements, not no-break spaces: what is copied from a page must be fit to be typed.
    return Markup(mark_quantities(str(escape(safe(text))), '<span class="kept">', " ", "</span>"))
