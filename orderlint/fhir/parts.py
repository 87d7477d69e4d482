"""The resources of a Bundle: which refer to which, and which belong to one order.

Never what a resource says of a setting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.element import Element
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.reading.node import Section

BUNDLES = frozenset({"collection", "transaction", "batch", "searchset"})
"""The types of Bundle of which each resource is what is to be, or is."""
REQUESTS = ("DeviceRequest", "ServiceRequest")


class Part(NamedTuple):
    """A resource, and the entry of the Bundle that it stands in; None where it stands alone."""

    resource: Element
    entry: Element | None

    @property
    def names(self) -> tuple[str, ...]:
        """What may refer to it."""
        kind, id_ = self.resource.resource_type, self.resource.text("id")
        url = self.entry.text("fullUrl") if self.entry else ""
        return (*([f"{kind}/{id_}"] if id_ else []), *([url] if url else []))


class Parts(NamedTuple):
    """All resources of a file, first to last, and each by what may refer to it."""

    parts: tuple[Part, ...]
    by_name: Mapping[str, Part]

    def target_of(self, reference: Element) -> Part | None:
        """The resource that is referred to, if it stands in the file."""
        return self.by_name.get(_without_version(reference.text("reference")))

    def identity_of(self, subject: Element) -> tuple[str, str]:
        """How a subject is named, and the name: two subjects are one where these are equal."""
        found, reference = self.target_of(subject), subject.text("reference")
        identifier = subject.section("identifier")
        if found:
            return "reference", found.resource.path
        if reference:
            return "reference", _without_version(reference)
        if identifier:
            return "identifier", f"{identifier.text('system')}|{identifier.text('value')}"
        return "display", " ".join(subject.text("display").split()).casefold()

    def is_earlier(self, part: Part) -> bool:
        """Whether another request says that it replaces this one."""
        return any(
            self.target_of(reference) == part
            for each in self.parts
            for reference in self.earlier_of(each.resource)
        )

    def earlier_of(self, resource: Element) -> tuple[Element, ...]:
        """The references of a request to those that it replaces."""
        one = resource.section("priorPrescription")
        several = (*resource.items("priorRequest"), *resource.items("replaces"))
        return (*several, *([one] if one else []))


def _without_version(reference: str) -> str:
    return reference.partition("/_history/")[0]


def parts_in(root: Section, file: str) -> Parts:
    """The resources of a Bundle, or the one that the file is.

    Raises Refused where a Bundle is of a type whose resources may be past, or only quoted.
    """
    found = tuple(_parts(root, file))
    return Parts(found, {name: part for part in reversed(found) for name in part.names})


def _parts(root: Section, file: str) -> Iterator[Part]:
    whole = Element(root, "Bundle")
    kind = whole.resource_type
    if kind != "Bundle":
        yield Part(Element(root, kind), None)
        return
    written = whole.scalar("type")
    if written is None or written.text not in BUNDLES:
        types = ", ".join(sorted(BUNDLES))
        place = (written.place if written else root.place)._replace(file=file)
        raise Refused(f"A Bundle is read where its type is one of: {types}.", place)
    for entry in whole.items("entry"):
        resource = entry.section("resource")
        if resource:
            yield Part(resource, entry)


def group_of(resource: Element) -> tuple[str, str] | None:
    """The identifier of the composite request that a resource is part of."""
    group = resource.section("groupIdentifier") or resource.section("requisition")
    return (group.text("system"), group.text("value")) if group else None


def grouped(mains: Sequence[Part]) -> list[list[Part]]:
    """The requests of ours by the order that they make: by their group, one without one alone.

    All are one order where no two have different groups, and at most one has none.
    """
    groups: dict[object, list[Part]] = {}
    for part in mains:
        groups.setdefault(group_of(part.resource) or part.resource.path, []).append(part)
    return [*groups.values()]
