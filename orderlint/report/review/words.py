"""The words of a review, shared by its text, its JSON and the formats for CI.

Picks, proofs and what they cover. Never a proof, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.proof.prover import Decision
from orderlint.quantity_words import format_quantity
from orderlint.report.order.checked import standing_lines
from orderlint.report.words import FREE_TEXT, LEVELS, name_of
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet
    from orderlint.proof.counterexample import Pick, SectionChoice
    from orderlint.set_review import Broken, Reviewed

NAMES = {
    Decision.BROKEN: "Broken",
    Decision.NOT_PROVED: "Not proved",
    Decision.UNDETERMINED: "Left open",
    Decision.PROVED: "Proved",
    Decision.VACUOUS: "Does not arise",
    Decision.AT_SIGNING: "Left to signing",
    Decision.INACTIVE: "Not asked",
}
"""The name of each result of a rule, heaviest first."""

MEANINGS = {
    Decision.BROKEN: "Some order from the set breaks it.",
    Decision.NOT_PROVED: "Whether some order from the set breaks it is not known, and is no pass.",
    Decision.UNDETERMINED: "On some order it cannot be checked, for lack of what may stay empty or "
    "cannot be read.",
    Decision.PROVED: "Every order from the set keeps it.",
    Decision.VACUOUS: "No order from the set has what it speaks of, so that none can break it.",
    Decision.AT_SIGNING: "It rests on what is written at signing; verify checks it then.",
    Decision.INACTIVE: "The policy gives no value for it; the reasons stand below.",
}
IN_PART = "In part left to signing"
IN_PART_MEANS = "Of those above it rests in part on what is written at signing."

COVERS = (
    "A proof covers every order that can be picked from this set as it stands in the file, under "
    "this policy, with blanks filled in readably and without notation that can be misread. It does "
    "not cover free text, facts of signing such as times, or any change made to an order after it "
    "was picked: check each signed order with verify."
)


def picks(item: Broken) -> list[str]:
    """The picks that make the nearest order that breaks a rule; empty for the presets."""
    said = taking_words(item.nearest.sections)
    for pick in item.nearest.picks:
        if pick.leaf.given and not item.nearest.leaves[pick.path].given:
            continue  # its part of the form is not shown in that order
        if pick.preset is None:
            said.append(f"{pick_words(pick)} (no preset)")
        elif pick.leaf != pick.preset:
            said.append(pick_words(pick))
    return said


def taking_words(sections: Iterable[SectionChoice]) -> list[str]:
    """The sections that are taken, or not, against what is preset."""
    return [
        f"{name_of(taking.path)}: {'taken' if taking.taken else 'not taken'}"
        for taking in sections
        if taking.taken != taking.preset
    ]


def pick_words(pick: Pick) -> str:
    """What is picked at a setting, and its preset if that differs."""
    preset = None if pick.preset == pick.leaf else pick.preset
    instead = f" (preset: {leaf_words(preset)})" if preset else ""
    return f"{name_of(pick.path)}: {leaf_words(pick.leaf)}{instead}"


def leaf_words(leaf: Leaf) -> str:
    """The value of a leaf, as written if it was written."""
    if not leaf.given:
        return "left empty"
    if leaf.text:
        return quote(leaf.text)
    if isinstance(leaf.value, int) and leaf.unit:
        return format_quantity(leaf.value, leaf.unit)
    return str(leaf.value) if leaf.known else "cannot be read"


def leads(item: Broken) -> str:
    """The sentence before the picks: such an order can be signed, and how near it is."""
    found = item.order_finding.says if item.order_finding else ""
    said = item.set_finding.says.removesuffix(f": {found}") if item.set_finding else ""
    least = "" if item.nearest.is_least else ", perhaps not"
    return f"{said}. This one departs{least} the least from the presets; all else is as preset:"


def verify_says(item: Broken) -> str:
    """What `verify` finds on the nearest order that breaks a rule; '' where the policy hides it."""
    found = item.order_finding
    if found is None:
        return ""
    covers = "" if found.rule == item.rule.id else ", which covers it"
    return (
        f"Of that order verify says: {LEVELS[found.level]}, by the rule {found.rule}{covers}: "
        f"{found.says} Whoever checks it is to ask the {found.ask_whom}: {found.ask}"
    )


def covered(reviewed: Reviewed) -> dict[str, str]:
    """For each broken rule that a heavier one covers: the picks, and what `verify` says."""
    return {
        item.rule.id: f"{'; '.join(picks(item)) or 'the presets'}. {verify_says(item)}"
        for item in reviewed.broken
        if item.order_finding and item.order_finding.rule != item.rule.id
    }


def orders_words(reviewed: Reviewed) -> str:
    """How many orders the set can yield."""
    found = reviewed.count
    most = "" if found.is_exact else "at most "
    left = ", ".join(name_of(path) for path in found.left_out)
    beside = f", whatever is written in the blanks that it leaves open ({left})" if left else ""
    orders = "one order" if found.orders == 1 else f"{found.orders:,} different orders"
    return f"The set can yield {most}{orders}{beside}."


def document_words(order_set: OrderSet) -> str:
    """The set, by its own facts."""
    head = order_set.head
    title = f"“{quote(head['title'])}”" if "title" in head else "without a title"
    said = [f"order set {title}", f"version {quote(head.get('version', 'not written'))}"]
    if "population" in head:
        said.append(f"for: {quote(head['population'])}")
    return f"{order_set.file}: {', '.join(said)}."


def proved(reviewed: Reviewed) -> dict[Decision, list[str]]:
    """The ids of rules by result, heaviest first."""
    lacking = {item.rule for item in reviewed.assessment.inactive}
    found: dict[Decision, list[str]] = {result: [] for result in NAMES}
    for proof in reviewed.proofs:
        # A rule without a value that is asked of other patients alone lacks nothing here.
        is_elsewhere = proof.result is Decision.INACTIVE and proof.rule not in lacking
        found[Decision.VACUOUS if is_elsewhere else proof.result].append(proof.rule)
    return {result: rules for result, rules in found.items() if rules}


def in_part(reviewed: Reviewed) -> list[str]:
    """The rules that were decided in part; the rest is judged at signing."""
    unasked = (Decision.AT_SIGNING, Decision.INACTIVE)
    return [p.rule for p in reviewed.proofs if p.at_signing and p.result not in unasked]


def summary(reviewed: Reviewed) -> str:
    """How many rules have each result, in one sentence."""
    counts = {result: len(rules) for result, rules in proved(reviewed).items()}
    said = [f"{count} {COUNTED[result]}" for result, count in counts.items()]
    partly = len(in_part(reviewed))
    beside = f" {partly} of those decided are left to signing in part." if partly else ""
    return f"Of {len(reviewed.proofs)} rules on orders: {', '.join(said)}.{beside}"


COUNTED = {
    Decision.BROKEN: "broken by some order",
    Decision.NOT_PROVED: "not proved",
    Decision.UNDETERMINED: "left open",
    Decision.PROVED: "proved of every order",
    Decision.VACUOUS: "not arising",
    Decision.AT_SIGNING: "left to signing",
    Decision.INACTIVE: "not asked",
}


def checked_words(reviewed: Reviewed, when: str) -> str:
    """What was reviewed, and by what."""
    return (
        f"{reviewed.file} as an order set, by the schema of order sets (order-set, format 1) and "
        f"{len(reviewed.proofs)} rules on orders, under “{reviewed.rulebook.policy}”{when}. "
        f"{standing(reviewed)}{FREE_TEXT}"
    )


def standing(reviewed: Reviewed) -> str:
    """What an order from the set has from the policy's standing orders, before a blank."""
    standing = reviewed.rulebook.standing_orders
    if standing is None:
        return ""
    lines = standing_lines(standing.paper, standing.leaves.values())
    return f"What an order does not say is from the policy: {lines}. "
