"""The site policy: each local value with its source, a constant, a range, a list or a table.

Values only. Never a rule's condition.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.language.types import Choice, Listed, Quantity
from orderlint.reading.node import Scalar, Section
from orderlint.rulebook.record import listed, refuse, scalar, section
from orderlint.rulebook.source import source_of
from orderlint.units import read_constant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.language.types import Constant
    from orderlint.reading import Document
    from orderlint.reading.node import Node
    from orderlint.rulebook.rule import Source

LEFT_OUT = "left out"
"""What stands for a value that a policy knows of but does not give."""


@dataclass(frozen=True, slots=True)
class SiteValue:
    """One local value.

    `parts` are constants by the part of the name after the value's own (`''`, `.lowest`, `.0`).
    With `by`, the path of a choice, `keyed` holds such parts for each of its keys instead.
    """

    name: str
    source: Source
    by: str | None
    parts: Mapping[str, Constant]
    keyed: Mapping[str, Mapping[str, Constant]]


@dataclass(frozen=True, slots=True)
class Policy:
    """A policy's title and all of its values by name."""

    title: str
    values: Mapping[str, SiteValue]

    def keys(self) -> tuple[str, ...]:
        """Every key of every table."""
        return tuple(dict.fromkeys(key for value in self.values.values() for key in value.keyed))

    def constants(self, key: str | None) -> Iterator[tuple[str, Constant]]:
        """Every constant by name for one key of the tables, or without one.

        A table's constants stand under the names of their keys as well, as in `.adult`.
        """
        for value in self.values.values():
            own = value.keyed.get(key or "", {}) if value.by else value.parts
            yield from ((f"{value.name}{part}", constant) for part, constant in own.items())
            for named, parts in value.keyed.items():
                yield from ((f"{value.name}.{named}{part}", item) for part, item in parts.items())

    def choice(self, name: str) -> str | None:
        """The text of a value that is a choice; None where there is none."""
        value = self.values.get(name)
        constant = value.parts.get("") if value else None
        return constant.text if isinstance(constant, Choice) else None

    def with_values(self, site: Mapping[str, Node]) -> Policy:
        """The policy with some values replaced, as a rule's example may ask for."""
        values = dict(self.values)
        for name, node in site.items():
            if name not in values:
                refuse(node, f"the policy has no value {name}")
            values[name] = replace(values[name], by=None, parts=_keyed(node), keyed={})
        return Policy(self.title, values)


def read_policy(document: Document, sources: Mapping[str, str]) -> Policy:
    """The policy in a file. Raises Refused, with line and column, where it does not read."""
    values = section(document.root.get("values"), "values", document.root)
    read = (_value(entry.key.text, entry.value, sources) for entry in values.entries)
    title = scalar(document.root, "title").text
    return Policy(title, {value.name: value for value in read})


def _value(name: str, node: Node, sources: Mapping[str, str]) -> SiteValue:
    record = section(node, name, node)
    source = source_of(record, sources)
    parts = {e.key.text: e.value for e in record.entries if e.key.text not in {"source", "by"}}
    if record.get("by") is None:
        return SiteValue(name, source, None, _constants(record, parts), {})
    keyed = {key: _keyed(part) for key, part in parts.items()}
    return SiteValue(name, source, scalar(record, "by").text, {}, keyed)


def _keyed(node: Node) -> Mapping[str, Constant]:
    if isinstance(node, Scalar):
        return _one("", node)
    parts = {entry.key.text: entry.value for entry in section(node, "a key", node).entries}
    return _constants(section(node, "a key", node), parts)


def _constants(record: Section, parts: Mapping[str, Node]) -> Mapping[str, Constant]:
    if set(parts) == {"list"}:
        items = tuple(_constant(item) for item in listed(record, "list"))
        numbered = {f".{index}": item for index, item in enumerate(items)}
        return {"": Listed(items), **numbered}
    if set(parts) == {"value"}:
        return _one("", scalar(record, "value"))
    if set(parts) == {"lowest", "highest"}:
        return {f".{end}": _constant(scalar(record, end)) for end in ("lowest", "highest")}
    refuse(record, "a local value has a value, a list, or lowest and highest")
    return None


def _one(part: str, node: Scalar) -> Mapping[str, Constant]:
    return {} if node.text == LEFT_OUT else {part: _constant(node)}


def _constant(node: Scalar) -> Quantity | Choice:
    if not node.text[:1].isdigit() and node.text[:1] != "-":
        return Choice(node.text)
    try:
        ticks, unit = read_constant(node.text)
    except ValueError as error:
        refuse(node, str(error))
    return Quantity(unit.dimension, ticks, node.text)
