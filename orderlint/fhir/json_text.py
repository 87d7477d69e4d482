"""Writes FHIR resources as JSON text, a number letter by letter as it was written.

Never a float, and never which elements a resource has.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterable


class Number(str):
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
    if isinstance(value, dict):
        entries = (f"{json.dumps(key)}: {_value(item, deeper)}" for key, item in value.items())
        return _inside("{", entries, "}", margin)
    return _inside("[", (_value(item, deeper) for item in value), "]", margin)


def _flat(value: Json) -> str:
    if isinstance(value, dict):
        return (
            f"{{{', '.join(f'{json.dumps(key)}: {_flat(item)}' for key, item in value.items())}}}"
        )
    if isinstance(value, list):
        return f"[{', '.join(map(_flat, value))}]"
    return value if isinstance(value, Number) else json.dumps(value, ensure_ascii=False)


def _inside(opening: str, parts: Iterable[str], closing: str, margin: str) -> str:
    lines = ",\n".join(f"{margin}  {part}" for part in parts)
    return f"{opening}\n{lines}\n{margin}{closing}"
