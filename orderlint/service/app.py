"""Answers requests: discovery, hooks, feedback, pages and health, as one WSGI function (PEP 3333).

Every request has an answer; what is refused is told no reason. Never a word about an order.
"""

from __future__ import annotations

import json
import time
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from orderlint.report.html import asset, csp_source
from orderlint.service.guards import HEADERS, PREFLIGHT, cors_headers, foreign, is_json, request_of
from orderlint.service.hooks import HOOKS, NotReadError, discovery, read_feedback, read_hook

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from wsgiref.types import StartResponse, WSGIEnvironment

    from orderlint.service.checks import CheckedOrder, Checker
    from orderlint.service.guards import HookRequest
    from orderlint.service.hooks import Feedback, Hook
    from orderlint.service.tokens import TokenGate

SERVICES = "/cds-services"
PAGES = "/findings/"


class Route(NamedTuple):
    """What is asked for, by a name that tells nothing of its address; by which method.

    `hook` is the id of a service, `page` the name of a page; '' elsewhere.
    """

    name: str
    method: str
    hook: str = ""
    page: str = ""


NOWHERE = Route("nothing", "")
_PLAIN = {SERVICES: Route("discovery", "GET"), "/health": Route("health", "GET")}


def route_of(path: str) -> Route:
    """What a path asks for; NOWHERE, without a method, if there is nothing."""
    if path.startswith(PAGES):
        return Route("findings", "GET", page=path.removeprefix(PAGES))
    hook = path.removeprefix(f"{SERVICES}/").removesuffix("/feedback")
    if hook in HOOKS and path == f"{SERVICES}/{hook}":
        return Route(hook, "POST", hook)
    if hook in HOOKS and path == f"{SERVICES}/{hook}/feedback":
        return Route("feedback", "POST", hook)
    return _PLAIN.get(path, NOWHERE)


class Records(Protocol):
    """What is told and kept of requests: no token, and nothing of an order or of a patient."""

    def request(self, line: str) -> None:
        """A request was answered."""

    def fault(self, error: Exception) -> None:
        """The tool failed."""

    def checks(self, checked: Sequence[CheckedOrder]) -> None:
        """Orders were checked."""

    def feedback(self, hook: str, said: Sequence[Feedback]) -> bool:
        """A client says what became of cards; False where that cannot be kept."""


class HookResponse(NamedTuple):
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
    gate: TokenGate | None
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
            answer = HookResponse(500)
        headers = {**HEADERS, **answer.headers, "Content-Length": str(len(answer.body))}
        if answer.body:
            headers["Content-Type"] = f"{answer.kind}; charset=utf-8"
        if request.origin and request.origin in (self.origins or ()):
            headers.update(cors_headers(request.origin))
        status = HTTPStatus(answer.status)
        start_response(f"{status.value} {status.phrase}", [*headers.items()])
        spent = (time.thread_time() - began) * 1000
        self.records.request(f"{route.name} {answer.status} {spent:.1f} ms")
        return [answer.body]

    def _answer(self, request: HookRequest, route: Route, environ: WSGIEnvironment) -> HookResponse:
        is_page = route.name == "findings"
        if refused := foreign(request, self.hosts, self.origins, is_page=is_page):
            return HookResponse(refused)
        if not route.method:
            return HookResponse(404)
        if request.method == "OPTIONS" and request.origin:
            return HookResponse(204, headers=PREFLIGHT)
        if request.method != route.method:
            return HookResponse(405, headers={"Allow": route.method})
        if route.method == "GET":
            return self._get(route)
        if self.gate and not self.gate.admits(request.authorization, self.base + request.path):
            return HookResponse(401, headers={"WWW-Authenticate": "Bearer"})
        if not is_json(request):
            return HookResponse(415)
        body = environ["wsgi.input"].read(int(environ.get("CONTENT_LENGTH") or 0))
        hook = HOOKS[route.hook]
        try:
            return (
                self._feedback(hook, body) if route.name == "feedback" else self._hook(hook, body)
            )
        except NotReadError:
            return HookResponse(400)

    def _get(self, route: Route) -> HookResponse:
        if route.name == "discovery":
            return _json(discovery())
        if route.name == "health":
            return _json({"status": "ok"})
        page = self.checker.page(route.page)
        if page is None:
            return HookResponse(404)
        return HookResponse(200, page.encode(), "text/html", _page_headers())

    def _hook(self, hook: Hook, body: bytes) -> HookResponse:
        orders = read_hook(body, hook)
        answered = self.checker.cards(orders, is_drafted=hook.name == "order-select")
        self.records.checks([each.checked for each in answered])
        return _json({"cards": [each.card for each in answered]})

    def _feedback(self, hook: Hook, body: bytes) -> HookResponse:
        said = read_feedback(body)
        return _json({}) if self.records.feedback(hook.name, said) else HookResponse(503)


def _json(said: Mapping[str, Any]) -> HookResponse:
    return HookResponse(200, json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode())


def _page_headers() -> dict[str, str]:
    style = f"style-src {csp_source(asset('page.css'))}"
    policy = f"default-src 'none'; {style}; frame-ancestors 'none'; base-uri 'none'"
    return {"Content-Security-Policy": f"{policy}; form-action 'none'; sandbox"}
