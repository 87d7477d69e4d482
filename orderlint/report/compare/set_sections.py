"""What a comparison of two order sets says in each section, for its text and its page.

Sentences not yet wrapped or made safe. Never a proof, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.compare import set_words as words
from orderlint.report.order.table import not_had
from orderlint.report.order.words import heading, suppressed_weight
from orderlint.report.part import Part, part_of
from orderlint.report.review.words import heading as set_heading
from orderlint.report.words import LEVELS, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.sets import ComparedSets
    from orderlint.finding import Finding
    from orderlint.proof import DifferingOrder

NEAREST = "The nearest such order to the presets:"
_NOT_LEAST = "Whether another is nearer to the presets was not settled within the limits."


class OneSided(NamedTuple):
    """An order that one set alone yields: its picks, and what is said of it; or that none is."""

    heading: str
    picks: tuple[str, ...]
    lines: tuple[str, ...]
    example: DifferingOrder | None


def documents(found: ComparedSets) -> tuple[str, str]:
    """Which two sets they are."""
    before, after = map(set_heading, (found.before, found.after))
    return f"Earlier: {before}", f"Later: {after}"


def relation(found: ComparedSets) -> tuple[str, list[str]]:
    """How the later set stands to the earlier, and what that means."""
    label, sentence = words.relation_words(found)
    said = [sentence, words.newly_words(found), *words.apart_words(found)]
    return f"The later set is: {label}", said


def notes(found: ComparedSets) -> list[str]:
    """What stands beneath the verdict."""
    return list(suppressed_weight(found.assessment.suppressed))


def title(finding: Finding) -> str:
    """What a finding is about."""
    return heading(finding) if finding.path else "The sets as a whole"


def shown_by(finding: Finding, found: ComparedSets) -> OneSided | None:
    """The new order that breaks a rule, where a finding says so."""
    item = next((item for item in found.newly if item.said is finding), None)
    if item is None:
        return None
    return one_sided(words.before_words(item.broken), item.broken.example, "earlier", "")


def gone_and_new(found: ComparedSets) -> tuple[OneSided, OneSided]:
    """An order that only the earlier set yields, and one that only the later does."""
    none = "There is none." if found.comparison.relation != "open" else "None is known."
    gone, new = found.comparison.gone, found.comparison.new
    return (
        one_sided("An order that only the earlier set yields", gone, "later", none),
        one_sided("An order that only the later set yields", new, "earlier", none),
    )


def one_sided(heading: str, example: DifferingOrder | None, other: str, none: str) -> OneSided:
    """An order of one set alone: what is picked for it, and where the other has something else."""
    if example is None:
        return OneSided(heading, (), (none,), None)
    picks = tuple(words.picks_of(example)) or ("all as it is preset",)
    unsettled = () if example.is_least else (_NOT_LEAST,)
    return OneSided(heading, picks, (*words.differing_words(example, other), *unsettled), example)


def parts(found: ComparedSets) -> Iterator[Part]:
    """What is offered otherwise, and what else new orders break or leave open."""
    yield part_of("What is offered otherwise", words.offers_words(found), "Nothing.")
    yield part_of("Broken as well by a new order", words.covered_words(found), "No other rule.")
    yield part_of("Left open by a new order", _left(found), "No rule.")


def checked(found: ComparedSets, at: int) -> Part:
    """What was compared, and by what; `at` is in milliseconds since 1970 UTC."""
    said = words.checked_words(found, f", as of {instant_words(at)}")
    return Part("What was compared", (said,))


def _left(found: ComparedSets) -> Iterator[str]:
    for item in found.assessment.unchecked:
        left = next(each for each in found.comparison.broken if each.rule == item.rule)
        leaves, before = left.example.leaves, words.before_words(left)
        lacking = ", ".join(not_had(path, leaves[path]) for path in item.missing)
        yield f"{LEVELS[item.level]}: {item.rule}, for lack of {lacking}. {before}"
    if found.left_open:
        yield f"By earlier orders as well, for the same lack: {', '.join(found.left_open)}."
