"""Reads a Bundle of FHIR R4 into the orders of ours that it holds, with the place of each setting.

What is read becomes the document that a file of an order is; its own reader judges it. Nothing that
is not understood is dropped.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.bundle import drug, hazards
from orderlint.fhir.bundle.elements import BYSTANDERS, left_over, whole_not_understood
from orderlint.fhir.bundle.merged_settings import merged, numbers_in, without_zeros
from orderlint.fhir.bundle.patient_checks import (
    faults_of_age,
    faults_of_another,
    faults_of_bystander,
    faults_of_other_patients,
    faults_of_people,
)
from orderlint.fhir.bundle.requests import Reading, RequestedSetting, is_ours, settings_of
from orderlint.fhir.bundle.resources import (
    BundleResources,
    PlacedResource,
    group_of,
    grouped,
    parts_in,
)
from orderlint.fhir.bundle.texts_beside_settings import held_against_dosages, notes_not_understood
from orderlint.fhir.concept_map import OURS, ConceptMap
from orderlint.fhir.element import Element, made
from orderlint.fields import field_table
from orderlint.finding import Fault, NotUnderstood, Place, Refused
from orderlint.leaf_reader import read_leaf
from orderlint.order import Leaf, Note, Order, State
from orderlint.order_reader import read_order
from orderlint.reading import Document
from orderlint.reading.node import Scalar, Section, nest_paths
from orderlint.sentences.draft import absent_as_unreadable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence, Set


@dataclass(frozen=True, slots=True)
class BundleOrder:
    """An order of ours in a Bundle.

    `document` is the order as a file of one would be, of the settings that have a value;
    `places` says where each stands, first that of its value. `faults` are what only the Bundle
    can show, `notes` the free texts beside `instructions`, each with what it is called. `numbers`
    are the settings that no part has in a text. `refusal` is why it is no order, if it is none.
    """

    document: Document
    places: Mapping[str, tuple[Place, ...]]
    not_understood: tuple[NotUnderstood, ...]
    faults: tuple[Fault, ...]
    notes: tuple[tuple[str, Scalar], ...]
    numbers: frozenset[str] = frozenset()
    refusal: Refused | None = None


def orders_in(
    root: Section,
    file: str,
    concept_map: ConceptMap | None = None,
    *,
    alone: bool = True,
    patient: str = "",
) -> tuple[BundleOrder, ...]:
    """Every order of ours in a Bundle or a request, first to last; none if none is ours.

    `concept_map` says which codes of a site are which settings. With `alone`, the file is to hold
    one order and no other, and what belongs to none is not understood; else other requests are
    none of it. `patient` is the id of the one in whose record the orders stand, '' if nobody says.
    Raises Refused for a Bundle of a type that is not read.
    """
    names = concept_map or OURS
    parts = parts_in(root, file)
    ours = [part for part in parts.parts if is_ours(part.resource, names)]
    groups = grouped([part for part in ours if part.resource.path not in parts.replaced])
    whole = Element(root, "Bundle")
    is_bundle = whole.resource_type == "Bundle"
    around = (*left_over(whole, "Bundle"), *hazards.faults_of_bundle(whole)) if is_bundle else ()
    alone = alone and len(groups) == 1
    reader = _Reader(whole, file, parts, names, around, alone, patient)
    return tuple(reader.order(mains) for mains in groups)


def only_one(document: Document, concept_map: ConceptMap | None = None) -> BundleOrder:
    """What was read of the one order in a document of FHIR. Raises Refused where there is none, or
    another.
    """
    found = orders_in(document.root, document.file, concept_map)
    if len(found) != 1:
        what = "no order" if not found else f"{len(found)} orders"
        said = f"This resource holds {what} with the codes of these settings; one is wanted."
        raise Refused(said, document.root.place)
    return found[0]


def order_of(found: BundleOrder) -> Order:
    """The order in what was read of a Bundle. Raises Refused where that is no order.

    Where a setting may stand in what is not understood, one without a value is unreadable.
    """
    if found.refusal:
        raise found.refusal
    order = read_order(found.document)
    strange = (*found.not_understood, *notes_not_understood(found.notes, order))
    leaves = {p: without_zeros(e) if p in found.numbers else e for p, e in order.leaves.items()}
    for fault in found.faults:
        for path in fault.spoils:
            place = fault.place if path == fault.path else None
            text = fault.written if place else ""
            leaves[path] = Leaf(path, State.UNREADABLE, text=text, place=place)
    faults = sorted((*order.faults, *found.faults), key=lambda fault: (fault.place, fault.rule))
    field = field_table().fields["instructions"]
    notes = tuple(Note(name, read_leaf(field, scalar).leaf) for name, scalar in found.notes)
    order = replace(order, leaves=leaves, faults=tuple(faults), notes=notes, not_understood=strange)
    hides = any(each.may_hold_setting for each in strange)
    return absent_as_unreadable(order) if hides else order


class _Reader(NamedTuple):
    """The file that is read, its resources, and the codes of the settings.

    `around` is what is not understood of the Bundle itself. `alone` says that the file has one
    order, to which all that stands in it belongs. `patient` is the id of the one whose record it
    is, '' if nobody says.
    """

    whole: Element
    file: str
    parts: BundleResources
    names: ConceptMap
    around: tuple[NotUnderstood | Fault, ...]
    alone: bool
    patient: str

    def order(self, mains: Sequence[PlacedResource]) -> BundleOrder:
        """The order that these requests make, with its drug part."""
        drugs = self._drugs_of(mains)
        bags = [bag for part in drugs if (bag := self._medication_of(part))]
        own = [*mains, *drugs, *bags]
        told = [*self._said(mains, drugs)]
        readings = [
            *told,
            *_without_rate(told, drugs),
            *self._hazards(mains, drugs),
            *self._left_over(own),
            *self.around,
        ]
        said = [each for each in readings if isinstance(each, RequestedSetting)]
        agreed, notes = held_against_dosages(merged(said), own)
        readings += faults_of_age(own, self.parts, agreed.values)
        places: dict[str, list[Place]] = {}
        for each in said:
            places.setdefault(each.path, []).append(each.value.place)
        return BundleOrder(
            _document(self.file, agreed.values, mains[0].resource.place),
            {path: tuple(places[path]) for path in agreed.values},
            tuple(each for each in readings if isinstance(each, NotUnderstood)),
            (*agreed.faults, *(each for each in readings if isinstance(each, Fault))),
            notes,
            numbers_in(said),
            _refusal(mains),
        )

    def _said(
        self, mains: Sequence[PlacedResource], drugs: Sequence[PlacedResource]
    ) -> Iterator[Reading]:
        """What each part says of the settings."""
        kinds = [part.resource.resource_type for part in mains]
        for number, part in enumerate(mains):
            if kinds[number] in kinds[:number]:
                yield whole_not_understood(part.resource, "is the same kind of request again")
            yield from settings_of(part.resource, self.names)
        for number, part in enumerate(drugs):
            if number:
                yield whole_not_understood(part.resource, "is a second drug part")
            bag = self._medication_of(part)
            yield from drug.drug_part(part.resource, bag.resource if bag else None)

    def _hazards(
        self, mains: Sequence[PlacedResource], drugs: Sequence[PlacedResource]
    ) -> Iterator[Reading]:
        """What the parts may not be."""
        requests = [part.resource for part in (*mains, *drugs)]
        for part in mains:
            yield from hazards.faults_of_request(part.resource, self.names)
        for part in drugs:
            yield from hazards.faults_of_drug(part.resource, mains[0].resource)
        for each in requests:
            yield from hazards.faults_of_earlier(each, self.parts)
        yield from faults_of_people(requests, self.parts)
        if self.patient:
            yield from faults_of_another(requests, self.patient)

    def _left_over(self, own: Sequence[PlacedResource]) -> Iterator[Reading]:
        """What is not understood in the parts of an order, in its entries, and beside it."""
        for part in own:
            yield from left_over(part.resource, part.resource.resource_type)
            yield from drug.surprises(part.resource)
            inner = drug.inner_medication(part.resource)
            for each in (part.resource, *([inner] if inner else [])):
                yield from hazards.faults_of_record(each)
        entries = self.whole.items("entry") if self.alone else [part.entry for part in own]
        for entry in entries:
            if entry:
                yield from hazards.faults_of_entry(entry)
        if self.alone:
            yield from faults_of_other_patients([part.resource for part in own], self.parts)
            yield from self._beside({part.resource.path for part in own})

    def _beside(self, own: Set[str]) -> Iterator[Reading]:
        """The other resources in the Bundle of one order; `own` are the FHIRPaths of its parts."""
        known = own | self.parts.replaced
        for part in self.parts.parts:
            kind = part.resource.resource_type
            if part.resource.path in known:
                continue
            if kind in BYSTANDERS:
                yield from faults_of_bystander(part.resource)
            elif kind == "MedicationRequest":
                yield drug.fault_at("fhir-groups-differ", part.resource)
                yield whole_not_understood(part.resource, "is of another group than the order")
            else:
                yield whole_not_understood(part.resource, "is no part of the order that is read")

    def _drugs_of(self, mains: Sequence[PlacedResource]) -> list[PlacedResource]:
        """The drug parts of an order: those of its group and, of the only order, of no group."""
        group = group_of(mains[0].resource)
        if group is None:
            groups = [*self.parts.drugs] if self.alone else []
        else:
            groups = [group, None] if self.alone else [group]
        return [part for each in groups for part in self.parts.drugs.get(each, ())]

    def _medication_of(self, part: PlacedResource) -> PlacedResource | None:
        """The Medication of a drug part that stands in the Bundle by itself."""
        reference = part.resource.section("medicationReference")
        found = self.parts.target_of(reference) if reference else None
        return found if found and found.resource.resource_type == "Medication" else None


def _without_rate(
    readings: Iterable[Reading], drugs: Sequence[PlacedResource]
) -> Iterator[NotUnderstood]:
    """A drug part that says no rate, where the settings have one that it could say."""
    rates = [
        each for each in readings if isinstance(each, RequestedSetting) and each.path == drug.RATE
    ]
    if any(each.is_amount for each in rates) and not any(each.by_drug for each in rates):
        for part in drugs:
            yield whole_not_understood(part.resource, "says no rate", may_hold=False)


def _refusal(mains: Iterable[PlacedResource]) -> Refused | None:
    """Why an order is none: it was entered in error."""
    for part in mains:
        status = part.resource.scalar("status")
        if status and status.text == hazards.IN_ERROR:
            return Refused("This order was entered in error: it is none.", status.place)
    return None


def _document(file: str, values: Mapping[str, Scalar], place: Place) -> Document:
    head = {"document": made("order", place), "format": Scalar("1", "1", "number", place)}
    return Document(file, "order", nest_paths({**head, **values}, place))
