"""The surface tree: a condition as it is written, before names are resolved.

`at` is the column of a node in the text, from 0.
"""

# Named tuples, here, in tree and in node: thousands are made at each cold start, and a class of
# them takes a fifth of the time of a dataclass.

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from fractions import Fraction

Sign: TypeAlias = Literal["<", "<=", ">", ">=", "==", "!=", "in", "not in"]
ArithmeticSign: TypeAlias = Literal["+", "-", "*", "/"]

UNDER_LIMITS = "a name under limits: can hold a number with its unit"
"""Said where a condition has a number or a text in which a quantity belongs."""


class LanguageError(Exception):
    """A mistake in a condition. `at` is its column in the text, from 0."""

    def __init__(self, message: str, at: int) -> None:
        super().__init__(message)
        self.message = message
        self.at = at


class Name(NamedTuple):
    """A dotted path: a field, a `site.` value, a limit, a derived fact, `it`, `checked_at`."""

    path: str
    at: int


class Number(NamedTuple):
    """A plain integer or decimal, exact."""

    value: Fraction
    at: int


class Text(NamedTuple):
    """A quoted choice or flag."""

    value: str
    at: int


class Group(NamedTuple):
    """`{a, b, c}`, only after `in`."""

    items: tuple[Surface, ...]
    at: int


class Call(NamedTuple):
    """`given(x)`, `multiple(x, constant)`, `unit_of(x)`, `written(x, 'flag')`, `product(a, b)`,
    `names(x, site.list)`, `mass_of(x)`, `activity_of(x)`.
    """

    function: str
    arguments: tuple[Surface, ...]
    at: int


class Arithmetic(NamedTuple):
    """`a + b`, `a - b`, `a * b`; `a / b` only in figures."""

    sign: ArithmeticSign
    left: Surface
    right: Surface
    at: int


class Minus(NamedTuple):
    """`-a`."""

    item: Surface
    at: int


class Comparison(NamedTuple):
    """A chain: `first sign item sign item …`."""

    first: Surface
    rest: tuple[tuple[Sign, Surface], ...]
    at: int


class Junction(NamedTuple):
    """`a and b and …`, or `a or b or …`."""

    word: Literal["and", "or"]
    items: tuple[Surface, ...]
    at: int


class Negation(NamedTuple):
    """`not a`."""

    item: Surface
    at: int


Surface: TypeAlias = (
    Name | Number | Text | Group | Call | Arithmetic | Minus | Comparison | Junction | Negation
)
