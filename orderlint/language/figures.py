"""Figures: the numbers that the words of a finding compute. Exact; no verdict depends on one.

A figure has the grammar of an amount, and division and FUNCTIONS as well.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT, field_table
from orderlint.language.amounts import KINDS, dimension_of, product_dimension, sum_dimension
from orderlint.language.naming import names_one
from orderlint.language.surface import Arithmetic, Call, LanguageError, Minus, Name, Number, Surface
from orderlint.language.types import Quantity, Scope, expect_dimension
from orderlint.leaf_reader import example_leaf
from orderlint.order import Leaf, with_earlier
from orderlint.quantity_words import (
    display_quantity,
    drug_unit,
    format_duration,
    format_number,
    group_digits,
)
from orderlint.units import TICKS, dimension_of_unit, ticks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.field import Field

FUNCTIONS: Mapping[str, int] = {
    "converted": 2,
    "keyed": 2,
    "settable_below": 2,
    "settable_above": 2,
    "product": 2,
    "mass_of": 1,
    "activity_of": 1,
    "lowest_of": 2,
    "highest_of": 2,
    "hourly": 1,
    "daily": 1,
}
"""The functions of figures with the number of their arguments.

converted(x, u): x in the unit that field u names. keyed(x, u): the number written for x, read in
the unit that field u names. settable_below(x, step), settable_above(x, step): the nearest whole
multiple of the constant `step` at or below x, at or above x. mass_of(x), activity_of(x): a
concentration that is measured so. hourly(x), daily(x): an amount of a drug by the hour or by the
day. lowest_of(site.table, x), highest_of(site.table, x): an end of the row of a table of names that
x names, of several the longest."""

_OF_DRUGS = frozenset({"mass rate", "activity rate"})
_EVERYDAY = {"flow": "mL/h", "volume": "mL", "mass": "kg", "angle": "deg"}


@dataclass(frozen=True, slots=True)
class FigureValue:
    """The value in ticks, or the number itself if `dimension` is number; `unit` is to be shown."""

    value: Fraction
    dimension: str
    unit: str | None = None


class _NoFigure(Exception):  # noqa: N818 - not an error: an order may lack a leaf
    """The order lacks a leaf that the figure reads."""


def evaluate_figure(node: Surface, scope: Scope, leaves: Mapping[str, Leaf]) -> FigureValue | None:
    """The figure on one order; None if a leaf is missing or a divisor is zero.

    Raises LanguageError if a name or a dimension is wrong.
    """
    try:
        return _figure(node, scope, leaves)
    except (_NoFigure, ZeroDivisionError):
        return None


def _figure(node: Surface, scope: Scope, leaves: Mapping[str, Leaf]) -> FigureValue:
    match node:
        case Number(value):
            return FigureValue(value, "number")
        case Name(path, at):
            return _named_figure(path, at, scope, leaves)
        case Minus(item):
            inner = _figure(item, scope, leaves)
            return FigureValue(-inner.value, inner.dimension, inner.unit)
        case Arithmetic(sign, left, right, at) | Call("product" as sign, (left, right), at):
            sides = _figure(left, scope, leaves), _figure(right, scope, leaves)
            return _combined(sign, *sides, at)
        case Call("mass_of" | "activity_of" as function, (Name(path, at),)):
            return _of_kind(
                KINDS[function], _named_figure(path, at, scope, leaves), path, at, scope
            )
        case Call("lowest_of" | "highest_of" as function, (Name(table), Name(path, at))):
            end = function.removesuffix("_of")
            return _of_row(table, end, scope.field(path, at)[0], scope, leaves)
        case Call("hourly" | "daily" as function, (item,)):
            return _by_time(function, _figure(item, scope, leaves), node.at)
        case Call("settable_below" | "settable_above" as function, (item, step)):
            return _settable(function, _figure(item, scope, leaves), step, scope, leaves)
        case Call("converted" | "keyed" as function, (Name(path, at), Name(unit, unit_at))):
            (full, field), (unit_full, choice) = scope.field(path, at), scope.field(unit, unit_at)
            if not choice.choices or not set(choice.choices) <= set(field.decimals):
                raise LanguageError(f"{unit} does not choose a unit of {path}", unit_at)
            return _reread(function, full, unit_full, field, leaves)
        case _:
            raise LanguageError("a figure is made of numbers, fields and constants", node.at)


def _named_figure(path: str, at: int, scope: Scope, leaves: Mapping[str, Leaf]) -> FigureValue:
    constant = scope.constant(path, at)
    if isinstance(constant, Quantity):
        return FigureValue(Fraction(constant.ticks), constant.dimension)
    full, field = scope.field(path, at)
    dimension = dimension_of(field)
    if dimension is None:
        raise LanguageError(f"{full} has no number", at)
    value = Fraction(_known_ticks(full, leaves))
    if len(field.units_by_dimension) > 1:
        dimension = dimension_of_unit(leaves[full].unit or "")
    return FigureValue(value, dimension)


def _known_ticks(path: str, leaves: Mapping[str, Leaf]) -> int:
    value = leaves[path].value
    if not isinstance(value, int):
        raise _NoFigure
    return value


def _of_kind(dimension: str, found: FigureValue, path: str, at: int, scope: Scope) -> FigureValue:
    """A concentration of one dimension; no figure where it is measured the other way."""
    kinds = scope.field(path, at)[1].units_by_dimension
    if dimension not in kinds:
        raise LanguageError(f"{path} is no {dimension}", at)
    if found.dimension != dimension:
        raise _NoFigure
    return found


def _combined(sign: str, left: FigureValue, right: FigureValue, at: int) -> FigureValue:
    if sign in {"*", "product"}:
        dimension, factor = product_dimension(left.dimension, right.dimension, at)
        return FigureValue(left.value * right.value * factor, dimension)
    if sign == "/":
        return _quotient(left, right, at)
    value = left.value + right.value if sign == "+" else left.value - right.value
    return FigureValue(value, sum_dimension(sign, left.dimension, right.dimension, at))


def _quotient(left: FigureValue, right: FigureValue, at: int) -> FigureValue:
    if left.dimension == right.dimension:
        return FigureValue(left.value / right.value, "number")
    if right.dimension == "number":
        return FigureValue(left.value / right.value, left.dimension)
    for dimension in ("duration", "flow"):
        if left.dimension == "volume" and {dimension, right.dimension} == {"duration", "flow"}:
            factor = product_dimension("duration", "flow", at)[1]
            return FigureValue(left.value / right.value / factor, dimension)
    raise LanguageError(f"a {left.dimension} by a {right.dimension} is no figure", at)


def _of_row(
    table: str, end: str, path: str, scope: Scope, leaves: Mapping[str, Leaf]
) -> FigureValue:
    prefix, suffix = f"{table.removeprefix('site.')}.", f".{end}"
    of_table = [name for name in scope.policy_values if name.startswith(prefix)]
    ends = (name.removeprefix(prefix) for name in of_table if name.endswith(suffix))
    rows = [name.removesuffix(suffix) for name in ends]
    named = named_rows(leaves[path], rows)
    found = scope.policy_values.get(f"{prefix}{named[0]}.{end}") if named else None
    if not isinstance(found, Quantity):
        raise _NoFigure
    return FigureValue(Fraction(found.ticks), found.dimension, found.text.split(" ", 1)[1])


def named_rows(leaf: Leaf, rows: Iterable[str]) -> list[str]:
    """The rows of a table of names that a text names, the longest first."""
    if not leaf.has_words:
        return []
    named = (row for row in rows if names_one(leaf.text, row_names(row)))
    return sorted(named, key=len, reverse=True)


def row_names(row: str) -> tuple[str, ...]:
    """The names of one row of a table of names: `alteplase, tPA` has two."""
    return tuple(name.strip() for name in row.split(","))


def _by_time(function: str, item: FigureValue, at: int) -> FigureValue:
    """An amount of a drug in a unit that is easily read: mcg below 0.1 mg."""
    if item.dimension not in _OF_DRUGS:
        raise LanguageError(f"{function} takes what runs in of a drug", at)
    time = "h" if function == "hourly" else "day"
    return FigureValue(item.value, item.dimension, drug_unit(item.value, item.dimension, time))


def _settable(
    function: str, item: FigureValue, step: Surface, scope: Scope, leaves: Mapping[str, Leaf]
) -> FigureValue:
    size = _figure(step, scope, leaves)
    expect_dimension(item.dimension, size.dimension, step.at)
    steps = item.value / size.value
    whole = math.floor(steps) if function == "settable_below" else math.ceil(steps)
    constant = scope.constant(step.path, step.at) if isinstance(step, Name) else None
    unit = constant.text.split()[1] if isinstance(constant, Quantity) else None
    return FigureValue(whole * size.value, item.dimension, unit)


def _reread(
    function: str, path: str, unit_path: str, field: Field, leaves: Mapping[str, Leaf]
) -> FigureValue:
    leaf, unit = leaves[path], leaves[unit_path].value
    value = Fraction(_known_ticks(path, leaves))
    if not isinstance(unit, str):
        raise _NoFigure
    # INVARIANT: a field with units is a quantity, and a known quantity has the unit written.
    assert field.dimension is not None
    assert leaf.unit is not None
    if function == "converted":
        return FigureValue(value, field.dimension, unit)
    return FigureValue(value / ticks_of(leaf.unit) * ticks_of(unit), field.dimension, leaf.unit)


def format_figure(figure: FigureValue, display_unit: str | None, beside: Iterable[int] = ()) -> str:
    """The figure as text: `22 mmHg`, `about 29.9 cmH2O`, `36 h 40 min`.

    `beside` are other quantities of its dimension, in ticks; rounding must not make two look equal.
    """
    if figure.dimension == "number":
        return format_number(figure.value)
    if figure.dimension == "duration" and figure.value.denominator == 1:
        return format_duration(int(figure.value))
    unit = figure.unit or _usual_unit(figure, display_unit)
    text = display_quantity(figure.value, unit, beside)
    return group_digits(text) if figure.dimension in _OF_DRUGS else text


def _usual_unit(figure: FigureValue, display_unit: str | None) -> str:
    if figure.dimension == "pressure":
        return display_unit or "mmHg"
    if figure.dimension == "duration":
        return "h" if abs(figure.value) >= TICKS["duration"]["h"] else "min"
    if figure.dimension in _OF_DRUGS:
        return drug_unit(figure.value, figure.dimension, "day")
    return _EVERYDAY[figure.dimension]


def check_figure(node: Surface, scope: Scope) -> None:
    """Raise LanguageError if a name or a dimension in a figure is wrong."""
    evaluate_figure(node, scope, _probes())


@functools.cache
def _probes() -> Mapping[str, Leaf]:
    """The schema's example of every leaf that a rule may read, so that no figure is None."""
    leaves = {path: example_leaf(field) for path, field in field_table().fields.items()}
    return {**with_earlier(leaves, leaves), CHECKED_AT: leaves["starts"]}
