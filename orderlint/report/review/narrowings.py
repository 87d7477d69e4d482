"""Words proved narrowings as questions to those who maintain the set.

Never a narrowing of its own, and never a layout.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.order_set.model import OrderSet, Slot, Span, within
from orderlint.quantity_words import format_exactly
from orderlint.report.review.words import leaf_words
from orderlint.report.words import instant_words, name_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.finding import Finding
    from orderlint.order import Leaf
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
    """The widest narrowing of one setting that suffices, as a question; or that there is none.

    Then a condition that would do, if one was found.
    """
    is_whole = item.rule == reviewed.rulebook.rules[item.rule.id]
    where = "" if is_whole else " where the policy does not suppress it"
    then = f"no order from the set would then break {item.rule.id}{where}"
    said = [*_narrowed(item, reviewed, then), *_gated(item, then)]
    return " ".join(said or [_none(item), item.set_finding.ask if item.set_finding else ""])


def _narrowed(item: Broken, reviewed: Reviewed, then: str) -> Iterator[str]:
    if not item.narrowings:
        return
    made = item.narrowings[0]
    if made.is_vacuous:
        then = f"no order from the set would then have what {item.rule.id} speaks of"
    yield f"Would it do to {offer_words(made, reviewed.order_set)}? It is proved that {then}."


def _gated(item: Broken, then: str) -> Iterator[str]:
    made = item.gating
    if made is None:
        return
    offered = f"show the {name_of(made.path)} only where {made.condition} (shown_when:)"
    if item.narrowings:
        yield f"Or to {offered}? That too is proved to do."
    else:
        yield f"Would it do to {offered}? It is proved that {then}."


def _none(item: Broken) -> str:
    """Say that no single change suffices; a change of the patient is never proposed."""
    paths = (path for each in item.nearest.broken for path in each.paths)
    beside = any(within(path, "patient") for path in paths)
    if item.is_open:
        return "It was not settled whether a change to one setting alone would do."
    if beside:
        return "Beside what the patient is like, no narrowing of one setting alone would do."
    return "No narrowing of one setting alone would do."


def joint_narrowings(reviewed: Reviewed) -> tuple[list[str], str]:
    """The narrowings as one change, a line each, and what is proved of them; none if one suffices.

    No lines but a sentence if it is not proved that they suffice together.
    """
    named = [item for item in reviewed.broken if item.is_narrowed]
    if not reviewed.together:
        are_many = any(item.narrowings[0] != named[0].narrowings[0] for item in named)
        return [], "It is not proved that together they would do." if are_many else ""
    rules = [item.rule.id for item in named]
    others = [
        item.rule.id for item in reviewed.broken if item.order_finding and not item.is_narrowed
    ]
    left = f" Of the other broken rules it proves nothing: {', '.join(others)}." if others else ""
    fewer = len(reviewed.together) < len({item.narrowings[0].path for item in named})
    rest = " The others named above would then not be needed." if fewer else ""
    said = f"It is proved that no order from the set would then break {_or(rules)}.{rest}{left}"
    return [offer_words(made, reviewed.order_set) for made in reviewed.together], said


def offer_words(made: Narrowing, order_set: OrderSet) -> str:
    """What a form would offer after a narrowing or, of many unordered options, no longer offer."""
    slot, name = order_set.slots[made.path], name_of(made.path)
    if slot.span is not None:
        return _blank_words(made, slot, slot.span)
    said = [_option(leaf) for leaf in slot.options]
    kept = [said[index] for index in made.kept]
    gone = [text for index, text in enumerate(said) if index not in made.kept]
    preset = ", with another preset" if made.moves_preset else ""
    if len(kept) <= MOST_LISTED:
        without = f", and no longer {_or(gone)}," if len(gone) <= MOST_LISTED else ""
        return f"offer only {_or(kept)}{without} as the {name}{preset}"
    direction = _direction([slot.options[index] for index in made.kept])
    if direction is None:
        return f"no longer offer {_or(gone)} as the {name}{preset}"
    ends = f"{kept[0]}, {kept[1]} and so on {direction} to {kept[-1]}"
    return f"offer only {ends} as the {name}{preset}"


def _blank_words(made: Narrowing, slot: Slot, whole: Span) -> str:
    """What may be written in an unbounded blank, and whether it must be filled in."""
    name = name_of(slot.path)
    must = any(not slot.options[n].given for n in range(len(slot.options)) if n not in made.kept)
    if made.span is None:
        return f"leave out the blank for the {name}"
    if made.span == whole:
        return f"have the blank for the {name} always filled in"
    and_filled = ", and always," if must else ""
    return f"let only {_within(made, whole)}{and_filled} be written in the blank for the {name}"


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
    lowest, highest = ends_of(made.path, span)
    if span.lowest == whole.lowest:
        return f"{highest} or less"
    return f"{lowest} or more" if span.highest == whole.highest else f"{lowest} to {highest}"


def ends_of(path: str, span: Span) -> tuple[str, str]:
    """The ends of a span, cut inwards to what can be written in the first of its units."""
    unit, grid = next(iter(span.grids.items()))
    lowest, highest = -(-span.lowest // grid) * grid, span.highest // grid * grid
    return _end_words(path, lowest, unit), _end_words(path, highest, unit)


def _end_words(path: str, end: int, unit: str) -> str:
    if unit:
        return format_exactly(end, unit)
    return instant_words(end) if field_table().fields[path].kind == "instant" else str(end)


def _or(words: Iterable[str]) -> str:
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last
