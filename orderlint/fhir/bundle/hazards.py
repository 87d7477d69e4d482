"""What a request may not be, or not be alone: its status, intent, subject, conditions and times.

None of it is a setting, so that no rule on settings sees it. Never a value of a setting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.bundle.drug import FALSE, STOPPED, TIMED, only_as_needed, scalar_fault, unless
from orderlint.fhir.bundle.elements import left_over, whole_not_understood
from orderlint.fhir.bundle.requests import STATUSES
from orderlint.fhir.bundle.resources import BundleResources, earlier_of
from orderlint.fhir.codes import ORDER
from orderlint.field import casefold_spaces
from orderlint.finding import Fault, NotUnderstood
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.fhir.element import Element
    from orderlint.reading.node import Scalar

NO_ORDER, NOT_TO_BE_DONE = "fhir-intent-no-order", "fhir-not-to-be-done"
HELD, NOT_KEPT = "fhir-order-held", "fhir-entry-not-kept"
REPLACES = "fhir-replaces-order-in-force"
IN_ERROR = "entered-in-error"

INTENTS = frozenset({"order", "original-order", "reflex-order", "filler-order", "instance-order"})
"""The intents of a request that somebody is to carry out as it stands."""
DRUG_STATUSES = {**STATUSES, "stopped": "ended", "cancelled": "ended"}
"""Status of a MedicationRequest → of an order."""


def faults_of_request(resource: Element, names: ConceptMap) -> Iterator[Fault | NotUnderstood]:
    """What a DeviceRequest or ServiceRequest of ours may not be."""
    yield from faults_of_any(resource)
    status = resource.scalar("status")
    if status and status.text not in STATUSES:
        held = scalar_fault(HELD, status, "status")
        yield held._replace(spoils=("status",))
    yield from only_as_needed(resource)
    yield from unless(resource.section("occurrencePeriod"), "end", (), TIMED)
    own = resource.section("codeCodeableConcept") or resource.section("code")
    codes = own.items("coding") if own else ()
    if any(names.code_of(each.text("system"), each.text("code")) != ORDER for each in codes):
        yield whole_not_understood(own or resource, "has a code of something else")
    elif not codes:
        yield whole_not_understood(own or resource, "is not said to be such an order")
    shown = {casefold_spaces(each.text("display")) for each in codes}
    if own and own.text("text") and casefold_spaces(own.text("text")) not in shown:
        yield whole_not_understood(own, "is called by a text beside its code")


def faults_of_drug(resource: Element, main: Element) -> Iterator[Fault | NotUnderstood]:
    """What the drug part may not be beside the request with the settings."""
    yield from faults_of_any(resource)
    written, other = resource.scalar("status"), main.scalar("status")
    found = DRUG_STATUSES.get(written.text) if written else None
    status = STATUSES.get(other.text) if other else None
    if written is None or other is None:
        yield whole_not_understood(main if written else resource, "has no status", may_hold=False)
    elif found != status and (found in {None, "ended"} or status is not None):
        yield scalar_fault(STOPPED, written)
    times = [each.scalar("authoredOn") for each in (resource, main)]
    if times[0] and times[1] and parse_instant(times[0].text) != parse_instant(times[1].text):
        place, why = times[0].place, "is not when the settings were written"
        yield NotUnderstood(place.element, times[0].text, why, place, may_hold_setting=False)
    reasons = {casefold_spaces(each.text("text")) for each in main.items("reasonCode")}
    for reason in resource.items("reasonCode"):
        if reasons and casefold_spaces(reason.text("text")) not in reasons:
            yield whole_not_understood(reason, "is another reason than the order's")


def faults_of_any(resource: Element) -> Iterator[Fault | NotUnderstood]:
    """What no part of an order may be."""
    if resource.scalar("intent") is None:
        yield whole_not_understood(resource, "has no intent", may_hold=False)
    yield from unless(resource, "intent", INTENTS, NO_ORDER)
    subject = resource.section("subject")
    if subject is None or not _names_somebody(subject):
        yield whole_not_understood(resource, "has no subject", may_hold=False)
    yield from unless(resource, "doNotPerform", FALSE, NOT_TO_BE_DONE)


def _names_somebody(reference: Element) -> bool:
    identifier = reference.section("identifier")
    texts = (reference.text("reference"), reference.text("display"))
    return any(texts) or bool(identifier and identifier.text("value"))


def faults_of_record(resource: Element) -> Iterator[NotUnderstood]:
    """What keeps a resource from being all that there is to read."""
    narrative, meta = resource.section("text"), resource.section("meta")
    if narrative and narrative.text("status") not in _TOLD_WHOLE:
        yield whole_not_understood(narrative, "says more than the elements do")
    for tag in meta.items("tag") if meta else ():
        if tag.text("code") == "SUBSETTED":
            yield whole_not_understood(tag, "says that elements are left out")


_TOLD_WHOLE = frozenset({"generated", "empty"})


def faults_of_bundle(bundle: Element) -> Iterator[NotUnderstood]:
    """What keeps a Bundle from being all that there is to read, as another page of it does."""
    yield from faults_of_record(bundle)
    for link in bundle.items("link"):
        if link.text("relation") == "next":
            yield whole_not_understood(link, "says that there is more on another page")


def faults_of_entry(entry: Element) -> Iterator[Fault | NotUnderstood]:
    """What is to become of a resource, where that is not to be kept."""
    yield from left_over(entry, "Entry")
    if entry.section("resource") is None:
        yield whole_not_understood(entry, "has no resource")
    yield from unless(entry.section("request"), "method", {"PUT", "POST"}, NOT_KEPT)
    response = entry.section("response")
    status = response and response.scalar("status")
    if status and not status.text.startswith("2"):
        yield scalar_fault(NOT_KEPT, status)


def faults_of_earlier(resource: Element, parts: BundleResources) -> Iterator[Fault | NotUnderstood]:
    """The orders that this one replaces, where they are still in force or are not in the file."""
    for reference in earlier_of(resource):
        found = parts.target_of(reference)
        status: Scalar | None = found.resource.scalar("status") if found else None
        if status is None:
            why = "is an earlier order that is not in the file"
            yield whole_not_understood(reference, why, may_hold=False)
        elif DRUG_STATUSES.get(status.text) != "ended" and status.text != IN_ERROR:
            yield scalar_fault(REPLACES, status)
