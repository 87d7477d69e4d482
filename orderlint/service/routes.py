"""Finds what a path asks for. Never who asks, and never an answer."""

from __future__ import annotations

from typing import NamedTuple

from orderlint.service.hooks import HOOKS

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
