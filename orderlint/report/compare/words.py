"""The words of a comparison of two orders that its text and JSON share.

Fixed words around what was found. Never a decision, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.comparison.setting_changes import How
from orderlint.fields import BEFORE, field_table
from orderlint.finding import Level, Verdict
from orderlint.report.order.table import not_had, stretch_parts
from orderlint.report.words import LEVELS, NOT_IN_TABLE, VERDICTS
from orderlint.templates import LONGEST_QUOTE, beside
from orderlint.units import number_words, quantity_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.setting_changes import Setting
    from orderlint.finding import Unchecked
    from orderlint.order import Leaf
    from orderlint.verification import Verified

_SENTENCES = {
    Verdict.DO_NOT_START: "Do not key in or start the second order before this is settled.",
    Verdict.CLARIFY: "Ask about the points named here before the second order is keyed in.",
    Verdict.INCOMPLETE: (
        "No point to call about was found, but part of the change, or of the second order, could "
        "not be checked. What was not checked is not known to be sound."
    ),
    Verdict.NOTE: "No point to call or ask about was found. Read the notes before going on.",
    Verdict.CLEAR: (
        "None of the rules asked found anything in the change or in the second order. That alone "
        "does not make either right for this patient."
    ),
}
_ACTIVE = {
    Verdict.DO_NOT_START: "An order of the two is active. Call now, and have this settled.",
    Verdict.CLARIFY: "An order of the two is active. Ask about the points named here.",
    Verdict.NOTE: "No point to call or ask about was found. Read the notes.",
}
AROUND = 30
"""Characters quoted before the place at which two long texts first differ."""
_SAME = {
    "pressure": "the same pressure",
    "flow": "the same rate",
    "volume": "the same volume",
    "duration": "the same time",
    "mass": "the same weight",
    "angle": "the same angle",
}

COVERS = (
    "This compares the two orders as they are written. It does not see what is keyed in, hung or "
    "running, and does not read what a free text means."
)


def verdict_words(found: ComparedOrders) -> tuple[str, str]:
    """The verdict, and what follows from it."""
    sentence = _SENTENCES[found.verdict]
    if is_active(found):
        sentence = _ACTIVE.get(found.verdict, sentence)
    return VERDICTS[found.verdict][0], sentence


def own_words(found: ComparedOrders) -> Iterator[str]:
    """That the later order has something to settle whatever was changed, if it has."""
    if found.after.assessment.findings or found.after.assessment.unchecked:
        label = VERDICTS[found.after.assessment.verdict][0]
        yield f"The second order by itself is: {label}. See below, “Each order by itself”."


def is_active(found: ComparedOrders) -> bool:
    """Whether either order says that it is running."""
    orders = (found.before.order, found.after.order)
    return any(order.leaves["status"].value == "active" for order in orders)


def setting_words(row: Setting) -> str:
    """One setting before and now, and how the two differ."""
    name = field_table().trade_name(row.path)
    before, after = _side(row.before, row.after), _side(row.after, row.before)
    return f"{name}: {before} before, {after} now{_how(row)}"


def _side(leaf: Leaf, other: Leaf) -> str:
    if not leaf.given:
        return "not written"
    if field_table().fields[leaf.path].kind == "text":
        return f"“{_where_they_differ(leaf.text, other.text)}”"
    return beside(leaf, other)


def _where_they_differ(text: str, other: str) -> str:
    """A text on one line, or the part of a long one in which it first differs from the other."""
    line, beside_it = " ".join(text.split()), " ".join(other.split())
    if len(line) <= LONGEST_QUOTE:
        return line
    pairs = enumerate(zip(line, beside_it, strict=False))
    parts_at = next((n for n, (ours, theirs) in pairs if ours != theirs), len(beside_it))
    start = max(0, parts_at - AROUND)
    piece = line[start : start + LONGEST_QUOTE]
    return f"{'…' if start else ''}{piece}{'…' if start + LONGEST_QUOTE < len(line) else ''}"


def _how(row: Setting) -> str:
    if row.how is How.OPEN:
        unreadable = [leaf.given and not leaf.known for leaf in (row.before, row.after)]
        which = "neither can" if all(unreadable) else "one of the two cannot"
        return f"; could not be compared, as {which} be read"
    if row.how is How.UNIT_ALONE:
        dimension = field_table().fields[row.path].dimension or ""
        return f", {_SAME[dimension]} in another unit"
    return _how_far(row)


def _how_far(row: Setting) -> str:
    """How much a quantity is changed: of a pressure or an angle by how much, else how many times.

    Levels of pressure count from a landmark, so that twice as much says nothing of them.
    """
    before, after, unit = row.before.value, row.after.value, row.after.unit
    if unit is None or not isinstance(before, int) or not isinstance(after, int):
        return ""
    if field_table().fields[row.path].dimension in {"pressure", "angle"}:
        word = "more" if after > before else "less"
        return f", {quantity_words(abs(after - before), unit)} {word}"
    return f", {number_words(row.factor)} times as much" if row.factor is not None else ""


def change_words(found: ComparedOrders) -> Iterator[str]:
    """The settings that differ, a line each."""
    yield from map(setting_words, found.settings)


def signed_words(found: ComparedOrders) -> Iterator[str]:
    """The facts of signing that differ, a line each."""
    yield from map(setting_words, found.signed)


def stretch_words(found: ComparedOrders) -> Iterator[str]:
    """What the controller would do otherwise, a line for each stretch of ICP."""
    lacking = lacking_of(found)
    if lacking:
        said = ", ".join(not_had(path, found.leaves[path]) for path in lacking)
        yield f"This cannot be said, for lack of: {said}."
        return
    shown = found.after.order.leaves["display_unit"].value
    for stretch in found.stretches:
        where, before, after = stretch_parts(stretch, shown)
        yield f"{where[0].upper()}{where[1:]}. Before: {before}. Now: {after}."
    if not found.stretches:
        yield "By either order the controller does the same at each pressure."
    yield NOT_IN_TABLE


def lacking_of(found: ComparedOrders) -> tuple[str, ...]:
    """The settings of either order for lack of which its behaviour cannot be said."""
    before = (f"{BEFORE}{path}" for path in found.before.behaviour.lacking)
    return (*before, *found.after.behaviour.lacking)


def by_itself(verified: Verified) -> str:
    """What `verify` says of an order, in a line."""
    levels = [finding.level for finding in verified.assessment.findings]
    counts = [f"{levels.count(level)} {LEVELS[level]}" for level in Level if level in levels]
    said = f"{_count(levels)}: {', '.join(counts)}" if counts else "no finding"
    open_rules = verified.assessment.unchecked
    left = f"; {_rules(open_rules)} could not be checked" if open_rules else ""
    return f"{verified.file}: {VERDICTS[verified.assessment.verdict][0]} ({said}{left})."


def _count(levels: Sequence[Level]) -> str:
    return "1 finding" if len(levels) == 1 else f"{len(levels)} findings"


def _rules(unchecked: Sequence[Unchecked]) -> str:
    return "1 rule" if len(unchecked) == 1 else f"{len(unchecked)} rules"


def unchecked_words(found: ComparedOrders) -> Iterator[str]:
    """The rules on changes that could not be checked, with what they lack."""
    groups: dict[tuple[str, ...], list[Unchecked]] = {}
    for rule in found.assessment.unchecked:
        groups.setdefault(rule.missing, []).append(rule)
    for paths, rules in groups.items():
        lacking = ", ".join(not_had(path, found.leaves[path]) for path in paths)
        ids = ", ".join(rule.rule for rule in rules)
        heaviest = LEVELS[max((rule.level for rule in rules), key=lambda level: level.weight)]
        heavy = heaviest if len(rules) == 1 else f"the heaviest {heaviest}"
        yield f"For lack of {lacking}: {_rules(rules)}, {heavy}: {ids}."
