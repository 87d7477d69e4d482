"""What a browser sends of a form, its texts by name and the file that was chosen; and an answer.

Forms as HTML has them: urlencoded (RFC 3986) and multipart (RFC 7578). Never what a text means, and
nothing of the network.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import parse_qsl

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

_MOST_FIELDS = 2000
_MULTIPART = re.compile(r'multipart/form-data;\s*boundary="?([0-9A-Za-z\'()+_,./:=? -]{1,70}?)"?$')
_NAME = re.compile(r'form-data; name="([^"]*)"(?:; filename="([^"]*)")?', re.IGNORECASE)


class PageResponse(NamedTuple):
    """A status, what kind of text it is, and the text; `name` where it is a file to be saved."""

    text: str
    kind: str = "text/html"
    status: int = 200
    name: str = ""
    goes_to: str = ""


NOT_THERE = PageResponse("", status=404)


class SentFile(NamedTuple):
    """A file as it was chosen: what it is called, and its bytes as they are."""

    name: str
    data: bytes


class Sent(NamedTuple):
    """A form; `file` is None where none was chosen. One that cannot be read has nothing."""

    texts: Mapping[str, str]
    file: SentFile | None = None


def read_sent(body: bytes, kind: str = "") -> Sent:
    """The form in `body`, whose media type is `kind`; urlencoded unless that says otherwise."""
    multipart = _MULTIPART.match(kind)
    try:
        return _of_parts(body, multipart[1].encode()) if multipart else Sent(_texts(body))
    except ValueError:
        return Sent({})


def _texts(body: bytes) -> dict[str, str]:
    pairs = parse_qsl(
        body.decode("ascii"),
        keep_blank_values=True,
        encoding="utf-8",
        errors="strict",
        max_num_fields=_MOST_FIELDS,
    )
    return dict(pairs)


def _of_parts(body: bytes, boundary: bytes) -> Sent:
    texts, file = {}, None
    for name, file_name, data in _parts(body, boundary):
        if file_name is None:
            texts[name] = data.decode("utf-8")
        elif file_name or data:
            file = SentFile(file_name, data)
    return Sent(texts, file)


def _parts(body: bytes, boundary: bytes) -> Iterator[tuple[str, str | None, bytes]]:
    """Name, name of a file and bytes of each part. Raises ValueError where it is not as written."""
    first, *parts = (b"\r\n" + body).split(b"\r\n--" + boundary)
    if first or len(parts) > _MOST_FIELDS or not parts or not parts.pop().startswith(b"--"):
        raise ValueError
    for part in parts:
        head, blank, data = part.partition(b"\r\n\r\n")
        named = _NAME.search(head.decode("utf-8"))
        if not blank or named is None:
            raise ValueError
        yield named[1], named[2], data
