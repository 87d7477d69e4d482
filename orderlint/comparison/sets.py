"""Two order sets in; whether the later is stricter or looser, and what its new orders break, out.

Joins options, proof and the verdict on an order. Never prints.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.assessment import Assessment, assessment_of, findings_of_faults, split_by_suppression
from orderlint.comparison.option_changes import option_changes, section_changes
from orderlint.finding import Finding, NotChecked, Unchecked
from orderlint.order import Order
from orderlint.order_set.free_texts import texts_not_checked
from orderlint.order_set.model import OrderSet, preset_order
from orderlint.proof.prover import LIMITS, Decision
from orderlint.proof.set_difference import NewlyBroken, SetDifference, difference_of
from orderlint.set_findings import (
    ToldBreak,
    clock_findings,
    finding_on_set,
    inactive_on_set,
    not_proved_findings,
    told_break,
)
from orderlint.verification import Verified, verify_order

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from orderlint.comparison.option_changes import OptionChange, SectionChange
    from orderlint.language.budget import Watched
    from orderlint.proof.search_space import Limits
    from orderlint.rulebook.rule import Rulebook


@dataclass(frozen=True, slots=True)
class NewlyBrokenRule(ToldBreak):
    """A rule that a new order breaks, and what `verify` finds on that order."""

    broken: NewlyBroken


@dataclass(frozen=True, slots=True)
class ComparedSets:
    """All that is found in comparing two order sets, under one rulebook.

    `option_changes`: the settings whose options differ. `newly_broken`: the rules that new orders
    break and no earlier order is known to; `broken_before`: those that both break.
    `assessment` is of what is new: what new orders may leave unchecked is in it, but for
    `left_open`, the rules that earlier orders left so for the same lack. Rules left to signing
    count as not asked.
    """

    before: OrderSet
    after: OrderSet
    comparison: SetDifference
    option_changes: tuple[OptionChange, ...]
    newly_broken: tuple[NewlyBrokenRule, ...]
    broken_before: tuple[NewlyBrokenRule, ...]
    left_open: tuple[str, ...]
    assessment: Assessment
    rulebook: Rulebook

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts of the later set that are not checked."""
        return tuple(texts_not_checked(self.after))

    @property
    def preset_changes(self) -> tuple[OptionChange, ...]:
        """The settings that an order has otherwise where nobody picks anything."""
        return tuple(change for change in self.option_changes if change.presets is not None)

    @property
    def section_changes(self) -> tuple[SectionChange, ...]:
        """The sections that are preselected otherwise, or offered in only one of the sets."""
        return tuple(section_changes(self.before, self.after))

    @property
    def keeps_version(self) -> bool:
        """Whether the version is the same, though the sets offer other things."""
        old, new = (item.head.get("version", "") for item in (self.before, self.after))
        return old == new and bool(self.option_changes or self.section_changes)


def compare_sets(  # noqa: PLR0913, PLR0917 - two sets, and how they are compared
    before: OrderSet,
    after: OrderSet,
    at: int,
    rulebook: Rulebook,
    limits: Limits = LIMITS,
    watched: Watched = iter,
) -> ComparedSets:
    """Compare two order sets as of `at`, milliseconds since 1970 UTC.

    `rulebook` has the rules on order sets, as `load("order-set")` gives it. `watched` yields what
    it is given again, so that a caller can show progress.
    """
    found = _compared_unsuppressed(before, after, at, rulebook, limits, watched)
    broken = [_newly_broken(item, after, at, rulebook) for item in found.broken if not item.missing]
    newly = tuple(item for item in broken if not _was_broken(item.broken))
    presets = verify_order(preset_order(after), at, rulebook)
    told = {item.broken.rule for item in newly}
    in_presets = _presets_newly_break(before, presets, told, at, rulebook)
    left = [item for item in found.broken if item.missing]
    asked = sum(1 for rule in rulebook.order_rules if rule.instances)
    assessment = assessment_of(
        (
            *(in_presets if not (before.unsettled or after.unsettled) else ()),
            *(item.set_finding for item in newly if item.set_finding),
            *_left_open(before, after, found, rulebook),
            *clock_findings(presets, rulebook),
        ),
        tuple(_newly_unchecked(left, rulebook)),
        tuple(inactive_on_set(rulebook.order_rules, after)),
        tuple(item.suppressed for item in newly if item.suppressed),
        asked - len(found.at_signing),
    )
    return ComparedSets(
        before,
        after,
        found,
        tuple(option_changes(before, after)),
        newly,
        tuple(item for item in broken if _was_broken(item.broken)),
        tuple(item.rule for item in left if _was_open(item)),
        assessment,
        rulebook,
    )


