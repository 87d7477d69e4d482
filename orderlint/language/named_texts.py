"""Texts that name what is wanted and nothing else, for an order that is to show what a rule means.

Never a solver, and never a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from orderlint.language.naming import names_one

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.field import Field

    Names: TypeAlias = tuple[str, ...]

_NOTHING = "sample"
"""A text that names nothing, and is no spelling of a choice."""


def named_in(text: str, lists: Iterable[Names]) -> frozenset[Names]:
    """The lists of which a text names an entry."""
    return frozenset(listed for listed in lists if names_one(text, listed))


def ways(field: Field, choice: str, lists: Iterable[Names]) -> frozenset[frozenset[Names]]:
    """The lists that the spellings of a choice name, for each way in which it can be spelt."""
    return frozenset(named_in(text, lists) for text in _spellings(field, choice))


def text_naming(field: Field, value: object, wanted: frozenset[Names], lists: list[Names]) -> str:
    """A text of the field that stands for a value and names the `wanted` of these lists alone.

    `value` is the choice, None or the field's `otherwise` where it is any text. StopIteration where
    no text does so.
    """
    if isinstance(value, str) and value in field.choices and value != field.otherwise:
        return next(t for t in _spellings(field, value) if named_in(t, lists) == wanted)
    chosen = (next(e for e in listed if named_in(e, lists) <= wanted) for listed in sorted(wanted))
    return "; ".join((_NOTHING, *chosen))


def _spellings(field: Field, choice: str) -> Iterator[str]:
    yield choice
    yield from (text for text, meant in field.spellings.items() if meant == choice)
