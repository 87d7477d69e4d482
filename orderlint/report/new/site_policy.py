"""A new site policy: each value of the built-in one as a comment, to be taken in and changed."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from orderlint.language.types import Listed
from orderlint.report.rules.values import PASSES_MORE
from orderlint.rulebook.policy.builtin import DISPLAY_UNIT, LEFT_OUT, UNITS, is_by_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.language.types import Constant
    from orderlint.rulebook.policy.builtin import PolicyValue
    from orderlint.rulebook.rule import Rulebook

    Parts = Mapping[str, Constant]

_PLAIN = re.compile(r"[A-Za-z0-9-][A-Za-z0-9 %/.'-]*")
_MOST_NAMES = 8
"""A longer list of names is left to `rules --values`, which shows it."""
_SOURCE = "source: {kind: local-policy, note: where it stands}"
_HEAD = """\
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


def new_site_policy(rulebook: Rulebook) -> str:
    """The text of a policy that changes nothing yet. `rulebook` is that of the built-in policy."""
    lines = [line for value in rulebook.values.values() for line in _value(value)]
    return _HEAD + _VALUES + "\n".join(lines) + "\n" + _REST


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