def _newly_unchecked(left: Iterable[NewlyBroken], book: Rulebook) -> Iterator[Unchecked]:
    """The rules that new orders may leave unchecked, and earlier ones did not."""
    for item in left:
        if not _was_open(item):
            yield Unchecked(item.rule, book.rules[item.rule].level, item.missing)


def _compared_unsuppressed(  # noqa: PLR0913, PLR0917 - what compare_sets takes
    before: OrderSet, after: OrderSet, at: int, book: Rulebook, limits: Limits, watched: Watched
) -> SetDifference:
    """How the orders differ; of a rule that is suppressed at some settings, at the others first."""
    found = difference_of(before, after, book, limits, watched)
    asked = {rule.id: split_by_suppression(rule, book, at)[0] for rule in book.order_rules}
    partly = {n: rule for n, rule in asked.items() if rule.instances and rule is not book.rules[n]}
    if not partly or not found.broken:
        return found
    again = difference_of(before, after, book._replace(rules=partly), limits, watched)
    shown = {item.rule for item in again.broken}
    kept = [item for item in found.broken if item.rule not in shown]
    ranks = {name: rank for rank, name in enumerate(book.rules)}
    broken = sorted([*kept, *again.broken], key=lambda item: ranks[item.rule])
    return replace(found, broken=tuple(broken), unsettled={**found.unsettled, **again.unsettled})


def _presets_newly_break(
    before: OrderSet, presets: Verified, told: Collection[str], at: int, book: Rulebook
) -> Iterator[Finding]:
    """What `verify` finds in the later `presets`, by rules that the earlier presets kept.

    Orders of both sets can be the same, and most signers get another all the same. A rule in `told`
    is told of by an order that is new.
    """
    earlier = verify_order(preset_order(before), at, book).assessment.findings
    stood = {*told, *(finding.rule for finding in earlier)}
    for finding in presets.assessment.findings:
        if finding.rule not in stood:
            yield finding_on_set(finding, "preset-breaks-rule", presets.order, book)


def _was_broken(item: NewlyBroken) -> bool:
    """Whether an order from the earlier set breaks the rule too, so that this is no news."""
    return item.before.result is Decision.BROKEN


def _was_open(item: NewlyBroken) -> bool:
    """Whether an earlier order left a rule unchecked for lack of the same settings.

    INVARIANT: a rule that was broken, or of which nothing was known, was not left open.
    """
    was = item.before
    return was.result is Decision.UNDETERMINED and {*item.missing} <= {*was.missing}


def _newly_broken(item: NewlyBroken, after: OrderSet, at: int, book: Rulebook) -> NewlyBrokenRule:
    """A new order that breaks a rule, with what `verify` says of it."""
    order = Order(after.file, item.example.leaves, (), after.places)
    told = told_break(item.rule, item.paths, order, at, book)
    return NewlyBrokenRule(told.order_finding, told.suppressed, told.set_finding, item)


def _left_open(
    before: OrderSet, after: OrderSet, found: SetDifference, book: Rulebook
) -> Iterator[Finding]:
    """What leaves the comparison open: faults of either set, or a proof that was given up."""
    for order_set in (before, after):
        order = preset_order(order_set)
        for finding in findings_of_faults(order_set.unsettled, order, book):
            yield finding._replace(ask_whom="author")
    reasons = dict(found.unsettled)
    if found.relation == "open":
        reasons["any rule anew"] = (
            f"which orders are new or gone is not known ({'; '.join(found.open)})"
        )
    yield from not_proved_findings(reasons, preset_order(after), book)
