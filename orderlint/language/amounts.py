"""Turns the two sides of a comparison into exact sums of leaves, and these into integers.

Checks dimensions, and that no sum can pass 62 bits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal, TypeAlias

from orderlint.language.surface import (
    Arithmetic,
    Call,
    LanguageError,
    Minus,
    Name,
    Number,
)
from orderlint.language.tree import Compare, OneKind, Term
from orderlint.language.types import Choice, Listed, Quantity, Scope, expect_dimension

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.field import Field
    from orderlint.language.surface import Surface

BOUND = 2**62
"""No sum may reach this on any order, so that no engine's 64-bit integers overflow."""
_PRODUCTS = {
    # 0.001 mL in 0.001 mL/h times 1 ms
    frozenset({"flow", "duration"}): ("volume", Fraction(1, 3_600_000)),
    # 1e-8 mcg/day in 0.01 mcg/L times 0.001 mL/h, and units alike
    frozenset({"mass concentration", "flow"}): ("mass rate", Fraction(24)),
    frozenset({"activity concentration", "flow"}): ("activity rate", Fraction(24)),
}
"""What two dimensions make when multiplied, and its ticks for one tick times one tick."""
KINDS = {"mass_of": "mass concentration", "activity_of": "activity concentration"}
"""The function that reads a field in units of one dimension alone → that dimension."""

_JOINT = ({"flow", "pressure"}, {"flow", "mass"})
"""What a constant of one and an amount of the other make, to be compared only with its like."""

Paths: TypeAlias = tuple[str, ...]
Range: TypeAlias = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Amount:
    """A sum in ticks: in `terms`, each product of leaves with its factor, and a constant.

    `ranges` has the lowest and highest value of each leaf that was read, cancelled or not.
    `one_kind` names the leaves whose units must measure the same.
    """

    dimension: str
    terms: Mapping[Paths, Fraction]
    constant: Fraction
    ranges: Mapping[str, Range]
    one_kind: OneKind | None = None

    def scaled(self, factor: Fraction, dimension: str | None = None) -> Amount:
        """The amount times a constant, in another dimension if the constant has one."""
        terms = {paths: value * factor for paths, value in self.terms.items()}
        constant = self.constant * factor
        return Amount(dimension or self.dimension, terms, constant, self.ranges, self.one_kind)

    def plus(self, other: Amount, dimension: str) -> Amount:
        """The sum of both, without the terms that cancel."""
        terms = dict(self.terms)
        for paths, value in other.terms.items():
            terms[paths] = terms.get(paths, Fraction(0)) + value
        kept = {paths: value for paths, value in terms.items() if value}
        ranges = {**self.ranges, **other.ranges}
        one_kind = _both(self.one_kind, other.one_kind)
        return Amount(dimension, kept, self.constant + other.constant, ranges, one_kind)


def _both(left: OneKind | None, right: OneKind | None) -> OneKind | None:
    """The leaves of both. INVARIANT: of one dimension there are the same kinds on either side."""
    if left is None or right is None:
        return left or right
    return OneKind(tuple(dict.fromkeys((*left.paths, *right.paths))), left.kinds)


def is_amount(node: Surface, scope: Scope) -> bool:
    """Whether the node is a number, a quantity or an instant, and no choice."""
    match node:
        case Name(path, at):
            constant = scope.constant(path, at)
            if constant is not None:
                return isinstance(constant, Quantity)
            return scope.field(path, at)[1].kind in {"quantity", "count", "instant"}
        case Call(function):
            return function == "product" or function in KINDS
        case _:
            return isinstance(node, Number | Arithmetic | Minus)


def amount(node: Surface, scope: Scope) -> Amount:
    """The sum that a node means. Raises LanguageError if it means none."""
    match node:
        case Number(value):
            return Amount("number", {}, value, {})
        case Name(path, at):
            return _named_amount(path, at, scope)
        case Minus(item):
            return _negative(amount(item, scope), node.at)
        case Arithmetic("*", left, right, at):
            return _times(amount(left, scope), amount(right, scope), at)
        case Arithmetic("+" | "-" as sign, left, right, at):
            return _sum(sign, amount(left, scope), amount(right, scope), at)
        case Call("mass_of" | "activity_of" as function, (Name(path, at),)):
            return _of_kind(function, path, at, scope)
        case Call("product", (left, right), at):
            return _product(amount(left, scope), amount(right, scope), at)
        case _:
            raise LanguageError("a number, a quantity or an instant belongs here", node.at)


def _named_amount(path: str, at: int, scope: Scope) -> Amount:
    constant = scope.constant(path, at)
    if isinstance(constant, Quantity):
        return Amount(constant.dimension, {}, Fraction(constant.ticks), {})
    if isinstance(constant, Choice | Listed):
        raise LanguageError(f"{path} is not a quantity", at)
    full, field = scope.field(path, at)
    dimension = dimension_of(field)
    if dimension is None:
        raise LanguageError(f"{field.path} is a {field.kind}, not a quantity", at)
    kinds = tuple(field.units_by_dimension.values())
    one_kind = OneKind((full,), kinds) if len(kinds) > 1 else None
    ranges = {full: (field.lowest, field.highest)}
    return Amount(dimension, {(full,): Fraction(1)}, Fraction(0), ranges, one_kind)


