"""Figures: the numbers that the words of a finding compute. Exact; no verdict depends on one.

A figure has the grammar of an amount, and division and FUNCTIONS as well.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.amounts import dimension_of, product_dimension, sum_dimension
from orderlint.language.surface import Arithmetic, Call, LanguageError, Minus, Name, Number
from orderlint.language.types import CHECKED_AT, Quantity, expect_dimension
from orderlint.order import example_leaf, with_earlier
from orderlint.units import TICKS, display_quantity, format_duration, format_number

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.fields import Field
    from orderlint.language.surface import Surface
    from orderlint.language.types import Scope
    from orderlint.order import Leaf

FUNCTIONS: Mapping[str, int] = {
    "converted": 2,
    "keyed": 2,
    "settable_below": 2,
    "settable_above": 2,
    "product": 2,
}
"""The functions of figures with the number of their arguments.

converted(x, u): x in the unit that field u names. keyed(x, u): the number written for x, read in
the unit that field u names. settable_below(x, step), settable_above(x, step): the nearest whole
multiple of the constant `step` at or below x, at or above x."""

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
        case Arithmetic(sign, left, right, at):
            sides = _figure(left, scope, leaves), _figure(right, scope, leaves)
            return _combined(sign, *sides, at)
        case Call("product", (left, right), at):
            sides = _figure(left, scope, leaves), _figure(right, scope, leaves)
            return _combined("*", *sides, at)
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
    return FigureValue(Fraction(_known_ticks(full, leaves)), dimension)


def _known_ticks(path: str, leaves: Mapping[str, Leaf]) -> int:
    value = leaves[path].value
    if not isinstance(value, int):
        raise _NoFigure
    return value


def _combined(sign: str, left: FigureValue, right: FigureValue, at: int) -> FigureValue:
    if sign == "*":
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
    ticks = TICKS[field.dimension]
    return FigureValue(value / ticks[leaf.unit] * ticks[unit], field.dimension, leaf.unit)


def format_figure(figure: FigureValue, display_unit: str | None, beside: Iterable[int] = ()) -> str:
    """The figure as text: `22 mmHg`, `about 29.9 cmH2O`, `36 h 40 min`.

    `beside` are other quantities of its dimension, in ticks; rounding must not make two look equal.
    """
    if figure.dimension == "number":
        return format_number(figure.value)
    if figure.dimension == "duration" and figure.value.denominator == 1:
        return format_duration(int(figure.value))
    unit = figure.unit or _usual_unit(figure, display_unit)
    return display_quantity(figure.value, unit, beside)


def _usual_unit(figure: FigureValue, display_unit: str | None) -> str:
    if figure.dimension == "pressure":
        return display_unit or "mmHg"
    if figure.dimension == "duration":
        return "h" if abs(figure.value) >= TICKS["duration"]["h"] else "min"
    return _EVERYDAY[figure.dimension]


def check_figure(node: Surface, scope: Scope) -> None:
    """Raise LanguageError if a name or a dimension in a figure is wrong."""
    evaluate_figure(node, scope, _probes())


@functools.cache
def _probes() -> Mapping[str, Leaf]:
    """The schema's example of every leaf that a rule may read, so that no figure is None."""
    leaves = {path: example_leaf(field) for path, field in field_table().fields.items()}
    return {**with_earlier(leaves, leaves), CHECKED_AT: leaves["starts"]}
