"""The words of a review that its text, JSON and forms for CI share: picks, proofs, what they cover.

Fixed words and names. Never a proof, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table, in_sentence
from orderlint.proof import Result
from orderlint.units import quantity_words
from orderlint.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet
    from orderlint.proof import Pick, Taking
    from orderlint.review import Broken, Reviewed

MOST_LISTED = 6
"""Options that a question names one by one."""

RESULTS = {
    Result.BROKEN: "Broken by an order from the set",
    Result.NOT_PROVED: "Not proved",
    Result.UNDETERMINED: "Left open by what may stay empty or unreadable",
    Result.VACUOUS: "Of no order from the set (its condition never holds)",
    Result.PROVED: "Proved of every order from the set",
    Result.AT_SIGNING: "Judged when an order is signed, not here",
    Result.INACTIVE: "Not asked",
}
"""What became of a rule, heaviest first."""

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


def narrowing(item: Broken, reviewed: Reviewed) -> str:
    """The widest change to one setting that would do, as a question; or that there is none."""
    if not item.narrowings:
        return "No change to one setting alone would do."
    made = item.narrowings[0]
    name = name_of(made.path)
    if made.span is not None:
        unit = next(iter(made.span.grids))
        ends = " to ".join(
            quantity_words(end, unit) for end in (made.span.lowest, made.span.highest)
        )
        offered = f"{ends} in the blank for the {name}"
    else:
        slot = reviewed.order_set.slots[made.path]
        kept = [leaf_words(slot.options[index]) for index in made.kept]
        offered = f"{_listed(kept)} as the {name}"
    return (
        f"For those who keep the set: would it do to offer only {offered}? With that change alone "
        "this rule is proved of every order."
    )


def _listed(kept: list[str]) -> str:
    if len(kept) <= MOST_LISTED:
        return ", ".join(kept)
    return f"{kept[0]}, {kept[1]} and so on up to {kept[-1]} ({len(kept)} options)"


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
    title = f"order set {quoted(head['title'])}" if "title" in head else "order set without a title"
    said = [title, f"version {quoted(head.get('version', 'not written'))}"]
    if "population" in head:
        said.append(f"for: {quoted(head['population'])}")
    return f"{order_set.file}: {', '.join(said)}."


def proved(reviewed: Reviewed) -> dict[Result, list[str]]:
    """The ids of rules by what became of them, heaviest first."""
    found: dict[Result, list[str]] = {result: [] for result in Result}
    for proof in reviewed.proofs:
        found[proof.result].append(proof.rule)
    return {result: rules for result, rules in found.items() if rules}


def summary(reviewed: Reviewed) -> str:
    """How many rules came out how, in one sentence."""
    counts = {result: len(rules) for result, rules in proved(reviewed).items()}
    words = {
        Result.BROKEN: "broken by some order",
        Result.NOT_PROVED: "not proved",
        Result.UNDETERMINED: "left open",
        Result.VACUOUS: "of no order",
        Result.PROVED: "proved",
        Result.AT_SIGNING: "judged at signing",
        Result.INACTIVE: "not asked",
    }
    said = [f"{count} {words[result]}" for result, count in counts.items()]
    return f"Of {len(reviewed.proofs)} rules: {', '.join(said)}."


def checked(reviewed: Reviewed, when: str) -> str:
    """What was reviewed, and by what."""
    rules = f"{len(reviewed.proofs)} rules on orders"
    return (
        f"{reviewed.file} as an order set, by the schema of order sets (order-set, format 1) and "
        f"{rules}, under “{reviewed.rulebook.policy}”{when}. {summary(reviewed)} {count(reviewed)}"
    )
