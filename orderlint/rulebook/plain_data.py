"""Frozen values as plain data for JSON, and back: those of a closed list of classes, and no other.

A tuple, named or not, and a dataclass are a list that begins with the name of the class; a mapping
is an object. Never code, and never a class that the data could choose.
"""

from __future__ import annotations

import functools
import importlib
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    Plain: TypeAlias = Any
    """None, a truth value, an int, a text, a list or an object of these."""

_CLASSES: Mapping[str, str] = {
    name: module
    for module, names in {
        "orderlint.finding": "Harm Level Place",
        "orderlint.language.tree": (
            "Given Written Names Term OneKind Compare Multiple Subject Member Same"
        ),
        "orderlint.language.surface": (
            "Name Number Text Group Call Arithmetic Minus Comparison Junction Negation"
        ),
        "orderlint.language.types": "Quantity Choice Listed",
        "orderlint.rulebook.rule": "Skipped",
        "orderlint.rulebook.citation": "Source",
        "orderlint.rulebook.policy.policy_values": "PolicyValue",
        "fractions": "Fraction",
    }.items()
    for name in names.split()
}
"""Each class with its module, imported when there is something of it."""


def plain(value: object) -> Plain:
    """A value as plain data. Raises TypeError for one of another class than those of the list."""
    from collections.abc import Mapping  # noqa: PLC0415 - what is kept is read far more often

    if value is None or type(value) in {bool, int, str}:
        return value
    if isinstance(value, Mapping):
        return {_text(key): plain(item) for key, item in value.items()}
    if type(value) is tuple:
        return ["", *map(plain, value)]
    name = type(value).__name__
    if name not in _CLASSES or _maker(name) is not type(value):
        raise TypeError(f"{name} is not among the classes that are kept as plain data")
    return [name, *map(plain, _parts(value))]


def _text(key: object) -> str:
    if type(key) is not str:
        raise TypeError("the keys of a mapping are texts")
    return key


def _parts(value: Any) -> Iterable[object]:
    """What a value is made of, in the order in which its class takes it."""
    if type(value).__module__ == "fractions":
        return value.numerator, value.denominator
    if isinstance(value, str):  # a choice of an enumeration
        return (str(value),)
    names: Iterable[str] = getattr(value, "_fields", None) or value.__dataclass_fields__
    return (getattr(value, name) for name in names)


def from_plain(data: Plain) -> Any:
    """The value of plain data. Raises KeyError, TypeError or ValueError where it is of none."""
    kind = type(data)
    if kind is list:
        parts = iter(data)
        made = _maker(next(parts))
        # Most parts are texts, and a call for each would take half the time.
        return made(*[part if type(part) is str else from_plain(part) for part in parts])
    if kind is dict:
        return {key: from_plain(item) for key, item in data.items()}
    return data


@functools.cache
def _maker(name: str) -> Callable[..., object]:
    if not name:
        return lambda *items: items
    made: Callable[..., object] = getattr(importlib.import_module(_CLASSES[name]), name)
    return made
