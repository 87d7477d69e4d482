"""Reads a site policy's values and compares each with the built-in value that it replaces."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Fault, Place
from orderlint.language.amounts import dimension_of
from orderlint.language.types import Choice, Constant, Listed, Quantity
from orderlint.quantity_words import format_quantity
from orderlint.reading.node import KeyValue, Node, Section
from orderlint.rulebook.instantiate import key_condition, names_in
from orderlint.rulebook.policy.policy_values import (
    DISPLAY_UNIT,
    LEFT_OUT,
    UNITS,
    Policy,
    form_of,
    is_by_unit,
    read_value,
    shown_in,
)
from orderlint.rulebook.rule import POLICY_FAMILY, CodeRule, PolicyFault, Rule
from orderlint.rulebook.yaml_fields import near, refuse, scalar, section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.rulebook.policy.policy_values import PolicyValue

    Parts = Mapping[str, Constant]


def value_entries(document: Document) -> tuple[KeyValue, ...]:
    """The values of a site policy as written; none if it has no `values:`."""
    values = document.root.get("values")
    return section(values, "values:", document.root).entries if values else ()


def with_policy_values(
    document: Document, built_in: Policy, catalogue: Mapping[str, str]
) -> Policy:
    """The built-in policy with a site policy's title and values.

    Raises Refused at a value that has another form than the built-in one.
    """
    read = dict(built_in.values)
    for entry in value_entries(document):
        name = entry.key.text
        if name not in built_in.values:
            hint = near(name, built_in.values)
            refuse(
                entry.key, f"only a built-in value can be replaced, and none is called {name}{hint}"
            )
        _check_keys(entry)
        replaced = built_in.values[name]
        value = _untabled(read_value(entry, catalogue), replaced)
        _check_value(value, replaced, entry)
        read[name] = replace(replaced, sources=value.sources, parts=value.parts, keyed=value.keyed)
    return Policy(scalar(document.root, "title").text, read)


def _untabled(value: PolicyValue, built_in: PolicyValue) -> PolicyValue:
    """A pressure that has no table in the built-in policy may be given by unit of the display."""
    if value.by != DISPLAY_UNIT or built_in.by:
        return value
    pressures = ((u, parts) for u, parts in value.keyed.items() if form_of(parts) == "pressure")
    units = {f".{unit}": parts[""] for unit, parts in pressures}
    if len(units) < len(UNITS):
        return value
    return replace(value, by=None, parts=units, keyed={})


def _check_keys(entry: KeyValue) -> None:
    """Raise Refused at a key that only the built-in policy has."""
    for part in entry.value.entries if isinstance(entry.value, Section) else ():
        if part.key.text in {"weaker", "form", "choices", "called"}:
            refuse(part.key, f"{part.key.text}: is said by the built-in policy alone")


def _check_value(value: PolicyValue, built_in: PolicyValue, entry: KeyValue) -> None:
    if value.by != built_in.by:
        has = f"a table by: {built_in.by}" if built_in.by else "no table"
        refuse(entry.value, f"{value.name} has {has} in the built-in policy, and so it must here")
    if not value.by:
        _check_parts(value.parts, value.name, built_in, entry.value)
    for key in dict.fromkeys((*built_in.keyed, *value.keyed)):
        written = entry.value.get(key) if isinstance(entry.value, Section) else None
        if written is None:
            refuse(entry.value, f"{key}: is missing; where there is no value, write {LEFT_OUT}")
        _check_parts(value.keyed[key], f"{value.name} for {key}", built_in, written)


def _check_parts(parts: Parts, name: str, built_in: PolicyValue, node: Node) -> None:
    """Raise Refused at another form, an unknown choice or a quantity that is out of range."""
    form, wanted = form_of(parts), _form(built_in)
    if form and form != wanted:
        refuse(node, f"{name}: its form is {wanted}, and this is {form}")
    for constant in parts.values():
        if (
            isinstance(constant, Choice)
            and built_in.choices
            and constant.text not in built_in.choices
        ):
            among = ", ".join(built_in.choices)
            refuse(
                node, f"{built_in.name} is one of: {among}{near(constant.text, built_in.choices)}"
            )
        for item in constant.items if isinstance(constant, Listed) else (constant,):
            if isinstance(item, Quantity):
                _check_range(item, ".lowest" in parts, built_in.weaker == "finer", node)


def _check_range(item: Quantity, is_range: bool, is_step: bool, node: Node) -> None:
    fields = [f for f in field_table().fields.values() if dimension_of(f) == item.dimension]
    highest = max((field.highest for field in fields), default=item.ticks)
    # Only a range of pressures, or an instant, may go below zero.
    may_be_negative = is_range or item.dimension == "instant"
    lowest = min(field.lowest for field in fields) if may_be_negative and fields else int(is_step)
    if not lowest <= item.ticks <= highest:
        allowed = _range_words(item, lowest, highest)
        refuse(node, f"{item.text} is no value here; a policy can have one {allowed}")


def _range_words(item: Quantity, lowest: int, highest: int) -> str:
    if item.dimension == "instant":
        return "from the year 1900 to 2199"
    unit = item.text.split(" ")[1]
    least = "above 0" if lowest == 1 else f"{format_quantity(lowest, unit)} or more"
    return f"{least} and at most {format_quantity(highest, unit)}"


def _form(value: PolicyValue) -> str:
    forms = [form_of(parts) for parts in (value.parts, *value.keyed.values()) if parts]
    return forms[0] if forms else value.form or ""


def with_policy_sources(
    rules: Mapping[str, Rule], own: Mapping[str, PolicyValue]
) -> Mapping[str, Rule]:
    """The rules; one that reads a replaced value has that value's sources instead of its own.

    A publication supports no other number than the one in it.
    """
    changed = dict(rules)
    for rule in rules.values():
        named = {part for part in _site_values(rule) if part in own}
        if named and rule.family != POLICY_FAMILY:
            kept = tuple(source for source in rule.sources if source.kind == "logic")
            sources = (
                *kept,
                *(source for name in own if name in named for source in own[name].sources),
            )
            changed[rule.id] = replace(rule, sources=tuple(dict.fromkeys(sources)))
    return changed


def _site_values(rule: Rule) -> Iterator[str]:
    """The names of the policy's values in a rule's condition."""
    surfaces = () if isinstance(rule, CodeRule) else (rule.when, rule.require)
    for name in names_in(surfaces, {}):
        if name.path.startswith("site."):
            yield name.path.split(".")[1]


def weaker_values(
    local: Mapping[str, PolicyValue], built_in: Policy, places: Mapping[str, Place]
) -> Iterator[PolicyFault]:
    """A fault for each value with which more orders pass than with the built-in one; by key."""
    for name, value in local.items():
        ours = built_in.values[name]
        for key in ours.keyed if value.by else (None,):
            here, there = value.parts_for(key), ours.parts_for(key)
            if _is_weaker(here, there, ours.weaker):
                fault = _weaker_fault(ours, key, here, there, places[name])
                yield PolicyFault(fault, key_condition(ours, key) if key else None)


def _weaker_fault(
    value: PolicyValue, key: str | None, here: Parts, there: Parts, place: Place
) -> Fault:
    said = f"{value.called} for {key}" if key else value.called
    path = f"site.{value.name}.{key}" if key else f"site.{value.name}"
    details = {"value": said, "here": format_constants(here), "there": format_constants(there)}
    return Fault("policy-value-weaker-than-built-in", path, details["here"], place, details)


def _is_weaker(here: Parts, there: Parts, direction: str | None) -> bool:
    """Whether an order passes with `here` that does not with `there`, or `here` is left out."""
    if not there or not here:
        return bool(there)
    return any(
        _is_weaker_in(shown_in(unit, here), shown_in(unit, there), direction) for unit in UNITS
    )


def _is_weaker_in(here: Parts, there: Parts, direction: str | None) -> bool:
    match direction:
        case "higher":
            return _ticks(here[""]) > _ticks(there[""])
        case "lower":
            return _ticks(here[""]) < _ticks(there[""])
        case "finer":
            return _ticks(here[""]) % _ticks(there[""]) != 0
        case "other":
            return here[""] != there[""]
        case "wider":
            low = _ticks(here[".lowest"]) < _ticks(there[".lowest"])
            return low or _ticks(here[".highest"]) > _ticks(there[".highest"])
        case "shorter":
            return not _items(there[""]) <= _items(here[""])
        case _:
            return not _items(here[""]) <= _items(there[""])


def _ticks(constant: Constant) -> int:
    assert isinstance(constant, Quantity)
    return constant.ticks


def _items(constant: Constant) -> frozenset[int | str]:
    assert isinstance(constant, Listed)
    items = constant.items
    return frozenset(item.ticks if isinstance(item, Quantity) else item.text for item in items)


def format_constants(parts: Parts) -> str:
    """A value as text: one constant, `… to …`, a list, or `left out`."""
    if not parts:
        return LEFT_OUT
    if is_by_unit(parts):
        said = {unit: _constant_text(parts[f".{unit}"]) for unit in UNITS}
        return " or ".join(f"{text} on a display in {unit}" for unit, text in said.items())
    if ".lowest" in parts:
        return f"{_constant_text(parts['.lowest'])} to {_constant_text(parts['.highest'])}"
    return _constant_text(parts[""])


def _constant_text(constant: Constant) -> str:
    if isinstance(constant, Listed):
        return ", ".join(item.text for item in constant.items)
    return constant.text