def _of_kind(function: str, path: str, at: int, scope: Scope) -> Amount:
    """A field where it is written in units of one dimension; unknown where it is not."""
    full, field = scope.field(path, at)
    kinds = field.units_by_dimension
    if KINDS[function] not in kinds or len(kinds) < 2:
        raise LanguageError(f"{function} takes a concentration, and {path} is none", at)
    ranges = {full: (field.lowest, field.highest)}
    one_kind = OneKind((full,), (kinds[KINDS[function]],))
    return Amount(KINDS[function], {(full,): Fraction(1)}, Fraction(0), ranges, one_kind)


def dimension_of(field: Field) -> str | None:
    """The dimension of a field's values; None if they are no numbers."""
    return {"quantity": field.dimension, "instant": "instant", "count": "number"}.get(field.kind)


def _negative(item: Amount, at: int) -> Amount:
    if item.dimension == "instant":
        raise LanguageError("an instant has no negative", at)
    return item.scaled(Fraction(-1))


def _sum(sign: str, left: Amount, right: Amount, at: int) -> Amount:
    dimension = sum_dimension(sign, left.dimension, right.dimension, at)
    return left.plus(right if sign == "+" else right.scaled(Fraction(-1)), dimension)


def sum_dimension(sign: str, left: str, right: str, at: int) -> str:
    """The dimension of a sum or difference. To an instant, only a duration can be added."""
    if {left, right} == {"instant", "duration"} and (sign == "+" or left == "instant"):
        return "instant"
    expect_dimension(left, right, at)
    if left == "instant" and sign == "+":
        raise LanguageError("two instants cannot be added", at)
    return "duration" if left == "instant" else left


def _times(left: Amount, right: Amount, at: int) -> Amount:
    if left.terms and right.terms:
        raise LanguageError("one side of * is a constant; of two fields write product(a, b)", at)
    constant, other = (right, left) if left.terms else (left, right)
    if {constant.dimension, other.dimension} in _JOINT:
        joint = " times ".join(sorted((constant.dimension, other.dimension)))
        return other.scaled(constant.constant, joint)
    dimension, factor = product_dimension(constant.dimension, other.dimension, at)
    return other.scaled(constant.constant * factor, dimension)


def product_dimension(left: str, right: str, at: int) -> tuple[str, Fraction]:
    """The dimension of a product, and how many of its ticks one tick times one tick is."""
    if "instant" in {left, right}:
        raise LanguageError("an instant cannot be multiplied", at)
    if "number" in {left, right}:
        return (right if left == "number" else left), Fraction(1)
    found = _PRODUCTS.get(frozenset({left, right}))
    if found is not None:
        return found
    raise LanguageError(f"a {left} times a {right} is nothing that an order holds", at)


def _product(left: Amount, right: Amount, at: int) -> Amount:
    paths = []
    for side in (left, right):
        single = [keys for keys, value in side.terms.items() if value == 1 and len(keys) == 1]
        if side.constant or len(side.terms) != 1 or not single:
            raise LanguageError("product takes two fields", at)
        path = single[0][0]
        if side.ranges[path][0] < 0:
            raise LanguageError(f"product takes fields that cannot be negative; {path} can", at)
        paths.append(path)
    dimension, factor = product_dimension(left.dimension, right.dimension, at)
    ranges = {**left.ranges, **right.ranges}
    one_kind = _both(left.one_kind, right.one_kind)
    return Amount(dimension, {tuple(sorted(paths)): factor}, Fraction(0), ranges, one_kind)


def comparison(left: Amount, sign: Literal["<", "<=", "=="], right: Amount, at: int) -> Compare:
    """`left sign right` as integers. Raises LanguageError if a sum could pass 62 bits."""
    expect_dimension(left.dimension, right.dimension, at)
    difference = left.plus(right.scaled(Fraction(-1)), left.dimension)
    # If a leaf cancelled, the comparison would have an outcome on orders that lack the leaf.
    cancelled = set(difference.ranges) - {path for paths in difference.terms for path in paths}
    if cancelled:
        raise LanguageError(f"{min(cancelled)} is compared with itself", at)
    numbers = [*difference.terms.values(), difference.constant]
    scale = math.lcm(*(number.denominator for number in numbers))
    whole = [int(number * scale) for number in numbers]
    shared = math.gcd(*whole) or 1
    terms = tuple(
        Term(value // shared, paths)
        for paths, value in sorted(zip(difference.terms, whole[:-1], strict=True))
    )
    bound = -whole[-1] // shared
    if _largest(terms, difference.ranges) + abs(bound) >= BOUND:
        raise LanguageError("on some conceivable order this comparison would pass 62 bits", at)
    return Compare(terms, sign, bound, difference.one_kind)


def _largest(terms: tuple[Term, ...], ranges: Mapping[str, Range]) -> int:
    """A bound on every partial sum of the terms, by interval arithmetic."""
    total = 0
    for term in terms:
        size = abs(term.coefficient)
        for path in term.paths:
            size *= max(abs(end) for end in ranges[path])
        total += size
    return total
