"""The words of a comparison of two orders, shared by its text and its JSON.

Never a decision, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.comparison.setting_changes import ChangeKind, SettingChange
from orderlint.fields import BEFORE, field_table
from orderlint.finding import Level
from orderlint.quantity_words import display_quantity, format_number
from orderlint.report.order.segment_words import difference_parts, no_table
from orderlint.report.order.words import as_far_as_read
from orderlint.report.words import (
    LABELS,
    LEVELS,
    NOT_IN_TABLE,
    OF_CHANGE,
    OF_CHANGE_WHILE_ACTIVE,
    counted,
)
from orderlint.templates import LONGEST_QUOTE, quote_both_units

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.order import Leaf
    from orderlint.verification import Verified

AROUND = 30
"""Characters quote before the place at which two long texts first differ."""
_SAME = {
    "pressure": "the same pressure",
    "flow": "the same rate",
    "volume": "the same volume",
    "duration": "the same time",
    "mass": "the same weight",
    "angle": "the same angle",
    "concentration": "the same concentration",
}

BY_ITSELF = "Each order by itself, and what is found in the second"
COVERS = (
    "This compares the two orders as they are written. It does not see what is keyed in, hung or "
    "running, and does not read what a free text means."
)


def verdict_words(found: ComparedOrders) -> tuple[str, str]:
    """The verdict, and what follows from it."""
    sentence = OF_CHANGE[found.verdict]
    if is_active(found):
        sentence = OF_CHANGE_WHILE_ACTIVE.get(found.verdict, sentence)
    label = f"{LABELS[found.verdict]}{as_far_as_read(found.verdict, found.not_checked)}"
    return label, sentence


def own_words(found: ComparedOrders) -> Iterator[str]:
    """Say that the later order by itself has findings or unchecked rules, if it has."""
    if found.after.assessment.findings or found.after.assessment.unchecked:
        label = LABELS[found.after.assessment.verdict]
        yield f"The second order by itself is: {label}. See below, “{BY_ITSELF}”."


def is_active(found: ComparedOrders) -> bool:
    """True if either order is active."""
    orders = (found.before.order, found.after.order)
    return any(order.leaves["status"].value == "active" for order in orders)


def change_words(found: ComparedOrders) -> Iterator[str]:
    """Each setting that is changed; levels that only follow the display's unit in one line."""
    yield from (setting_words(row) for row in found.settings if row.path not in found.reworded)
    if found.reworded:
        unit = found.after.order.leaves["display_unit"].value
        levels = counted(len(found.reworded), "level")
        yield f"{levels} now in {unit}, within 1 cmH2O of what was written before."


def setting_words(row: SettingChange) -> str:
    """One setting before and now, and how the two differ."""
    name = field_table().display_name(row.path)
    before, after = _side(row.before, row.after), _side(row.after, row.before)
    return f"{name}: {before} before, {after} now{_how(row)}"


def _side(leaf: Leaf, other: Leaf) -> str:
    if not leaf.given:
        return "not written"
    if field_table().fields[leaf.path].kind == "text":
        return f"“{_where_they_differ(leaf.text, other.text)}”"
    return quote_both_units(leaf, other)


def _where_they_differ(text: str, other: str) -> str:
    """A text on one line; of a long one, the part in which it first differs from the other."""
    line, beside_it = " ".join(text.split()), " ".join(other.split())
    if len(line) <= LONGEST_QUOTE:
        return line
    pairs = enumerate(zip(line, beside_it, strict=False))
    parts_at = next((n for n, (ours, theirs) in pairs if ours != theirs), len(beside_it))
    start = max(0, parts_at - AROUND)
    piece = line[start : start + LONGEST_QUOTE]
    return f"{'…' if start else ''}{piece}{'…' if start + LONGEST_QUOTE < len(line) else ''}"


def _how(row: SettingChange) -> str:
    if row.kind is ChangeKind.OPEN:
        unreadable = [leaf.given and not leaf.known for leaf in (row.before, row.after)]
        which = "neither can" if all(unreadable) else "one of the two cannot"
        return f"; could not be compared, as {which} be read"
    if row.kind is ChangeKind.UNIT_ALONE:
        dimension = field_table().fields[row.path].dimension or ""
        return f", {_SAME[dimension]} in another unit"
    return _how_far(row)


def _how_far(row: SettingChange) -> str:
    """By how much a quantity is changed: a pressure or angle by the difference, else by the factor.

    Levels of pressure count from a landmark, so that twice as much says nothing of them.
    """
    before, after, unit = row.before.value, row.after.value, row.after.unit
    if unit is None or not isinstance(before, int) or not isinstance(after, int):
        return ""
    if field_table().fields[row.path].dimension in {"pressure", "angle"}:
        word = "more" if after > before else "less"
        return f", {display_quantity(abs(after - before), unit)} {word}"
    return f", {format_number(row.factor)} times as much" if row.factor is not None else ""


def behaviour_lines(found: ComparedOrders) -> Iterator[str]:
    """Where the behaviour of the controller differs, a line for each interval of ICP."""
    missing = missing_for_behaviour(found)
    if missing:
        yield no_table(missing, found.leaves)
        return
    shown = found.after.order.leaves["display_unit"].value
    for difference in found.differences:
        where, before, after = difference_parts(difference, shown)
        yield f"{where[0].upper()}{where[1:]}. Before: {before}. Now: {after}."
    if not found.differences:
        yield "By either order the controller opens, closes and warns at the same pressures."
    yield NOT_IN_TABLE


def missing_for_behaviour(found: ComparedOrders) -> tuple[str, ...]:
    """The missing settings of either order without which its behaviour is unknown."""
    before = (f"{BEFORE}{path}" for path in found.before.behaviour.missing)
    return (*before, *found.after.behaviour.missing)


def own_verdict(verified: Verified) -> str:
    """The verdict of `verify` on one order, and the number of findings, in a line."""
    levels = [finding.level for finding in verified.assessment.findings]
    counts = [f"{levels.count(level)} {LEVELS[level]}" for level in Level if level in levels]
    said = f"{counted(len(levels), 'finding')}: {', '.join(counts)}" if counts else "no finding"
    left = (
        f"; {counted(len(verified.assessment.unchecked), 'rule')} could not be checked"
        if verified.assessment.unchecked
        else ""
    )
    return f"{verified.file}: {LABELS[verified.assessment.verdict]} ({said}{left})."
