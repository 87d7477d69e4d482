"""A service that is asked in this process, as its server asks it (PEP 3333), and its requests."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass, field
from typing import Any
from wsgiref.util import setup_testing_defaults

import bundles

from orderlint.fhir.concept_map import OURS
from orderlint.rulebook.load import load
from orderlint.service.app import Service
from orderlint.service.checks import Checker
from orderlint.service.guards import own_hosts
from orderlint.service.pages import KeptPages

BASE = "http://127.0.0.1:8471"
INSTANCE = "7b1a9b0c-6f0e-4f4e-9a55-0d9f6f4a2c11"
AT = 1_772_487_000_000
"""Between start and review of the sample order."""


@dataclass
class Told:
    """What a service tells and keeps."""

    lines: list[str] = field(default_factory=list)
    faults: list[Exception] = field(default_factory=list)
    checked: list[Any] = field(default_factory=list)
    said: list[Any] = field(default_factory=list)
    can_keep: bool = True

    def request(self, line):
        self.lines.append(line)

    def fault(self, error):
        self.faults.append(error)

    def checks(self, checked):
        self.checked += checked

    def feedback(self, hook, said):
        self.said += [(hook, each) for each in said]
        return self.can_keep


def service(gate=None, origins=None, concept_map=OURS, clock=lambda: 0.0):
    """A service at BASE, with what it tells."""
    pages = KeptPages(clock)
    checker = Checker(
        load("order"), concept_map, lambda: AT, pages, lambda name: f"{BASE}/findings/{name}"
    )
    return Service(BASE, own_hosts(BASE), checker, gate, origins, Told())


@dataclass(frozen=True)
class Answer:
    """An answer as a client sees it."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self):
        return json.loads(self.body)

    @property
    def cards(self):
        return self.json["cards"]


def ask(asked, method="GET", path="/", body=b"", kind="application/json", **headers):
    """The answer to one request; `headers` are named as in HTTP, with underscores."""
    data = body if isinstance(body, bytes) else json.dumps(body).encode()
    environ = {
        "REQUEST_METHOD": method,
        "PATH_INFO": path,
        "CONTENT_LENGTH": str(len(data)),
        "CONTENT_TYPE": kind,
        "HTTP_HOST": BASE.removeprefix("http://"),
        "wsgi.input": io.BytesIO(data),
        **{f"HTTP_{name.upper()}": value for name, value in headers.items()},
    }
    setup_testing_defaults(environ)
    began = []
    parts = asked(environ, lambda status, named: began.append((status, dict(named))))
    ((status, named),) = began
    return Answer(int(status.split()[0]), named, b"".join(parts))


def request(orders, hook="order-sign", **more):
    """The request of a hook on these orders."""
    context = {"userId": "Practitioner/1", "patientId": "1", "draftOrders": orders}
    if hook == "order-select":
        context["selections"] = ["DeviceRequest/1"]
    said = {
        "hook": hook,
        "hookInstance": INSTANCE,
        "context": context,
    }
    return {**said, **more}


def sign(asked, orders, hook="order-sign", **headers):
    """The answer to a hook on these orders."""
    return ask(asked, "POST", f"/cds-services/{hook}", request(orders, hook), **headers)


def order(**changes):
    """A Bundle of the sample order; `changes` are settings by path, dots as two underscores."""
    whole = bundles.bundle()
    for name, text in changes.items():
        path = name.replace("__", ".")
        parameters = whole["entry"][0]["resource"]["parameter"]
        at = next(n for n, each in enumerate(parameters) if each["code"] == bundles.coded(path))
        parameters[at] = bundles.parameter(path, text)
    return whole


OTHER = {
    "resourceType": "Bundle",
    "type": "collection",
    "entry": [
        {
            "resource": {
                "resourceType": "MedicationRequest",
                "id": "7",
                "status": "draft",
                "intent": "order",
                "medicationCodeableConcept": {"text": "paracetamol 500 mg tablet"},
                "subject": {"reference": "Patient/1"},
            }
        }
    ],
}
"""Orders of which none is ours."""
