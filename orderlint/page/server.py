"""Serves the local page: HTTP on 127.0.0.1, guarded, with headers that let nothing else in.

Reads requests and writes answers. Never what an answer says.
"""

from __future__ import annotations

import http.server
import secrets
import socketserver
import threading
from typing import TYPE_CHECKING, Any

from orderlint.page.form_answers import SiteForm
from orderlint.page.guards import HEADERS, MOST_RETURNED, TOO_LARGE, PageRequest, refusal
from orderlint.page.opening import OWN, SiteNames
from orderlint.page.sent import PageResponse, read_sent
from orderlint.page.site import Site
from orderlint.report.form.pages import content_security_policy

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from orderlint import SitePolicy

_MOST_AT_ONCE = 8
_FORMS = frozenset({"", "open", "row", "before", "empty", "order.yaml", "sheet", "readback"})
"""What the form is sent to, with a file if one is chosen."""
_LONGEST_WAIT = 10
"""Seconds that a client may let us wait for the next bytes of a request."""


class PageServer(socketserver.ThreadingMixIn, http.server.HTTPServer):
    """The page under a new key. `address` is where a browser finds it.

    OSError where the port is in use. `port` 0 takes any that is free.
    """

    daemon_threads = True
    # INVARIANT: another program cannot share the port, and be taken for the page.
    allow_reuse_address = False

    def __init__(
        self,
        port: int,
        policy: SitePolicy | None,
        now: Callable[[], int],
        names: SiteNames = OWN,
    ) -> None:
        super().__init__(("127.0.0.1", port), _Handler)
        self.key = secrets.token_urlsafe(24)
        self.site = Site(SiteForm(f"/{self.key}/", policy, now, names))
        self.at_once = threading.BoundedSemaphore(_MOST_AT_ONCE)

    @property
    def address(self) -> str:
        """The page, with its key."""
        return f"http://127.0.0.1:{self.server_port}/{self.key}/"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing: a client that went away is no fault of ours, and its texts are private."""


class _Handler(http.server.BaseHTTPRequestHandler):
    server: PageServer
    timeout = _LONGEST_WAIT
    server_version, sys_version = "orderlint", ""

    def do_GET(self) -> None:
        """Answer a request."""
        self._respond()

    def do_POST(self) -> None:
        """Answer a request with a body."""
        self._respond()

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - its own
        """Write nothing: a path has the key in it."""

    def _respond(self) -> None:
        headers = {name.lower(): value for name, value in self.headers.items()}
        request = PageRequest(self.command, self.path, headers)
        refused = refusal(request, self.server.server_port, self.server.key)
        site, is_returned = self.server.site, refused == TOO_LARGE and self._is_returned(headers)
        if refused is not None and not is_returned:
            self.close_connection = True
            self._write(PageResponse("", status=refused))
            return
        length = int(headers.get("content-length", "0")) if self.command == "POST" else 0
        body, kind = self.rfile.read(length), headers.get("content-type", "")
        path = self.path.removeprefix(site.form.base).partition("?")[0]
        with self.server.at_once:
            try:
                if is_returned:
                    answer = site.form.too_large(read_sent(body, kind))
                else:
                    answer = site.answer(self.command, path, body, kind)
            except Exception:
                answer = PageResponse("", status=500)
        self._write(answer)

    def _is_returned(self, headers: Mapping[str, str]) -> bool:
        """Whether a file that is too large is read, so that the form it came with can come back."""
        length = headers["content-length"]
        is_some = len(length) <= len(str(MOST_RETURNED)) and int(length) <= MOST_RETURNED
        base = self.server.site.form.base
        return is_some and self.path.startswith(base) and self.path.removeprefix(base) in _FORMS

    def _write(self, answer: PageResponse) -> None:
        data = answer.text.encode()
        self.send_response(answer.status)
        self.send_header("Content-Type", f"{answer.kind}; charset=utf-8")
        self.send_header("Content-Length", str(len(data)))
        self.send_header("Content-Security-Policy", content_security_policy())
        for name, value in HEADERS.items():
            self.send_header(name, value)
        if answer.name:
            self.send_header("Content-Disposition", f'attachment; filename="{answer.name}"')
        if answer.goes_to:
            self.send_header("Location", answer.goes_to)
        self.end_headers()
        self.wfile.write(data)
