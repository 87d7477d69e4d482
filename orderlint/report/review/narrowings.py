"""Words proved narrowings as questions to those who maintain the set.

Never a narrowing of its own, and never a layout.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.order_set.model import within
from orderlint.quantity_words import format_quantity
from orderlint.report.review.words import leaf_words, name_of
from orderlint.report.words import instant_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.finding import Finding
    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet, Span
    from orderlint.proof.narrowing import Narrowing
    from orderlint.set_review import Broken, Reviewed

MOST_LISTED = 6
"""Options that a question names one by one."""


def asked(reviewed: Reviewed) -> tuple[Finding, ...]:
    """The findings, those of broken rules with the narrowing as what is asked."""
    asks = {
        item.set_finding: narrowing(item, reviewed) for item in reviewed.broken if item.set_finding
    }
    return tuple(f._replace(ask=asks.get(f, f.ask)) for f in reviewed.assessment.findings)


def narrowing(item: Broken, reviewed: Reviewed) -> str:
    """The widest narrowing of one setting that suffices, as a question; or that there is none."""
    if not item.narrowings:
        return f"{_none(item)} {item.set_finding.ask if item.set_finding else ''}"
    offered = offer_words(item.narrowings[0], reviewed.order_set)
    is_whole = item.rule == reviewed.rulebook.rules[item.rule.id]
    where = "" if is_whole else " where the policy does not suppress it"
    return (
        f"Would it do to {offered}? It is proved that no order from the set would then break "
        f"{item.rule.id}{where}."
    )


def _none(item: Broken) -> str:
    """Say that no single change suffices; a change of the patient is never proposed."""
    paths = (path for each in item.nearest.broken for path in each.paths)
    if any(within(path, "patient") for path in paths):
        return "Beside what the patient is like, no change to one setting alone would do."
    return "No change to one setting alone would do."


def joint_narrowings(reviewed: Reviewed) -> tuple[list[str], str]:
    """The narrowings as one change, a line each, and what is proved of them; none if one suffices.

    No lines but a sentence if it is not proved that they suffice together.
    """
    named = [item for item in reviewed.broken if item.narrowings]
    if not reviewed.together:
        are_many = any(item.narrowings[0] != named[0].narrowings[0] for item in named)
        return [], "It is not proved that together they would do." if are_many else ""
    rules = [item.rule.id for item in named]
    others = [
        item.rule.id for item in reviewed.broken if item.order_finding and not item.narrowings
    ]
    left = f" Of the other broken rules it proves nothing: {', '.join(others)}." if others else ""
    fewer = len(reviewed.together) < len({item.narrowings[0].path for item in named})
    rest = " The others named above would then not be needed." if fewer else ""
    said = f"It is proved that no order from the set would then break {_or(rules)}.{rest}{left}"
    return [offer_words(made, reviewed.order_set) for made in reviewed.together], said


def made_together(offers: Sequence[str]) -> str:
    """What is asked of the narrowings that are needed together."""
    which = "this one change alone" if len(offers) == 1 else "all of these changes"
    return f"Would it do to make {which}?"


def together_words(reviewed: Reviewed) -> str:
    """The same in one text; '' where there is nothing to say of it."""
    offers, said = joint_narrowings(reviewed)
    return f"Would it do to {'; and to '.join(offers)}? {said}" if offers else said


def offer_words(made: Narrowing, order_set: OrderSet) -> str:
    """What a form would offer after a narrowing or, of many unordered options, no longer offer."""
    slot, name = order_set.slots[made.path], name_of(made.path)
    if made.span is not None and slot.span is not None:
        return f"let only {_within(made, slot.span)} be written in the blank for the {name}"
    said = [_option(leaf) for leaf in slot.options]
    kept = [said[index] for index in made.kept]
    gone = [text for index, text in enumerate(said) if index not in made.kept]
    if len(kept) <= MOST_LISTED:
        without = f", and no longer {_or(gone)}," if len(gone) <= MOST_LISTED else ""
        return f"offer only {_or(kept)}{without} as the {name}"
    direction = _direction([slot.options[index] for index in made.kept])
    if direction is None:
        return f"no longer offer {_or(gone)} as the {name}"
    return f"offer only {kept[0]}, {kept[1]} and so on {direction} to {kept[-1]} as the {name}"


def _direction(kept: Sequence[Leaf]) -> str | None:
    """The direction of evenly spaced numbers, up or down; None for anything else."""
    values = [leaf.value for leaf in kept if isinstance(leaf.value, int)]
    steps = {after - before for before, after in pairwise(values)}
    if len(steps) != 1 or 0 in steps or len(values) < len(kept):
        return None
    return "up" if steps.pop() > 0 else "down"


def _option(leaf: Leaf) -> str:
    """An option as the set has it; words in quotes, so that they are not read as the sentence's."""
    if not leaf.given:
        return "an empty field"
    return f"“{leaf_words(leaf)}”" if isinstance(leaf.value, str) else leaf_words(leaf)


def _within(made: Narrowing, whole: Span) -> str:
    """What remains of a span, rounded inwards to what can be written in its first unit."""
    span = made.span
    assert span is not None
    unit, grid = next(iter(span.grids.items()))
    lowest = _end_words(made.path, -(-span.lowest // grid) * grid, unit)
    highest = _end_words(made.path, span.highest // grid * grid, unit)
    if span.lowest == whole.lowest:
        return f"{highest} or less"
    return f"{lowest} or more" if span.highest == whole.highest else f"{lowest} to {highest}"


def _end_words(path: str, end: int, unit: str) -> str:
    if unit:
        return format_quantity(end, unit)
    return instant_words(end) if field_table().fields[path].kind == "instant" else str(end)


def _or(words: Iterable[str]) -> str:
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last
