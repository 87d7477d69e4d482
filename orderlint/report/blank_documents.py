"""The beginnings of new documents, for whoever writes one: an order, an order set, a site policy.

Each is made from the tables that documents are read by. Never a value for a patient.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from orderlint.fields import field_table, load_schema
from orderlint.language.types import Constant, Listed
from orderlint.order import SIGNING_FIELDS
from orderlint.report.rules.policy import PASSES_MORE
from orderlint.rulebook.policy.policy_values import (
    DISPLAY_UNIT,
    LEFT_OUT,
    UNITS,
    PolicyValue,
    is_by_unit,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.field import Field
    from orderlint.rulebook.rule import Rulebook

    Parts = Mapping[str, Constant]

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
_PLAIN = re.compile(r"[A-Za-z0-9-][A-Za-z0-9 %/.'-]*")
_MOST_NAMES = 8
"""A longer list of names is left to `rules --values`, which shows it."""
_SOURCE = "source: {kind: local-policy, note: where it stands}"
_POLICY = """\
# What this hospital or unit changes in the built-in policy. What is not changed stays as built in.
document: site-policy
format: 1
title: a policy that has no name yet    # as each report shows it
"""
_VALUES = """
# Values of the built-in policy. Take the # away from values: and from the lines of a value, and
# write your own and where it stands. `orderlint rules --values` shows which rules ask by it.
#values:
"""
_REST = """
# Rules that weigh more or less here: do-not-start, clarify or note.
#levels:
#  - rule: lower-pause-negative
#    level: do-not-start
#    reason: why it does
#    approved_by: who approved it, by role or committee

# How much it weighs that an order lacks a setting: do-not-start, clarify, note or silent.
#completeness:
#  targets.map: silent

# Rules that are silent for a time.
#suppressions:
#  - rule: missing-position-head-up
#    reason: why it is
#    approved_by: who approved it, by role or committee
#    until: 2027-01-31T00:00:00Z

# Rules of its own stand under rules:, and standing orders for levelling, zeroing, alarms and
# transport under standing_orders:; the schema of policies describes both.
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


def new_site_policy(rulebook: Rulebook) -> str:
    """The text of a policy that changes nothing yet. `rulebook` is that of the built-in policy."""
    lines = [line for value in rulebook.values.values() for line in _value(value)]
    return _POLICY + _VALUES + "\n".join(lines) + "\n" + _REST


def _value(value: PolicyValue) -> Iterator[str]:
    said = f"{value.called}; more orders pass with {PASSES_MORE[value.weaker or 'other']}"
    yield f"#  {value.name}:  # {said}"
    names = value.parts.get("")
    if value.is_by_name or (isinstance(names, Listed) and len(names.items) > _MOST_NAMES):
        yield f"#    # a table of names, too long for here: orderlint rules --values {value.name}"
        return
    if value.by:
        yield f"#    by: {value.by}"
        yield from (f"#    {key}: {_inline(parts)}" for key, parts in value.keyed.items())
    elif not value.parts:
        yield f"#    value: {LEFT_OUT}"
    elif is_by_unit(value.parts):
        yield f"#    by: {DISPLAY_UNIT}"
        yield from (f"#    {unit}: {_text(value.parts[f'.{unit}'])}" for unit in UNITS)
    else:
        yield from (f"#    {entry}" for entry in _entries(value.parts))
    yield f"#    {_SOURCE}"


def _entries(parts: Parts) -> list[str]:
    if ".lowest" in parts:
        return [f"{key}: {_text(parts[f'.{key}'])}" for key in ("lowest", "highest")]
    constant = parts[""]
    return [f"{'list' if isinstance(constant, Listed) else 'value'}: {_text(constant)}"]


def _inline(parts: Parts) -> str:
    """A value for one key of a table, on one line."""
    if not parts:
        return LEFT_OUT
    if is_by_unit(parts):
        each = ", ".join(f"{unit}: {_text(parts[f'.{unit}'])}" for unit in UNITS)
        return f"{{by: {DISPLAY_UNIT}, {each}}}"
    return f"{{{', '.join(_entries(parts))}}}" if "" not in parts else _text(parts[""])


def _text(constant: Constant) -> str:
    if isinstance(constant, Listed):
        return f"[{', '.join(_text(item) for item in constant.items)}]"
    plain = _PLAIN.fullmatch(constant.text)
    return constant.text if plain else json.dumps(constant.text, ensure_ascii=False)
