"""Answers requests: discovery, hooks, feedback, pages and health, as one WSGI function (PEP 3333).

Every request has an answer; what is refused is told no reason. Never a word about an order.
"""

from __future__ import annotations

import json
import time
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from orderlint.report.html import asset, digest_of
from orderlint.service.feedback import NotFeedbackError, read_feedback
from orderlint.service.guards import HEADERS, PREFLIGHT, allows, foreign, is_json, request_of
from orderlint.service.hooks import HOOKS, NotHookError, discovery, read_hook
from orderlint.service.routes import Route, route_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from wsgiref.types import StartResponse, WSGIEnvironment

    from orderlint.service.checks import Checked, Checker
    from orderlint.service.feedback import Feedback
    from orderlint.service.guards import Request
    from orderlint.service.hooks import Hook
    from orderlint.service.tokens import Gate


class Records(Protocol):
    """What is told and kept of requests: no token, and nothing of an order or of a patient."""

    def request(self, line: str) -> None:
        """A request was answered."""

    def fault(self, error: Exception) -> None:
        """The tool failed."""

    def checks(self, checked: Sequence[Checked]) -> None:
        """Orders were checked."""

    def feedback(self, hook: str, said: Sequence[Feedback]) -> bool:
        """A client says what became of cards; False where that cannot be kept."""


class Answer(NamedTuple):
    """A status and a body, with headers of its own."""

    status: int
    body: bytes = b""
    kind: str = "application/json"
    headers: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class Service:
    """The service as one WSGI function.

    `base` is the address at which clients find it, without a slash at its end. Without a `gate`
    nobody needs a token; then only this machine may ask, by one of the names `hosts`. `origins` are
    the pages of browsers that may call it, None where nobody is trusted.
    """

    base: str
    hosts: frozenset[str]
    checker: Checker
    gate: Gate | None
    origins: frozenset[str] | None
    records: Records

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        began = time.thread_time()
        request = request_of(environ)
        route = route_of(request.path)
        try:
            answer = self._answer(request, route, environ)
        except Exception as error:  # a crash must never look like an answer
            self.records.fault(error)
            answer = Answer(500)
        headers = {**HEADERS, **answer.headers, "Content-Length": str(len(answer.body))}
        if answer.body:
            headers["Content-Type"] = f"{answer.kind}; charset=utf-8"
        if request.origin and request.origin in (self.origins or ()):
            headers.update(allows(request.origin))
        start_response(_status_line(answer.status), [*headers.items()])
        spent = (time.thread_time() - began) * 1000
        self.records.request(f"{route.name} {answer.status} {spent:.1f} ms")
        return [answer.body]

    def _answer(self, request: Request, route: Route, environ: WSGIEnvironment) -> Answer:
        if refused := self._foreign(request, route):
            return Answer(refused)
        if not route.method:
            return Answer(404)
        if request.method == "OPTIONS" and request.origin:
            return Answer(204, headers=PREFLIGHT)
        if request.method != route.method:
            return Answer(405, headers={"Allow": route.method})
        if route.method == "GET":
            return self._get(route)
        if self.gate and not self.gate.admits(request.authorization, self.base + request.path):
            return Answer(401, headers={"WWW-Authenticate": "Bearer"})
        if not is_json(request):
            return Answer(415)
        body = environ["wsgi.input"].read(int(environ.get("CONTENT_LENGTH") or 0))
        hook = HOOKS[route.hook]
        return self._feedback(hook, body) if route.name == "feedback" else self._hook(hook, body)

    def _foreign(self, request: Request, route: Route) -> int | None:
        is_page = route.name == "findings"
        return foreign(request, self.hosts, self.origins, is_page=is_page)

    def _get(self, route: Route) -> Answer:
        if route.name == "discovery":
            return _json(discovery())
        if route.name == "health":
            return _json({"status": "ok"})
        page = self.checker.page(route.page)
        if page is None:
            return Answer(404)
        return Answer(200, page.encode(), "text/html", _page_headers())

    def _hook(self, hook: Hook, body: bytes) -> Answer:
        try:
            orders = read_hook(body, hook)
        except NotHookError:
            return Answer(400)
        answered = self.checker.cards(orders, is_drafted=hook.name == "order-select")
        self.records.checks([each.checked for each in answered])
        return _json({"cards": [each.card for each in answered]})

    def _feedback(self, hook: Hook, body: bytes) -> Answer:
        try:
            said = read_feedback(body)
        except NotFeedbackError:
            return Answer(400)
        return _json({}) if self.records.feedback(hook.name, said) else Answer(503)


def _json(said: Mapping[str, Any]) -> Answer:
    return Answer(200, json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode())


def _page_headers() -> dict[str, str]:
    style = f"style-src {digest_of(asset('page.css'))}"
    policy = f"default-src 'none'; {style}; frame-ancestors 'none'; base-uri 'none'"
    return {"Content-Security-Policy": f"{policy}; form-action 'none'; sandbox"}


def _status_line(status: int) -> str:
    return f"{status} {HTTPStatus(status).phrase}"
