"""The words of a comparison of two order sets, shared by its text and its JSON.

Never a proof, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.proof.prover import Decision
from orderlint.report.review.words import leaf_words, pick_words, taking_words
from orderlint.report.words import counted, name_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.comparison.option_changes import OptionChange
    from orderlint.comparison.sets import ComparedSets
    from orderlint.order import Leaf
    from orderlint.proof.set_difference import DifferingOrder, NewlyBroken

MOST_LISTED = 6
"""Options of one setting that a line names."""

RELATIONS = {
    "equal": ("EQUAL", "The same orders can be signed from both sets."),
    "stricter": ("STRICTER", "Some orders can no longer be signed, and no order is new."),
    "looser": ("LOOSER", "Some orders can be signed that could not before, and none is gone."),
    "both": (
        "BOTH STRICTER AND LOOSER",
        "Some orders can no longer be signed, and some can that could not before.",
    ),
    "open": ("NOT SETTLED", "Which orders are new or gone is not known."),
}

COVERS = (
    "This covers every order that can be picked from the two sets as they stand in their files, "
    "under this policy, with blanks filled in readably and without notation that can be misread. "
    "It does not cover free text: two orders that differ only in the words of a text, or of a name "
    "other than a drug's, count as one. Nor does it cover facts of signing such as times, or any "
    "change made to an order after it was picked: check each signed order with verify."
)

BEFORE = {
    Decision.BROKEN: "The earlier set has orders that break it too.",
    Decision.NOT_PROVED: "Whether an order from the earlier set breaks it was not proved.",
    Decision.UNDETERMINED: "No order from the earlier set breaks it; some may leave it unchecked.",
    Decision.VACUOUS: "No order from the earlier set is one that this rule speaks of.",
    Decision.PROVED: "Every order from the earlier set keeps it.",
    Decision.AT_SIGNING: "In orders from the earlier set it was left to signing.",
}
"""How the earlier set fares under a rule."""


def relation_words(found: ComparedSets) -> tuple[str, str]:
    """How the later set relates to the earlier, and what that means."""
    label, sentence = RELATIONS[found.comparison.relation]
    reasons = "; ".join(found.comparison.open)
    return label, f"{sentence.rstrip('.')} ({reasons})." if reasons else sentence


def apart_words(found: ComparedSets) -> Iterator[str]:
    """The settings for which the two sets have no value in common."""
    names = [name_of(offer.path) for offer in found.option_changes if offer.disjoint]
    if names:
        yield (
            f"No order can be signed from both sets: they have nothing in common for the "
            f"{_listed(names)}."
        )


def newly_words(found: ComparedSets) -> str:
    """What new orders break, in a sentence."""
    if found.comparison.relation == "open":
        return "So it is not known either which rules a new order breaks."
    if found.comparison.new is None:
        return "So no new order breaks a rule."
    broken, unsettled = len(found.newly_broken), len(found.comparison.unsettled)
    stood = len(found.broken_before)
    left = len(found.assessment.unchecked) + len(found.left_open)
    anew = " that no earlier order broke" if stood else ""
    said = [
        f"new orders break {counted(broken, 'rule')}{anew}"
        if broken
        else f"no new order breaks a rule{anew}"
    ]
    said += [f"{counted(stood, 'rule')} the earlier set broke too"] if stood else []
    said += [f"{counted(left, 'rule')} may be left unchecked by one"] if left else []
    said += [f"of {counted(unsettled, 'rule')} it is not known"] if unsettled else []
    text = "; ".join(said)
    return (
        f"Of {found.assessment.rules} rules: {text}."
        if broken or stood or left or unsettled
        else f"{text[0].upper()}{text[1:]}."
    )


def headlines(found: ComparedSets) -> Iterator[str]:
    """What whoever picks nothing will get otherwise, and a version that stayed the same."""
    for change in found.preset_changes:
        before, after = (_preset(leaf) for leaf in change.presets or ())
        yield f"What most signers will get: {name_of(change.path)} {after} ({before} before)."
    for section in found.section_changes:
        yield f"{SECTION_NOW[section.before, section.after].format(name_of(section.path))}"
    if found.keeps_version:
        version = found.after.head.get("version")
        said = f"The version is still {version}" if version else "Neither set has a version"
        yield f"{said}, though the set is changed."


SECTION_NOW = {
    (False, True): "The section {} is now in each order, unless somebody takes it out.",
    (True, False): "The section {} is now in no order, unless somebody takes it in.",
    (None, True): "The section {} can now be taken out; it is in, unless somebody does.",
    (None, False): "The section {} is now in no order, unless somebody takes it in.",
    (True, None): "The section {} can no longer be taken out.",
    (False, None): "The section {} can no longer be taken in or out as a whole.",
}
"""What became of a section, by whether it was and is preselected; None where it is not offered."""


def broken_before_words(found: ComparedSets) -> str:
    """How many rules are no news, as orders from both sets break them; empty if there is none."""
    count = len(found.broken_before)
    if not count:
        return ""
    names = ", ".join(item.broken.rule for item in found.broken_before)
    return f"{counted(count, 'rule')} that the earlier set broke too: {names}."


def before_words(item: NewlyBroken) -> str:
    """How the earlier set fares under a rule that a new order breaks or may leave unchecked."""
    was = item.before
    names = _listed([name_of(path) for path in was.at_signing])
    partly = names and was.result is not Decision.AT_SIGNING
    rest = f" Of it, what rests on the {names} was left to signing." if partly else ""
    return BEFORE[was.result] + rest


def example_picks(example: DifferingOrder) -> list[str]:
    """The picks that make an order; empty if every setting is at its preset."""
    told = {path for path in example.differing if example.leaves[path].given}
    shown = (pick for pick in example.picks if pick.differs_from_preset or pick.path in told)
    return [*taking_words(example.sections), *map(pick_words, shown)]


def differing_words(example: DifferingOrder, other: str) -> list[str]:
    """The settings for which the other set does not offer the value of this order."""
    lines = []
    for path in example.differing[:MOST_LISTED]:
        leaf = example.leaves[path]
        said = f"be {leaf_words(leaf)}" if leaf.given else "be left empty"
        lines.append(f"In the {other} set the {name_of(path)} cannot {said}.")
    more = len(example.differing) - MOST_LISTED
    return [*lines, f"And so in {more} more settings."] if more > 0 else lines


def option_change_words(offer: OptionChange) -> str:
    """What is offered otherwise at one setting."""
    parts = []
    if offer.new:
        parts.append(f"new {_leaves(offer.new)}")
    if offer.gone:
        parts.append(f"gone {_leaves(offer.gone)}")
    if offer.presets is not None:
        before, after = (_preset(leaf) for leaf in offer.presets)
        parts.append(f"preset {after} ({before} before)")
    if offer.bounds:
        parts.append("a blank without bounds is new, gone or of other bounds")
    if offer.shown:
        parts.append("shown or offered under other conditions")
    if offer.reworded and not (offer.new or offer.gone):
        parts.append("worded otherwise, which is not compared")
    name = name_of(offer.path)
    return f"{name[0].upper()}{name[1:]}: {'; '.join(parts)}."


def _leaves(leaves: Sequence[Leaf]) -> str:
    return _listed([leaf_words(leaf) if leaf.given else "nothing" for leaf in leaves])


def _listed(texts: Sequence[str]) -> str:
    if len(texts) <= MOST_LISTED:
        return ", ".join(texts)
    return f"{', '.join(texts[: MOST_LISTED - 1])} and {len(texts) - MOST_LISTED + 1} more"


def _preset(leaf: Leaf | None) -> str:
    if leaf is None:
        return "none"
    return leaf_words(leaf) if leaf.given else "empty"


def covered_words(found: ComparedSets) -> Iterator[str]:
    """The broken rules that another rule covers, a line each."""
    for item in found.newly_broken:
        if item.set_finding is None and item.order_finding is not None:
            yield f"{item.broken.rule}, which {item.order_finding.rule} covers on such an order."


def checked_words(found: ComparedSets, when: str) -> str:
    """What was compared, and by what; how many rules depend on what is written at signing."""
    later = counted(len(found.comparison.at_signing), "rule")
    unasked = f" Left to signing, and so not asked: {later}." if found.comparison.at_signing else ""
    return (
        f"{found.before.file} and {found.after.file} as order sets, and new orders by "
        f"{found.assessment.rules} rules on orders, under “{found.rulebook.policy}”{when}."
        f"{unasked} What each set is by itself: orderlint review."
    )
