"""A new order or order set: every field there, each empty, with what may stand in it beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table, load_schema
from orderlint.order import SIGNING_FIELDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.field import Field
    from orderlint.rulebook.rule import Rulebook

_HEAD = ("document", "format")
_COMMENT_AT = 34
_FEW = 60
"""Choices that are longer than this in all are left to the schema."""
_ADDITIVE = "none, or a section with name:, concentration: and class:"
_SET = """\
# A leaf is a value, the same in each order, such as `22 mmHg`; or one of
#   {choose: [20 mmHg, 22 mmHg], preset: 22 mmHg}
#   {from: 40 mL/h, to: 60 mL/h, step: 10 mL/h, preset: 60 mL/h}
#   {blank: required, label: Weight}
# `shown_when:` in a leaf or a section has the condition on which it is part of the form, with
# `limits: {low: 10 mmHg}` beside it for the numbers that the condition names (treat_above < low);
# `offered: {preset: in}` in a section lets whoever signs take it or leave it (preset: out).
# A leaf that stays empty is in no order from the set.
"""


def new_order(_: Rulebook) -> str:
    """The text of an order without a value, which is read as one in which all is missing."""
    head = "# Every field of an order, each still empty. After # stands what may be written.\n"
    fields = [field for path, field in field_table().fields.items() if path not in _HEAD]
    return f"{head}document: order\nformat: 1\n" + "\n".join(_lines(fields, "")) + "\n"


def new_order_set(_: Rulebook) -> str:
    """The text of an order set without a value; what signing adds to an order is left out of it."""
    at_signing = [path for path in field_table().fields if path in SIGNING_FIELDS]
    fields = [
        field
        for path, field in field_table().fields.items()
        if path not in {*_HEAD, *SIGNING_FIELDS}
    ]
    lines = [
        "# Every field of an order set, each still empty. After # stands what may be written.",
        _SET.rstrip(),
        "document: order-set",
        "format: 1",
        *_of_the_set(),
        f"# Written at signing, and so not here: {', '.join(at_signing)}.",
        "order:",
        *_lines(fields, "  "),
    ]
    return "\n".join(lines) + "\n"


def _of_the_set() -> Iterator[str]:
    """What a set says of itself, by its schema."""
    for key, node in load_schema("order-set")["properties"].items():
        if key not in {*_HEAD, "order"}:
            yield _line(key, f"{node['title']}; for example {node['examples'][0]}")


def _lines(fields: Sequence[Field], indent: str) -> Iterator[str]:
    """A line for each field, after one for each section that it is the first field of."""
    begun: set[str] = set()
    for field in fields:
        if any(field.path.startswith(f"{path}.") for path in _leaves_with_parts()):
            continue
        *sections, key = field.path.split(".")
        for depth, name in enumerate(sections):
            section = ".".join(sections[: depth + 1])
            if section not in begun:
                begun.add(section)
                yield f"{indent}{'  ' * depth}{name}:"
        yield _line(f"{indent}{'  ' * len(sections)}{key}", f"{field.name}; {_may_be(field)}")


def _leaves_with_parts() -> list[str]:
    """The leaves in whose place a section may be written."""
    return [path for path in field_table().fields if path in field_table().sections]


def _line(key: str, comment: str) -> str:
    return f"{key}:".ljust(_COMMENT_AT) + f" # {comment}"


def _may_be(field: Field) -> str:
    """What may be written in a field, in words."""
    if field.path in _leaves_with_parts():
        return _ADDITIVE
    choices = " | ".join(field.choices)
    return choices if 0 < len(choices) <= _FEW else f"for example {field.example}"
