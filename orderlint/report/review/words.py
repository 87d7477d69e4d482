"""The words of a review that its text, JSON and forms for CI share: picks, proofs, what they cover.

Fixed words and names. Never a proof, and never a layout.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from orderlint.fields import field_table, in_sentence
from orderlint.proof import Result
from orderlint.report.words import LEVELS, instant_words
from orderlint.units import quantity_words
from orderlint.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.finding import Finding
    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet, Span
    from orderlint.proof import Narrowing, Pick, Taking
    from orderlint.review import Broken, Reviewed

MOST_LISTED = 6
"""Options that a question names one by one."""

RESULTS = {
    Result.BROKEN: "Broken: some order from the set breaks it",
    Result.NOT_PROVED: "Not proved: it is not known whether an order from the set breaks it",
    Result.UNDETERMINED: "Left open: what may stay empty or unreadable can leave it unchecked",
    Result.PROVED: "Proved: every order from the set keeps it",
    Result.VACUOUS: "Proved, as it speaks of no order from the set",
    Result.AT_SIGNING: "Left to signing: it rests on what is written when an order is signed",
    Result.INACTIVE: "Not asked",
}
"""What became of a rule, heaviest first."""

IN_PART = "Of those named above, in part left to signing"
"""Rules of which something was decided, and not all."""

COVERS = (
    "A proof covers every order that can be picked from this set as it stands in the file, under "
    "this policy, with blanks filled in readably and without notation that can be misread. It does "
    "not cover free text, facts of signing such as times, or any change made to an order after it "
    "was picked: check each signed order with verify."
)


def picks(item: Broken) -> list[str]:
    """What has to be picked for the nearest order that breaks a rule; empty for the presets."""
    picked = (pick for pick in item.nearest.picks if pick.departs or pick.preset is None)
    return [*taking_words(item.nearest.ticks), *map(pick_words, picked)]


def taking_words(ticks: Iterable[Taking]) -> list[str]:
    """The sections that are taken, or not, against what is preset."""
    return [
        f"{name_of(taking.path)}: {'taken' if taking.taken else 'not taken'}"
        for taking in ticks
        if taking.taken != taking.preset
    ]


def pick_words(pick: Pick) -> str:
    """What is picked at a setting, and what is preset there if that is something else."""
    instead = f" (preset: {leaf_words(pick.preset)})" if pick.preset and pick.departs else ""
    return f"{name_of(pick.path)}: {leaf_words(pick.leaf)}{instead}"


def name_of(path: str) -> str:
    """The trade name of a setting or section, as it stands in a sentence."""
    return in_sentence(field_table().trade_name(path))


def leaf_words(leaf: Leaf) -> str:
    """What stands at a leaf, as written where it was written."""
    if not leaf.given:
        return "left empty"
    if leaf.text:
        return quoted(leaf.text)
    if isinstance(leaf.value, int) and leaf.unit:
        return quantity_words(leaf.value, leaf.unit)
    return str(leaf.value) if leaf.known else "cannot be read"


def verify_says(item: Broken) -> str:
    """What `verify` finds on the nearest order that breaks a rule; '' where the policy hides it."""
    found = item.found
    if found is None:
        return ""
    return (
        f"Of that order verify says: {LEVELS[found.level]}, by the rule {found.rule}. "
        f"Ask the {found.ask_whom}: {found.ask}"
    )


def asked(reviewed: Reviewed) -> tuple[Finding, ...]:
    """The findings, those of broken rules with the narrowing as what is asked."""
    asks = {item.said: narrowing(item, reviewed) for item in reviewed.broken if item.said}
    return tuple(f._replace(ask=asks.get(f, f.ask)) for f in reviewed.findings)


def narrowing(item: Broken, reviewed: Reviewed) -> str:
    """The widest change to one setting that would do, as a question; or that there is none."""
    if not item.narrowings:
        ask = item.said.ask if item.said else ""
        return f"No change to one setting alone would do. {ask}"
    offered = offer_words(item.narrowings[0], reviewed.order_set)
    whole = reviewed.rulebook.rules[item.rule.id].instances
    where = "" if item.rule.instances == whole else " where the policy does not suppress it"
    return (
        f"Would it do to {offered}? It is proved that no order from the set would then break "
        f"{item.rule.id}{where}."
    )


def together(reviewed: Reviewed) -> str:
    """The narrowings as one change, as a question; '' where there is none."""
    if not reviewed.together:
        return ""
    offers = "; and to ".join(offer_words(m, reviewed.order_set) for m in reviewed.together)
    rules = _or(item.rule.id for item in reviewed.broken if item.narrowings)
    others = [item.rule.id for item in reviewed.broken if item.said and not item.narrowings]
    left = f" It leaves open: {', '.join(others)}." if others else ""
    return (
        f"Would it do to {offers}? It is proved that no order from the set would then break "
        f"{rules}.{left}"
    )


def offer_words(made: Narrowing, order_set: OrderSet) -> str:
    """What a form would offer after a change, or, of many options in no order, no longer offer."""
    slot, name = order_set.slots[made.path], name_of(made.path)
    if made.span is not None:
        return f"let only {_within(made.path, made.span)} be written in the blank for the {name}"
    said = [leaf_words(leaf) if leaf.given else "an empty field" for leaf in slot.options]
    kept = [said[index] for index in made.kept]
    gone = [text for index, text in enumerate(said) if index not in made.kept]
    if len(kept) <= MOST_LISTED:
        return f"offer only {_or(kept)} as the {name}"
    direction = _direction([slot.options[index] for index in made.kept])
    if direction is None:
        return f"no longer offer {_or(gone)} as the {name}"
    return f"offer only {kept[0]}, {kept[1]} and so on {direction} to {kept[-1]} as the {name}"


def _direction(kept: Sequence[Leaf]) -> str | None:
    """Which way numbers go that each are the same step from the one before; None of all else."""
    values = [leaf.value for leaf in kept if isinstance(leaf.value, int)]
    steps = {after - before for before, after in pairwise(values)}
    if len(steps) != 1 or 0 in steps or len(values) < len(kept):
        return None
    return "up" if steps.pop() > 0 else "down"


def _within(path: str, span: Span) -> str:
    """The ends of a span, cut inwards to what can be written in its first unit."""
    unit, grid = next(iter(span.grids.items()))
    ends = (-(-span.lowest // grid) * grid, span.highest // grid * grid)
    if unit:
        return " to ".join(quantity_words(end, unit) for end in ends)
    is_time = field_table().fields[path].kind == "instant"
    return " to ".join(map(instant_words if is_time else str, ends))


def _or(words: Iterable[str]) -> str:
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last


def count(reviewed: Reviewed) -> str:
    """How many orders the set can yield."""
    found = reviewed.count
    most = "" if found.is_exact else "at most "
    left = ", ".join(name_of(path) for path in found.left_out)
    beside = f", blanks without bounds left out ({left})" if left else ""
    return f"The set can yield {most}{found.orders:,} different orders{beside}."


def heading(order_set: OrderSet) -> str:
    """The set, by its own facts."""
    head = order_set.head
    title = f"“{quoted(head['title'])}”" if "title" in head else "without a title"
    said = [f"order set {title}", f"version {quoted(head.get('version', 'not written'))}"]
    if "population" in head:
        said.append(f"for: {quoted(head['population'])}")
    return f"{order_set.file}: {', '.join(said)}."


def proved(reviewed: Reviewed) -> dict[Result, list[str]]:
    """The ids of rules by what became of them, heaviest first."""
    found: dict[Result, list[str]] = {result: [] for result in Result}
    for proof in reviewed.proofs:
        found[proof.result].append(proof.rule)
    return {result: rules for result, rules in found.items() if rules}


def in_part(reviewed: Reviewed) -> list[str]:
    """The rules of which something was decided, and the rest is judged at signing."""
    unasked = (Result.AT_SIGNING, Result.INACTIVE)
    return [p.rule for p in reviewed.proofs if p.at_signing and p.result not in unasked]


def summary(reviewed: Reviewed) -> str:
    """How many rules came out how, in one sentence."""
    counts = {result: len(rules) for result, rules in proved(reviewed).items()}
    words = {
        Result.BROKEN: "broken by some order",
        Result.NOT_PROVED: "not proved",
        Result.UNDETERMINED: "left open",
        Result.VACUOUS: "proved as they speak of no order",
        Result.PROVED: "proved",
        Result.AT_SIGNING: "left to signing",
        Result.INACTIVE: "not asked",
    }
    said = [f"{count} {words[result]}" for result, count in counts.items()]
    partly = len(in_part(reviewed))
    beside = f" Of those decided, {partly} are left to signing in part." if partly else ""
    return f"Of {len(reviewed.proofs)} rules: {', '.join(said)}.{beside}"


def checked(reviewed: Reviewed, when: str) -> str:
    """What was reviewed, and by what."""
    rules = f"{len(reviewed.proofs)} rules on orders"
    return (
        f"{reviewed.file} as an order set, by the schema of order sets (order-set, format 1) and "
        f"{rules}, under “{reviewed.rulebook.policy}”{when}. {summary(reviewed)} {count(reviewed)}"
    )
