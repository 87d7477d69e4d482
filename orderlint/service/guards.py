"""What the service refuses before it looks at a body: hosts, pages, methods, kinds of text.

Never what is answered, and never a token.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import urlsplit

from orderlint.page.guards import HEADERS as PAGE_HEADERS
from orderlint.page.guards import HOSTS

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_BYTES = 1_048_576
"""The most bytes of one request, as of one file."""
MOST_HEAD_BYTES = 16_384
"""The most bytes of a request's head: a token has some hundred."""
HEADERS: Mapping[str, str] = {
    **PAGE_HEADERS,
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'; base-uri 'none'",
}
"""What every answer says of itself; a page lets in its own style sheet besides."""


class HookRequest(NamedTuple):
    """The head of a request; what the client left out is ''."""

    method: str
    path: str
    host: str
    origin: str
    site: str
    kind: str
    encoding: str
    authorization: str


def request_of(environ: Mapping[str, object]) -> HookRequest:
    """The head of a request, as WSGI has it (PEP 3333)."""

    def said(name: str) -> str:
        return str(environ.get(name, ""))

    return HookRequest(
        said("REQUEST_METHOD"),
        said("PATH_INFO"),
        said("HTTP_HOST").lower(),
        said("HTTP_ORIGIN").lower(),
        said("HTTP_SEC_FETCH_SITE"),
        said("CONTENT_TYPE"),
        said("HTTP_CONTENT_ENCODING"),
        said("HTTP_AUTHORIZATION"),
    )


def own_hosts(base: str) -> frozenset[str]:
    """This machine, as a client on it may call it at the port of an address."""
    host = urlsplit(base)
    names = {*HOSTS, "[::1]"}
    return frozenset({host.netloc, *(f"{name}:{host.port}" for name in names)})


def foreign(
    request: HookRequest, hosts: frozenset[str], origins: frozenset[str] | None, *, is_page: bool
) -> int | None:
    """The status with which a request from elsewhere is refused; None if it may go on.

    `origins` are the pages that are trusted; None where nobody is. Then only this machine asks, by
    one of `hosts` (421 for another: a name can be bound anew to this machine), and no page of a
    browser does (403). A page of findings is opened by a link, so from anywhere.
    """
    if origins is None and request.host not in hosts:
        return 421
    if request.origin:
        return None if request.origin in (origins or ()) else 403
    return None if is_page or request.site in {"", "none", "same-origin"} else 403


def cors_headers(origin: str) -> dict[str, str]:
    """The headers by which a browser lets a trusted page read an answer (Fetch, CORS protocol)."""
    return {"Access-Control-Allow-Origin": origin, "Vary": "Origin"}


PREFLIGHT = {
    "Access-Control-Allow-Methods": "GET, POST",
    "Access-Control-Allow-Headers": "Authorization, Content-Type",
    "Access-Control-Max-Age": "600",
}
"""What a trusted page is told that it may send."""


def is_json(request: HookRequest) -> bool:
    """Whether a body is said to be plain JSON in UTF-8."""
    kind, *parameters = (part.strip().lower() for part in request.kind.split(";"))
    others = {part for part in parameters if part} - {"charset=utf-8", 'charset="utf-8"'}
    return kind == "application/json" and not others and request.encoding in {"", "identity"}
