"""Self-contained HTML pages: what is known of a document put into the templates of pages/.

Every value is made safe and escaped but what is made here as markup. Never the words of a report.
The only import of jinja2.
"""

from __future__ import annotations

import base64
import functools
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from orderlint.report.escape import safe
from orderlint.report.layout import kept
from orderlint.report.order.words import not_checked_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Any

_PAGES = Path(__file__).parent / "pages"


class View(NamedTuple):
    """What one template of pages/ shows of one document."""

    template: str
    values: Mapping[str, Any]


def page(title: str, views: Iterable[View], unread: Iterable[str] = ()) -> str:
    """A page of these documents, and of why files were not checked; no script, and no request."""
    style = (_PAGES / "page.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    # The picture has attributes only, so that the one style sheet is all that must be let in.
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    shown = [{"template": view.template, **view.values} for view in views]
    return (
        _environment()
        .get_template("page.html")
        .render(
            # A title holds text alone: no element would be one there.
            title=escape(safe(title)),
            policy=policy,
            style=markup(style),
            views=shown,
            unread=[not_checked_words(reason) for reason in unread],
        )
        + "\n"
    )


def markup(text: str) -> Markup:
    """Text of our own making that is markup already. Never what comes from an input."""
    return Markup(text)


@functools.cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_PAGES),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _shown(value: object) -> Markup:
    """Markup as it is; all else made safe and escaped, each number kept with its unit."""
    if isinstance(value, Markup):
        return value
    # Elements, not no-break spaces: what is copied from a page must be fit to be typed.
    return markup(kept(str(escape(safe(str(value)))), '<span class="kept">', " ", "</span>"))
