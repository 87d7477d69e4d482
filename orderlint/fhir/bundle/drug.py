"""Reads the drug part of an order, a MedicationRequest and its Medication: what it says once more.

Never whether it agrees with the settings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.bundle.elements import (
    BYSTANDERS,
    faults_of_modifiers,
    left_over,
    whole_not_understood,
)
from orderlint.fhir.bundle.requests import Reading, RequestedSetting
from orderlint.fhir.bundle.resources import type_of, version_of
from orderlint.fhir.bundle.values import (
    not_plain,
    numerator,
    plain_text,
    quantity,
    ratio,
    shown_of,
)
from orderlint.fhir.element import Element, as_written, made
from orderlint.field import casefold_spaces
from orderlint.fields import field_table
from orderlint.finding import Fault, NotUnderstood

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from orderlint.reading.node import Scalar

RATE, FLUID, BAG = "irrigation.rate", "irrigation.fluid", "irrigation.bag"
DAILY_MAX = "irrigation.daily_max"
ADDITIVE, NAME = "irrigation.additive", "irrigation.additive.name"
CONCENTRATION = "irrigation.additive.concentration"

ROUTE, CONDITIONAL = "fhir-route-differs", "fhir-conditional"
TIMED, STOPPED = "fhir-time-not-held", "fhir-drug-part-not-in-force"
SUBSTITUTION, REPORTED = "fhir-substitution-allowed", "fhir-reported"

ROUTES = frozenset({"intraventricular", "intraventricular route", "ventricular irrigation"})
"""What a route is called by which the fluid of an order runs in."""
FORMS = frozenset({"solution", "irrigation solution", "solution for irrigation", "liquid"})
"""What the form of a fluid is called."""
FALSE = frozenset({"false"})
_A_DAY, _ONE = frozenset({"1 d", "1 day", "24 h"}), frozenset({"1"})


def fault_at(rule: str, element: Element, path: str = "", **details: str) -> Fault:
    """The fault of a whole element; `path` is the setting that it concerns."""
    return Fault(rule, path, as_written(element.node), element.place, details)


def scalar_fault(rule: str, scalar: Scalar, path: str = "") -> Fault:
    """The fault of one value."""
    return Fault(rule, path, scalar.text, scalar.place)


def unless(
    element: Element | None, key: str, allowed: Collection[str], rule: str, path: str = ""
) -> Iterator[Fault]:
    """The fault of the value under a JSON name, unless there is none or it is allowed."""
    scalar = element and element.scalar(key)
    if scalar and scalar.text not in allowed:
        yield scalar_fault(rule, scalar, path)


def drug_part(resource: Element, bag: Element | None) -> Iterator[Reading]:
    """What a MedicationRequest says of each setting, and what it may not say.

    `bag` is the Medication that it refers to, where that stands in the file by itself.
    """
    yield from _fluid(resource, bag)
    yield from _request_faults(resource)
    dosages = resource.items("dosageInstruction")
    for number, dosage in enumerate(dosages):
        if number:  # which no setting holds; what it says may contradict one all the same
            yield whole_not_understood(dosage, "is a second dosage")
        yield from _dosage(dosage)
        yield from _dosage_faults(dosage)


def _request_faults(resource: Element) -> Iterator[Reading]:
    yield from unless(resource, "reportedBoolean", FALSE, REPORTED)
    reporter = resource.section("reportedReference")
    if reporter:
        yield fault_at(REPORTED, reporter)
    substitution = resource.section("substitution")
    yield from unless(substitution, "allowedBoolean", FALSE, SUBSTITUTION, FLUID)


def _dosage(dosage: Element) -> Iterator[Reading]:
    for number, each in enumerate(dosage.items("doseAndRate")):
        if number:
            yield whole_not_understood(each, "is a second rate")
        amount, share = each.section("rateQuantity"), each.section("rateRatio")
        if amount:
            yield RequestedSetting(RATE, quantity(amount, RATE), by_drug=True)
        if share:
            yield RequestedSetting(RATE, ratio(share, RATE), by_drug=True)
    most = dosage.section("maxDosePerPeriod")
    if most:
        yield RequestedSetting(DAILY_MAX, numerator(most, DAILY_MAX, _A_DAY, "a day"), by_drug=True)


def only_as_needed(asked: Element) -> Iterator[Fault]:
    """What says of a request, or of a dosage, that it is to be carried out only as needed."""
    yield from unless(asked, "asNeededBoolean", FALSE, CONDITIONAL)
    condition = asked.section("asNeededCodeableConcept")
    if condition:
        yield fault_at(CONDITIONAL, condition)


def _dosage_faults(dosage: Element) -> Iterator[Reading]:
    yield from only_as_needed(dosage)
    for each in dosage.items("additionalInstruction"):
        words = [c.text("display") for c in each.items("coding")]
        if not (each.text("text") or (words and all(words))):
            yield whole_not_understood(each, "says nothing in words")
    timing = dosage.section("timing")
    if timing:
        yield fault_at(TIMED, timing)
    route = dosage.section("route")
    if route and not {casefold_spaces(text) for text in _shown(route)} <= ROUTES:
        yield fault_at(ROUTE, route)


def _shown(concept: Element) -> list[str]:
    """What a concept says in words: its text, and what is shown with each code."""
    text = concept.scalar("text")
    return [*([text.text] if text else []), *map(shown_of, concept.items("coding"))]


def _fluid(resource: Element, bag: Element | None) -> Iterator[Reading]:
    concept = resource.section("medicationCodeableConcept")
    if concept:
        yield from _names_of(concept)
    reference = resource.section("medicationReference")
    if reference is None:
        if concept is None:
            yield whole_not_understood(resource, "names no fluid")
        return
    found = inner_medication(resource) or bag
    if found is None:
        yield whole_not_understood(reference, "is a medication that is not in the file")
        return
    if found != bag:
        yield from left_over(found, "Medication")
    yield from _named_otherwise(reference, found)
    yield from medication(found)
    name = reference.scalar("display")
    if name:
        yield from _also_named(name, found.section("code"), reference)


def _named_otherwise(reference: Element, found: Element) -> Iterator[Reading]:
    """Where a reference names another type or version than the Medication that it leads to."""
    if not {type_of(reference), reference.text("type")} <= {"", "Medication"}:
        yield whole_not_understood(reference, "names what is no medication")
    version, meta = version_of(reference), found.section("meta")
    if version and version != (meta.text("versionId") if meta else ""):
        yield whole_not_understood(reference, "names another version than is in the file")


def inner_medication(resource: Element) -> Element | None:
    """The medication that a request contains and refers to; None where that is something else."""
    reference = resource.section("medicationReference")
    name = reference.text("reference") if reference else ""
    contained = resource.items("contained")
    found = next((each for each in contained if name and name == f"#{each.text('id')}"), None)
    return found if found and found.resource_type == "Medication" else None


def medication(resource: Element) -> Iterator[Reading]:
    """What a Medication says of fluid, bag and additive."""
    yield from unless(resource, "status", {"active"}, STOPPED, FLUID)
    concept, amount = resource.section("code"), resource.section("amount")
    form = resource.section("form")
    if form and not {casefold_spaces(text) for text in _shown(form)} <= FORMS:
        yield whole_not_understood(form, "is not known to be a fluid")
    if concept:
        yield from _names_of(concept)
    else:
        yield whole_not_understood(resource, "names no fluid")
    if amount:
        yield RequestedSetting(BAG, numerator(amount, BAG, _ONE), by_drug=True)
    drugs = [each for each in resource.items("ingredient") if not _is_fluid(each, concept)]
    for number, each in enumerate(drugs):
        if number:
            yield whole_not_understood(each, "is a second additive")
        else:
            yield from _ingredient(each)
    if not drugs:
        yield RequestedSetting(ADDITIVE, made("none", resource.place), by_drug=True)


def _names_of(concept: Element) -> Iterator[Reading]:
    """The fluid by its text; a code beside it says the same, or it is not understood."""
    shown = [c.scalar("display") or c.scalar("code") for c in concept.items("coding")]
    names = [each for each in (concept.scalar("text"), *shown) if each]
    if not names:
        yield whole_not_understood(concept, "names no fluid in words")
        return
    yield RequestedSetting(FLUID, plain_text(names[0], FLUID), by_drug=True)
    for each in names[1:]:
        yield from _also_named(each, concept, concept)


def _also_named(name: Scalar, concept: Element | None, whole: Element) -> Iterator[Reading]:
    """Another name of a fluid: it is that of its concept, or one that reads as a fluid."""
    field = field_table().fields[FLUID]
    if concept and casefold_spaces(name.text) == casefold_spaces((_shown(concept) or [""])[0]):
        return
    if field.choice_of(name.text) in {None, field.otherwise}:
        yield whole_not_understood(whole, "has another name beside its text")
    else:
        yield RequestedSetting(FLUID, plain_text(name, FLUID), by_drug=True)


def _is_fluid(ingredient: Element, concept: Element | None) -> bool:
    """Whether an ingredient is the fluid itself, which carries the additive."""
    item = ingredient.section("itemCodeableConcept")
    named = set(map(casefold_spaces, _shown(item))) if item else set()
    fluid = set(map(casefold_spaces, _shown(concept))) if concept else set()
    is_carrier = ingredient.text("isActive") == "false" and not ingredient.section("strength")
    return is_carrier and bool(named) and named <= fluid


def _ingredient(element: Element) -> Iterator[Reading]:
    item, strength = element.section("itemCodeableConcept"), element.section("strength")
    names = [*item.items("coding")] if item else []
    text = item and item.scalar("text")
    shown = text or next((name for c in names if (name := c.scalar("display"))), None)
    no_name = "names no drug in words"
    value = plain_text(shown, NAME) if shown else not_plain(NAME, element, no_name)
    yield RequestedSetting(NAME, value, by_drug=True)
    if strength:
        yield RequestedSetting(CONCENTRATION, ratio(strength, CONCENTRATION), by_drug=True)
    if element.text("isActive") == "false":
        yield whole_not_understood(element, "is called inactive")
    if text and {casefold_spaces(shown_of(c)) for c in names} - {casefold_spaces(text.text)}:
        yield whole_not_understood(element, "has a code beside its text")


def surprises(resource: Element) -> Iterator[NotUnderstood | Fault]:
    """What a request contains beside its medication and those who act."""
    is_drug = resource.resource_type == "MedicationRequest"
    own = inner_medication(resource) if is_drug else None
    for each in resource.items("contained"):
        if own and each.path == own.path:
            continue
        if each.resource_type in BYSTANDERS:
            yield from faults_of_modifiers(each.node, each.path)
        else:
            yield whole_not_understood(each, "is contained, and is not understood")
