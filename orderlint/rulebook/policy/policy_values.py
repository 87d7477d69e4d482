"""Reads a policy's values: each a constant, a range, a list or a table, with its source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.figures import row_names
from orderlint.language.types import Choice, Constant, Listed, Quantity
from orderlint.reading.node import KeyValue, Node, Scalar, Section
from orderlint.rulebook.yaml_fields import (
    known_keys,
    listed,
    optional,
    plain_name,
    quantity,
    refuse,
    scalar,
    section,
    sources_of,
    words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.rulebook.citation import Source

_BESIDE = frozenset({"source", "by", "weaker", "form", "choices", "called"})
DISPLAY_UNIT = "display_unit"
UNITS = ("mmHg", "cmH2O")
"""The units of a display, by which any pressure may have a value each."""
NAMES = "names"
"""The part of a table of names that is the list of all the names in it."""
LEFT_OUT = "left out"
"""What is written for a value that a policy does not give."""
WEAKER = ("higher", "lower", "finer", "wider", "longer", "shorter", "other")
"""How more orders pass: of a quantity (two), a step, a range, a list (two), a choice."""


@dataclass(frozen=True, slots=True)
class PolicyValue:
    """One value of a policy.

    `parts` are its constants by what follows its name (`''`, `.lowest`, `.0`); a value that is left
    out has none. A table has `by`, the path of a choice, and in `keyed` such parts for each choice;
    by the path of a text, for each row of names. A pressure that differs by unit of the display has
    the parts `.mmHg` and `.cmH2O`.
    The other fields are the built-in policy's: `weaker`, one of WEAKER; `form`, the kind of value
    that it leaves out; `choices`, all that a choice can be; `called`, its name in sentences.
    """

    name: str
    sources: tuple[Source, ...]
    by: str | None
    parts: Mapping[str, Constant]
    keyed: Mapping[str, Mapping[str, Constant]]
    weaker: str | None = None
    form: str | None = None
    choices: tuple[str, ...] = ()
    called: str = ""

    @property
    def is_by_name(self) -> bool:
        """Whether it is a table of names, rather than of choices."""
        return self.by is not None and field_table().fields[self.by].kind == "text"

    def parts_for(self, key: str | None) -> Mapping[str, Constant]:
        """Its parts for one key of its table; if it is no table, all of them."""
        return self.keyed.get(key or "", {}) if self.by else self.parts

    def quantity_for(self, key: str | None) -> Quantity | None:
        """The quantity that it is for one key; None where the policy leaves it out."""
        found = self.parts_for(key).get("")
        return found if isinstance(found, Quantity) else None


@dataclass(frozen=True, slots=True)
class Policy:
    """A policy's title and its values by name."""

    title: str
    values: Mapping[str, PolicyValue]

    def constants(self, key: str | None, unit: str | None = None) -> Iterator[tuple[str, Constant]]:
        """Every constant with its name, as it is for one key of the tables and unit of the display.

        The constants of a table are also there for every key, under its name, as in `.adult`.
        """
        for value in self.values.values():
            own = shown_in(unit, value.parts_for(key)).items()
            yield from ((f"{value.name}{part}", constant) for part, constant in own)
            if value.is_by_name:
                names = (name for row in value.keyed for name in row_names(row))
                yield f"{value.name}.{NAMES}", Listed(tuple(map(Choice, names)))
            for named, parts in value.keyed.items():
                items = shown_in(unit, parts).items()
                yield from ((f"{value.name}.{named}{part}", item) for part, item in items)

    def lacks_values_of(self, other: Policy) -> bool:
        """Whether it leaves out a value, or one for some key, that another policy has."""
        return any(
            bool(there.parts) > bool(self.values[name].parts or self.values[name].keyed)
            or any(there.keyed[key] and not self.values[name].keyed[key] for key in there.keyed)
            for name, there in other.values.items()
        )

    def choice(self, name: str) -> str | None:
        """The text of a value that is a choice; None if it is none."""
        value = self.values.get(name)
        constant = value.parts.get("") if value else None
        return constant.text if isinstance(constant, Choice) else None

    def with_values(self, site: Mapping[str, Node]) -> Policy:
        """The policy with some values replaced, as an example of a rule may write them."""
        values = dict(self.values)
        for name, node in site.items():
            if name not in values:
                refuse(node, f"the policy has no value {name}")
            values[name] = _with(values[name], node)
        return Policy(self.title, values)


def _with(value: PolicyValue, node: Node) -> PolicyValue:
    """The value as replaced by a node; of a table, only the keys that are written."""
    if not value.by or not isinstance(node, Section) or "by" in {e.key.text for e in node.entries}:
        return replace(value, by=None, parts=_unkeyed(node), keyed={})
    named = {entry.key.text: _unkeyed(entry.value) for entry in node.entries}
    return replace(value, keyed={**value.keyed, **named})


def is_by_unit(parts: Mapping[str, Constant]) -> bool:
    """Whether a value is given for each unit of the display."""
    return f".{UNITS[0]}" in parts


def shown_in(unit: str | None, parts: Mapping[str, Constant]) -> Mapping[str, Constant]:
    """A value on a display in one unit; where no unit is asked for, on one in mmHg."""
    return {"": parts[f".{unit or UNITS[0]}"]} if is_by_unit(parts) else parts


