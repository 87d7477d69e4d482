"""The sources of rules and values, as findings show them; citations are in one catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.reading.node import Section

_KINDS = {
    "logic": "follows from the order itself",
    "common-practice": "common practice, no published source",
    "local-policy": "local policy",
    "published": "",
}


class Source(NamedTuple):
    """The source of a rule or a value.

    `kind` is logic, common-practice, local-policy or published; `text` is the citation as shown,
    with its `note` where it has one.
    """

    kind: str
    text: str
    note: str | None = None


def sources_of(record: Section, catalogue: Mapping[str, str]) -> tuple[Source, ...]:
    """The sources under `source:` of a record, which has one or a list of them."""
    from orderlint.reading.node import Listing  # noqa: PLC0415 - a prebuilt rulebook is not read
    from orderlint.rulebook.yaml_fields import refuse, section  # noqa: PLC0415

    node = record.get("source")
    items = node.items if isinstance(node, Listing) else (node,) if node else ()
    if not items:
        refuse(node or record, "source: is missing")
    return tuple(_source(section(item, "source:", record), catalogue) for item in items)


def cited(sources: Iterable[Source]) -> str:
    """Sources as one text."""
    return "; ".join(source.text for source in sources)


def _source(node: Section, catalogue: Mapping[str, str]) -> Source:
    from orderlint.rulebook.yaml_fields import (  # noqa: PLC0415 - a prebuilt rulebook is not read
        known_keys,
        optional,
        refuse,
        scalar,
    )

    known_keys(node, ("kind", "cite", "note"), "a source")
    kind, cite, note = scalar(node, "kind"), optional(node, "cite"), optional(node, "note")
    if kind.text not in _KINDS:
        refuse(kind, f"a kind of source is one of: {', '.join(_KINDS)}")
    if (kind.text == "published") != (cite is not None):
        refuse(cite or node, "a published source, and no other, has a cite")
    if cite is not None and cite.text not in catalogue:
        refuse(cite, f"there is no source {cite.text}")
    text = catalogue[cite.text] if cite else _KINDS[kind.text]
    return Source(kind.text, f"{text} ({note.text})" if note else text, note.text if note else None)
