"""Writes a document that is a mapping as JSON text, which is then read like a file.

Values are written as they are: Decimal('22.0') as 22.0. Never a float, never a field's meaning.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from orderlint.finding import Place, Refused
from orderlint.reading.limits import DEEPEST, too_deep_refusal

_HELD = "A value is text, an int, a bool, a Decimal, a date or datetime, a mapping or a list."


def mapping_text(document: Mapping[str, object], name: str) -> str:
    """The JSON text of `document`, an entry a line, so that places tell entries apart.

    `name` is what a refusal names as the file. Raises Refused, with the path of the key, for a
    float and whatever else no document can hold.
    """
    return _value(document, name, ()) + "\n"


def _value(value: object, name: str, path: tuple[str, ...]) -> str:
    if len(path) > DEEPEST:
        raise too_deep_refusal(Place(name, 1, 1))
    if isinstance(value, Mapping):
        entries = (_entry(key, item, name, path) for key, item in value.items())
        return _inside("{", entries, "}", len(path))
    if isinstance(value, (list, tuple)):
        items = (_value(item, name, (*path, str(index))) for index, item in enumerate(value))
        return _inside("[", items, "]", len(path))
    return _scalar(value, name, path)


def _inside(opening: str, parts: Iterable[str], closing: str, depth: int) -> str:
    margin = "  " * depth
    lines = ",\n".join(f"{margin}  {part}" for part in parts)
    return f"{opening}\n{lines}\n{margin}{closing}" if lines else opening + closing


def _entry(key: object, value: object, name: str, path: tuple[str, ...]) -> str:
    if not isinstance(key, str):
        where = f" in {'.'.join(path)}" if path else ""
        raise Refused(f"The key {key!r}{where} is {_kind(key)}. A key is text.", name)
    return f"{json.dumps(key, ensure_ascii=False)}: {_value(value, name, (*path, key))}"


def _scalar(value: object, name: str, path: tuple[str, ...]) -> str:
    if value is None or isinstance(value, (bool, str)):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, date):  # a datetime is one too
        return json.dumps(value.isoformat())
    if isinstance(value, int):
        return _whole(value, name, path)
    if isinstance(value, Decimal) and value.is_finite():
        return str(value)
    raise _refused(value, name, path)


def _whole(value: int, name: str, path: tuple[str, ...]) -> str:
    try:
        return int.__repr__(value)
    except ValueError:  # Python writes only so many digits
        raise Refused(f"{'.'.join(path)} has too many digits.", name) from None


def _refused(value: object, name: str, path: tuple[str, ...]) -> Refused:
    where = ".".join(path)
    if isinstance(value, float):
        help_ = "A float is not what was written; give the text, or a Decimal."
        return Refused(f"{where} is {value!r}, a float. {help_}", name)
    if isinstance(value, Decimal):
        return Refused(f"{where} is {value}, which is not a number that an order can hold.", name)
    return Refused(f"{where} is {_kind(value)}. {_HELD}", name)


def _kind(value: object) -> str:
    kind = type(value).__name__
    return f"{'an' if kind[:1].lower() in 'aeiou' else 'a'} {kind}"