def read_policy(document: Document, catalogue: Mapping[str, str]) -> Policy:
    """Read a policy's title and values. Raises Refused, with line and column, at a mistake."""
    values = section(document.root.get("values"), "values:", document.root)
    read = (read_value(entry, catalogue) for entry in values.entries)
    title = scalar(document.root, "title").text
    return Policy(title, {value.name: value for value in read})


def read_value(entry: KeyValue, catalogue: Mapping[str, str]) -> PolicyValue:
    """Read one value under its name. Raises Refused, with line and column, at a mistake."""
    name = plain_name(entry.key)
    record = section(entry.value, name, entry.value)
    sources, by = sources_of(record, catalogue), optional(record, "by")
    weaker, form = optional(record, "weaker"), optional(record, "form")
    if weaker is not None and weaker.text not in WEAKER:
        refuse(weaker, f"weaker: is one of: {', '.join(WEAKER)}")
    kept = tuple(part for part in record.entries if part.key.text not in _BESIDE)
    parts = {} if by else _constants(Section(kept, record.place))
    keyed = _keyed(by, kept) if by else {}
    said = weaker.text if weaker else None, form.text if form else None
    choices = tuple(item.text for item in listed(record, "choices"))
    called = words(record, "called") or name
    return PolicyValue(name, sources, by.text if by else None, parts, keyed, *said, choices, called)


def _keyed(by: Scalar, entries: tuple[KeyValue, ...]) -> Mapping[str, Mapping[str, Constant]]:
    """The constants for each choice of the field `by`; none for a choice without a value."""
    field = field_table().fields.get(by.text)
    if field is None or field.kind not in {"choice", "text"}:
        refuse(by, f"by: names a field with choices, or a text, and {by.text} is neither")
    keyed: dict[str, Mapping[str, Constant]] = {choice: {} for choice in field.choices}
    first = ""
    for key, node in entries:
        if field.kind == "choice" and key.text not in keyed:
            refuse(key, f"{key.text} is not a choice of {by.text}: {', '.join(field.choices)}")
        if "." in key.text:
            refuse(key, "a name in a table has no point in it")
        keyed[key.text] = _unkeyed(node)
        form = form_of(keyed[key.text])
        first = first or form
        if form and form != first:
            refuse(node, f"this is a {form}, and the first value of the table is a {first}")
    return keyed


def _unkeyed(node: Node) -> Mapping[str, Constant]:
    if isinstance(node, Scalar):
        return _one(node)
    record = section(node, "a value", node)
    return _constants(record) if record.get("by") is None else _by_unit(record)


def _by_unit(record: Section) -> Mapping[str, Constant]:
    """The pressures for each unit of the display."""
    known_keys(record, ("by", *UNITS), "a value by display_unit")
    by = scalar(record, "by")
    if by.text != DISPLAY_UNIT:
        refuse(by, f"by: within a table is {DISPLAY_UNIT}, and nothing else")
    return {f".{unit}": _pressure(scalar(record, unit)) for unit in UNITS}


def _pressure(node: Scalar) -> Quantity:
    found = quantity(node)
    if found.dimension != "pressure":
        refuse(node, f"this is a {found.dimension}, and a display shows pressures")
    return found


def _constants(record: Section) -> Mapping[str, Constant]:
    known_keys(record, ("value", "list", "lowest", "highest"), "a local value")
    forms = {entry.key.text for entry in record.entries}
    if forms == {"list"}:
        return _list(record)
    if forms == {"value"}:
        return _one(scalar(record, "value"))
    if forms != {"lowest", "highest"}:
        refuse(record, "a local value has a value, a list, or lowest and highest")
    return _range(scalar(record, "lowest"), scalar(record, "highest"))


def _one(node: Scalar) -> Mapping[str, Constant]:
    return {} if node.text == LEFT_OUT else {"": _constant(node)}


def _list(record: Section) -> Mapping[str, Constant]:
    nodes = listed(record, "list")
    items = tuple(_constant(item) for item in nodes)
    for node, item in zip(nodes, items, strict=True):
        if _kind(item) != _kind(items[0]):
            refuse(node, f"this is a {_kind(item)}, and the first of the list a {_kind(items[0])}")
    return {"": Listed(items), **{f".{index}": item for index, item in enumerate(items)}}


def _range(lowest: Scalar, highest: Scalar) -> Mapping[str, Constant]:
    low, high = quantity(lowest), quantity(highest)
    if low.dimension != high.dimension:
        refuse(highest, f"this is a {high.dimension}, and the lowest a {low.dimension}")
    if low.ticks > high.ticks:
        refuse(highest, f"the highest, {high.text}, is below the lowest, {low.text}")
    return {".lowest": low, ".highest": high}


def _constant(node: Scalar) -> Quantity | Choice:
    """A text is a choice if it begins with a letter, else a quantity."""
    if node.text == LEFT_OUT:
        refuse(node, "a value is left out as a whole")
    return Choice(node.text) if node.text[:1].isalpha() else quantity(node)


def _kind(constant: Quantity | Choice) -> str:
    return constant.dimension if isinstance(constant, Quantity) else "choice"


def form_of(constants: Mapping[str, Constant]) -> str:
    """The form of a value in words; '' if it is left out."""
    if not constants:
        return ""
    if is_by_unit(constants):
        return "pressure"
    part, constant = next(iter(constants.items()))
    if isinstance(constant, Listed):
        return f"list of {_kind(constant.items[0])}"
    return f"range of {_kind(constant)}" if part else _kind(constant)
