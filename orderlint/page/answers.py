"""An answer of the local page, before it is sent. Nothing of the network."""

from __future__ import annotations

from typing import NamedTuple

from orderlint.report.form.pages import ToldPage, told_page


class Answer(NamedTuple):
    """A status, what kind of text it is, and the text; `name` where it is a file to be saved."""

    text: str
    kind: str = "text/html"
    status: int = 200
    name: str = ""
    goes_to: str = ""


NOT_THERE = Answer("", status=404)


def told(page: ToldPage) -> Answer:
    """A tab that says why nothing is done yet."""
    return Answer(told_page(page))
