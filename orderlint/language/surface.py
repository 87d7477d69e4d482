"""What a condition says, as written: names, literals, comparisons, and, or, not.

Only the shapes of the surface tree. Never a type, a number of ticks or a walker.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from fractions import Fraction

Sign: TypeAlias = Literal["<", "<=", ">", ">=", "==", "!=", "in", "not in"]


class LanguageError(Exception):
    """A condition that is not in the language, with the column (from 0) at which it goes wrong."""

    def __init__(self, message: str, at: int) -> None:
        super().__init__(message)
        self.message = message
        self.at = at


@dataclass(frozen=True, slots=True)
class Name:
    """A dotted path: a field, a `site.` value, a limit, a derived fact, `it`, `checked_at`."""

    path: str
    at: int


@dataclass(frozen=True, slots=True)
class Number:
    """A plain integer or decimal, exact."""

    value: Fraction
    at: int


@dataclass(frozen=True, slots=True)
class Text:
    """A quoted choice or flag."""

    value: str
    at: int


@dataclass(frozen=True, slots=True)
class Group:
    """`{a, b, c}`, only after `in`."""

    items: tuple[Surface, ...]
    at: int


@dataclass(frozen=True, slots=True)
class Call:
    """`given(x)`, `multiple(x, constant)`, `unit_of(x)`, `written(x, 'flag')`, `product(a, b)`."""

    function: str
    arguments: tuple[Surface, ...]
    at: int


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """`a + b`, `a - b`, `a * b`; `a / b` only in figures."""

    sign: Literal["+", "-", "*", "/"]
    left: Surface
    right: Surface
    at: int


@dataclass(frozen=True, slots=True)
class Minus:
    """`-a`."""

    item: Surface
    at: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """A chain: `first sign item sign item …`."""

    first: Surface
    rest: tuple[tuple[Sign, Surface], ...]
    at: int


@dataclass(frozen=True, slots=True)
class Junction:
    """`a and b and …`, or `a or b or …`."""

    word: Literal["and", "or"]
    items: tuple[Surface, ...]
    at: int


@dataclass(frozen=True, slots=True)
class Negation:
    """`not a`."""

    item: Surface
    at: int


Surface: TypeAlias = (
    Name | Number | Text | Group | Call | Arithmetic | Minus | Comparison | Junction | Negation
)
