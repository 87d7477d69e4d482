"""Writes FHIR resources as JSON text, a number letter by letter as it was written.

Never a float, and never which elements a resource has.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable


class JsonNumber(str):
    """A number of JSON by its letters."""

    __slots__ = ()


Json: TypeAlias = "str | bool | list[Json] | dict[str, Json]"
_WIDEST = 140


def json_text(resource: Json) -> str:
    """The JSON text, ending in a line feed; the same resource, the same text.

    What fits on a line stands on one.
    """
    return f"{_value(resource, '')}\n"


def _value(value: Json, margin: str) -> str:
    flat = _flat(value)
    if isinstance(value, str | bool) or len(margin) + len(flat) <= _WIDEST:
        return flat
    deeper = f"{margin}  "
    parts = _parts(value, lambda item: _value(item, deeper))
    lines = ",\n".join(f"{deeper}{part}" for part in parts)
    return f"{flat[0]}\n{lines}\n{margin}{flat[-1]}"


def _flat(value: Json) -> str:
    if isinstance(value, str | bool):
        return value if isinstance(value, JsonNumber) else json.dumps(value, ensure_ascii=False)
    parts = ", ".join(_parts(value, _flat))
    return f"{{{parts}}}" if isinstance(value, dict) else f"[{parts}]"


def _parts(value: list[Json] | dict[str, Json], text: Callable[[Json], str]) -> Iterable[str]:
    """The text of each item of a list, or of each member after its name."""
    if isinstance(value, dict):
        return (f"{json.dumps(key)}: {text(item)}" for key, item in value.items())
    return map(text, value)
