"""Calls of CDS Hooks 2.0: what a client sends at signing and choosing, and as feedback."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from service.client.orders import bundle, other, ours

if TYPE_CHECKING:
    from random import Random

    from service.client.orders import Resource

HOOKS = ("order-sign", "order-select")
Call = dict[str, Any]
PATIENT = {"resourceType": "Patient", "id": "p-1", "gender": "female", "birthDate": "1961-05-04"}


def call(hook: str, *orders: Resource, **members: Any) -> Call:
    """The least that the standard lets a client send about these drafts; members as given."""
    context: Call = {
        "userId": "Practitioner/pr-1",
        "patientId": "p-1",
        "draftOrders": bundle(*orders),
    }
    if hook == "order-select":
        chosen = [f"{one['resourceType']}/{one['id']}" for one in orders]
        context["selections"] = chosen
    made = {"hook": hook, "hookInstance": str(uuid.uuid4()), "context": context}
    return {**made, **members}


AUTHORIZATION = {
    "access_token": "an-invented-access-token",
    "token_type": "Bearer",
    "expires_in": 300,
    "scope": "user/Patient.read user/Observation.read",
    "subject": "cds-service",
}
ADDED: tuple[Call, ...] = (
    {},
    {"prefetch": {"patient": PATIENT}},
    {"prefetch": {"patient": PATIENT, "none": None}},
    {"prefetch": {}},
    {"fhirServer": "https://fhir.example/r4"},
    {"fhirServer": "https://fhir.example/r4", "fhirAuthorization": AUTHORIZATION},
    {
        "fhirServer": "https://fhir.example/r4",
        "fhirAuthorization": {**AUTHORIZATION, "patient": "p-1"},
        "prefetch": {"patient": PATIENT},
    },
    {"extension": {"com.example.timestamp": "2026-03-02T14:10:00Z"}},
    {"extension": {}},
    {"laterMember": {"of": ["another", "version", 3.0, None, True]}},
)


def drawn_call(draw: Random) -> tuple[Call, int]:
    """A call as clients make them, and how many orders of ours it is about."""
    hook = draw.choice(HOOKS)
    kinds = [draw.random() < 0.4 for _ in range(draw.choice((0, 1, 1, 1, 2, 3, 6)))]
    orders = [(ours if own else other)(draw, str(number)) for number, own in enumerate(kinds)]
    made = call(hook, *orders, **draw.choice(ADDED))
    if draw.random() < 0.5:
        made["context"]["encounterId"] = "e-1"
    if draw.random() < 0.2:
        made["context"]["laterMember"] = {"x": 1}
    if draw.random() < 0.2:
        made["context"]["userId"] = draw.choice(("PractitionerRole/r-1", "Patient/p-1"))
    return made, sum(kinds)


def feedback(card: str, outcome: str, reason: Any = None, comment: str | None = None) -> Call:
    """What a client tells of a card: `reason` is one of the card's override reasons."""
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    told: Call = {"card": card, "outcome": outcome, "outcomeTimestamp": now}
    if outcome == "accepted":
        told["acceptedSuggestions"] = [{"id": str(uuid.uuid4())}]
    why = {"reason": reason, "userComment": comment}
    why = {name: value for name, value in why.items() if value is not None}
    if outcome == "overridden" and why:
        told["overrideReason"] = why
    return told
