"""Puts together what several parts say of one setting: one value, or why there is none.

Two parts agree where both texts read as one value in one unit. Never a value that stands nowhere.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.bundle.drug import ADDITIVE, NAME
from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault
from orderlint.leaf_reader import leaf_of
from orderlint.reading.quantity_text import TRAILING_ZERO

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.fhir.bundle.requests import RequestedSetting
    from orderlint.order import Leaf
    from orderlint.reading.node import Scalar

TWICE, DISAGREE = "fhir-setting-twice", "fhir-parts-disagree"


class Merged(NamedTuple):
    """The value of each setting that has one, and the faults of those that have none."""

    values: Mapping[str, Scalar]
    faults: tuple[Fault, ...]

    def without(self, faults: Sequence[Fault]) -> Merged:
        """The same with more faults, and without the values that they spoil."""
        spoilt = {path for fault in faults for path in fault.spoils}
        values = {path: value for path, value in self.values.items() if path not in spoilt}
        return Merged(values, (*self.faults, *faults))


def merged(said: Iterable[RequestedSetting]) -> Merged:
    """One value for each setting on which all parts agree."""
    by_path: dict[str, list[RequestedSetting]] = {}
    for one in said:
        by_path.setdefault(one.path, []).append(one)
    values: dict[str, Scalar] = {}
    faults = [*_of_additive(by_path)]
    for path in field_table().fields:
        each = by_path.get(path, [])
        known = [item for item in each if not isinstance(item.value, Fault)]
        faults += [item.value for item in each if isinstance(item.value, Fault)]
        other = next((item for item in known[1:] if _key(item) != _key(known[0])), None)
        if other is not None:
            faults.append(_conflict(known[0], other))
        elif known and not isinstance(known[0].value, Fault):
            values[path] = known[0].value
    return Merged(values, ()).without(faults)


def _key(said: RequestedSetting) -> object:
    assert not isinstance(said.value, Fault)
    return key_of(said.path, said.value.text)


def key_of(path: str, text: str) -> object:
    """What two texts of a setting have in common where they agree."""
    leaf = leaf_of(path, text)
    if not leaf.known:
        return text.strip()
    field = field_table().fields[path]
    return field.comparison_key(leaf.value, leaf.text, leaf.unit), leaf.unit


def _conflict(first: RequestedSetting, other: RequestedSetting) -> Fault:
    assert not isinstance(first.value, Fault)
    assert not isinstance(other.value, Fault)
    rule = DISAGREE if first.by_drug != other.by_drug else TWICE
    return disagreement(rule, first.path, first.value, other.value)


def disagreement(rule: str, path: str, one: Scalar, other: Scalar) -> Fault:
    """The fault of a setting of which two texts say something else."""
    said, differs = one.text.strip(), other.text.strip()
    name = in_sentence(field_table().display_name(path))
    details = {"name": name, "one": said, "other": differs}
    written = f"{said}; {differs} in row {other.place.line}"
    return Fault(rule, path, written, one.place, details, (path,))


def numbers_in(said: Iterable[RequestedSetting]) -> frozenset[str]:
    """The settings that stand only as a number of JSON and a unit apart, never in a text."""
    every = [*said]
    in_texts = {each.path for each in every if not (each.is_amount or each.by_drug)}
    return frozenset(each.path for each in every) - in_texts


def without_zeros(leaf: Leaf) -> Leaf:
    """The leaf of a number of JSON: a zero that it ends in is no unsafe notation.

    Nobody writes or reads the letters of such a number; programs write 8.0, and by the standard the
    zero says how exact a decimal is.
    """
    return replace(leaf, flags=leaf.flags - {TRAILING_ZERO})


def _of_additive(by_path: dict[str, list[RequestedSetting]]) -> list[Fault]:
    """What one part says of an additive and another says is none.

    A medication without an ingredient says so only beside a setting: alone it may leave it out.
    """
    none, named = by_path.get(ADDITIVE, []), by_path.get(NAME, [])
    parts = field_table().sections[ADDITIVE]
    if not any(not each.by_drug for path in parts for each in by_path.get(path, [])):
        by_path.pop(ADDITIVE, None)
        return []
    if not none or not named:
        if all(each.by_drug for each in none):
            by_path.pop(ADDITIVE, None)
        return []
    if isinstance(none[0].value, Fault) or isinstance(named[0].value, Fault):
        return []
    fault = _conflict(named[0], none[0]._replace(path=NAME))
    for path in parts:
        by_path.pop(path, None)
    return [fault._replace(spoils=parts)]
