"""What the local page refuses, before anything of a request is read. Never what it answers."""

from __future__ import annotations

import hmac
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_BYTES = 300_000
"""The most bytes of one request: an order has some thousand."""
MOST_RETURNED = 8 * 1024 * 1024
"""The most bytes of a file that is too large to be opened, but for which the form comes back."""
TOO_LARGE = 413
HOSTS = ("127.0.0.1", "localhost")
HEADERS: Mapping[str, str] = {
    "Cache-Control": "no-store",
    # `no-referrer` would make a browser send `Origin: null` with the page's own form.
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
"""What every answer says of itself."""


class PageRequest(NamedTuple):
    """The head of a request; `headers` by their names in lower case."""

    method: str
    path: str
    headers: Mapping[str, str]


def refusal(request: PageRequest, port: int, key: str) -> int | None:
    """The status with which a request is refused; None if it is answered.

    421 for another host (a name that was bound anew to this machine), 403 from another page, 405
    for a method that the page does not use, 411 and 413 for a body of no or too great a length,
    404 without the key in the path.
    """
    headers = request.headers
    own = {f"{host}:{port}" for host in HOSTS}
    if headers.get("host", "") not in own:
        return 421
    if headers.get("origin", f"http://{HOSTS[0]}:{port}") not in {f"http://{host}" for host in own}:
        return 403
    if headers.get("sec-fetch-site", "none") not in {"none", "same-origin"}:
        return 403
    if request.method not in {"GET", "POST"}:
        return 405
    if request.method == "POST" and (refused := _length_refused(headers)):
        return refused
    given = request.path.split("/")[1] if request.path.startswith("/") else ""
    return None if hmac.compare_digest(given.encode(), key.encode()) else 404


def _length_refused(headers: Mapping[str, str]) -> int | None:
    length = headers.get("content-length", "")
    if not (length.isascii() and length.isdigit()) or "transfer-encoding" in headers:
        return 411
    return TOO_LARGE if len(length) > 7 or int(length) > MOST_BYTES else None
