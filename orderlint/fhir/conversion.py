"""What becomes of a document that is written in another form: the data that a report shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from orderlint.finding import NotUnderstood, Place


class ConvertedSetting(NamedTuple):
    """A setting as written in the document, its place, and the FHIRPath of each element of it.

    `path` is that of the setting in the order.
    """

    path: str
    written: str
    place: Place
    elements: tuple[str, ...]


class Conversion(NamedTuple):
    """The text of a document in the other form, and where each setting of it is from.

    `left` is what is in none of them, and stands in comments. `refused` says what keeps it from
    being written at all, a line each; `text` is empty then.
    """

    file: str
    text: str
    moved: tuple[ConvertedSetting, ...]
    left: tuple[NotUnderstood, ...] = ()
    refused: tuple[str, ...] = ()
