"""The resources of a Bundle: which refer to which, and which belong to one order.

Never what a resource says of a setting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.fhir.element import Element
from orderlint.field import casefold_spaces
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.reading.node import Section

    Group: TypeAlias = tuple[str, str] | None
    """The identifier of a composite request, by its system and value."""

BUNDLES = frozenset({"collection", "transaction", "batch", "searchset"})
"""The types of Bundle of which each resource is what is to be, or is."""
REQUESTS = ("DeviceRequest", "ServiceRequest")


class PlacedResource(NamedTuple):
    """A resource, and the entry of the Bundle that it stands in; None where it stands alone."""

    resource: Element
    entry: Element | None

    @property
    def base(self) -> str:
        """The address of the server that it stands on, '' where its URL does not say."""
        url = self.entry.text("fullUrl") if self.entry else ""
        server, kind, _ = url.rpartition(f"/{self.resource.resource_type}/")
        return f"{server}/" if kind and server.startswith("http") else ""

    @property
    def names(self) -> tuple[str, ...]:
        """What may refer to it."""
        kind, id_ = self.resource.resource_type, self.resource.text("id")
        url = self.entry.text("fullUrl") if self.entry else ""
        return (*([f"{kind}/{id_}"] if id_ else []), *([url] if url else []))


class BundleResources(NamedTuple):
    """All resources of a file, first to last, and each by what may refer to it.

    `replaced` are the FHIRPaths of those that another one says it replaces; `drugs` are the
    MedicationRequests among the others by their group, None for those without one; `bases` are
    the addresses of the servers that resources stand on, by FHIRPath.
    """

    parts: tuple[PlacedResource, ...]
    by_name: Mapping[str, PlacedResource]
    replaced: frozenset[str] = frozenset()
    drugs: Mapping[Group, tuple[PlacedResource, ...]] = {}
    bases: Mapping[str, str] = {}

    def target_of(self, reference: Element) -> PlacedResource | None:
        """The resource that is referred to, if it stands in the file."""
        name = _without_version(reference.text("reference"))
        base = self.base_of(reference)
        found = self.by_name.get(f"{base}{name}" if base and _is_relative(name) else name)
        if found is None and _is_relative(name):
            # Of two servers a name is another's, but where nothing says which server it is.
            found = self.by_name.get(name)
            found = None if found and base and found.base not in {"", base} else found
        return found

    def base_of(self, element: Element) -> str:
        """The address of the server that the resource around an element stands on, if known."""
        at = element.path.find(".resource") + len(".resource")
        return self.bases.get(element.path[:at], "")

    def names_of(self, subject: Element) -> Mapping[str, str]:
        """What a subject is called, by the form of the name; '' is what is shown of one without."""
        found, reference = self.target_of(subject), _without_version(subject.text("reference"))
        identifier, base = subject.section("identifier"), self.base_of(subject)
        address = f"{base}{reference}" if base and _is_relative(reference) else reference
        names = [*found.names, found.resource.path] if found else [address]
        called = {_form_of(name, subject): name for name in names if name}
        if identifier:
            called["identifier"] = f"{identifier.text('system')}|{identifier.text('value')}"
        shown = casefold_spaces(subject.text("display"))
        return called or {"": shown}

    def is_same(self, one: Element, other: Element) -> bool | None:
        """Whether two references are to one subject; None where nobody can tell by their names."""
        first, second = self.names_of(one), self.names_of(other)
        agree = {first[form] == second[form] for form in first.keys() & second.keys()}
        return agree.pop() if len(agree) == 1 else None


def _form_of(name: str, subject: Element) -> str:
    """The form of a name: two of one form are of one subject where they are equal."""
    if name.startswith("#"):
        return subject.path  # what one resource contains has its name there alone
    if name.startswith("Bundle."):
        return "place in the file"
    return name.partition(":")[0] if ":" in name else "name on a server"


def _is_relative(name: str) -> bool:
    return bool(name) and ":" not in name and not name.startswith("#")


def type_of(reference: Element) -> str:
    """The type of resource that a reference names; '' where it names none."""
    return _without_version(reference.text("reference")).rpartition("/")[0].rpartition("/")[2]


def id_of(reference: Element) -> str:
    """The id of a resource on its server; '' where a reference names none."""
    return _without_version(reference.text("reference")).rpartition("/")[2]


def version_of(reference: Element) -> str:
    """The version of a resource that a reference names; '' where it names none."""
    return reference.text("reference").partition(_VERSION)[2]


def earlier_of(resource: Element) -> tuple[Element, ...]:
    """The references of a request to those that it replaces."""
    one = resource.section("priorPrescription")
    several = (*resource.items("priorRequest"), *resource.items("replaces"))
    return (*several, *([one] if one else []))


def _without_version(reference: str) -> str:
    return reference.partition(_VERSION)[0]


_VERSION = "/_history/"


def parts_in(root: Section, file: str) -> BundleResources:
    """The resources of a Bundle, or the one that the file is.

    Raises Refused where a Bundle is of a type whose resources may be past, or only quoted.
    """
    found = tuple(_parts(root, file))
    names = {name: part for part in reversed(found) for name in part.names}
    bases = {part.resource.path: part.base for part in found}
    parts = BundleResources(found, names, bases=bases)
    earlier = [each for part in found for each in earlier_of(part.resource)]
    targets = (parts.target_of(reference) for reference in earlier)
    replaced = frozenset(target.resource.path for target in targets if target)
    drugs: dict[Group, tuple[PlacedResource, ...]] = {}
    for part in found:
        resource = part.resource
        if resource.resource_type == "MedicationRequest" and resource.path not in replaced:
            group = group_of(resource)
            drugs[group] = (*drugs.get(group, ()), part)
    return parts._replace(replaced=replaced, drugs=drugs)


def _parts(root: Section, file: str) -> Iterator[PlacedResource]:
    whole = Element(root, "Bundle")
    kind = whole.resource_type
    if kind != "Bundle":
        yield PlacedResource(Element(root, kind), None)
        return
    written = whole.scalar("type")
    if written is None or written.text not in BUNDLES:
        types = ", ".join(sorted(BUNDLES))
        place = (written.place if written else root.place)._replace(file=file)
        raise Refused(f"A Bundle is read where its type is one of: {types}.", place)
    for entry in whole.items("entry"):
        resource = entry.section("resource")
        if resource:
            yield PlacedResource(resource, entry)


def group_of(resource: Element) -> Group:
    """The identifier of the composite request that a resource is part of."""
    group = resource.section("groupIdentifier") or resource.section("requisition")
    return (group.text("system"), group.text("value")) if group else None


def grouped(mains: Sequence[PlacedResource]) -> list[list[PlacedResource]]:
    """The requests of ours by the order that they make: by their group, one without one alone."""
    groups: dict[object, list[PlacedResource]] = {}
    for part in mains:
        groups.setdefault(group_of(part.resource) or part.resource.path, []).append(part)
    return [*groups.values()]
