"""Compares settings seen with an order: differences, their effects and findings.

Joins verification, comparison and assessment. Never asks, and never shows anything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.assessment import Assessment, Check, assess
from orderlint.behaviour import Difference, behaviour_of, find_differences
from orderlint.finding import Finding, NotChecked, Verdict, heaviest_verdict
from orderlint.order import Leaf, Order
from orderlint.readback.checklist import ADDITIVE, PATHS
from orderlint.readback.differences import DIFFERENCES, Outcome, SettingComparison, compare_settings
from orderlint.readback.findings import readback_faults, readback_inactive, readback_unchecked
from orderlint.readback.observed import seen_table
from orderlint.rulebook.standing_orders import filled
from orderlint.verification import Verified, verify_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.rulebook.rule import Rulebook


class EffectOnBehaviour(NamedTuple):
    """What one setting, as seen, would change if all else were as ordered.

    `missing` are the settings without which that is unknown.
    """

    path: str
    differences: tuple[Difference, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadBack:
    """The comparison of settings seen with an order.

    `ordered` is the order verified, `as_set` the same with what is seen in place of what is
    ordered. `assessment` is of comparing alone. `first` has what was entered at a first look where
    somebody looked twice.
    """

    ordered: Verified
    seen: Order
    as_set: Verified
    rows: tuple[SettingComparison, ...]
    effects: tuple[EffectOnBehaviour, ...]
    assessment: Assessment
    first: Mapping[str, str]

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts of the order that are not checked."""
        return self.ordered.not_checked

    @property
    def verdict(self) -> Verdict:
        """The heaviest verdict of comparing, of the order, and of the settings as if ordered."""
        parts = (self.assessment, self.ordered.assessment, self.as_set.assessment)
        return heaviest_verdict(part.verdict for part in parts)

    @property
    def only_as_set(self) -> tuple[Finding, ...]:
        """The findings that the settings seen would draw if they were ordered, and the order does
        not."""
        known = {(finding.rule, finding.says) for finding in self.ordered.assessment.findings}
        return tuple(f for f in self.as_set.assessment.findings if (f.rule, f.says) not in known)


def read_back(
    order: Order,
    seen: Order,
    at: int,
    rulebook: Rulebook,
    first: Mapping[str, str] | None = None,
) -> ReadBack:
    """Compare settings seen with an order as of `at`, milliseconds since 1970 UTC.

    `rulebook` has the rules of the double check, as `load("read-back")` gives it.
    """
    order = filled(order, rulebook.standing_orders)
    ordered = verify_order(order, at, rulebook)
    as_set = _asked_at_the_bedside(verify_order(_as_ordered(order, seen), at, rulebook), seen)
    rows = compare_settings(order.leaves, seen.leaves, rulebook)
    rules = [rule for rule in rulebook.rules.values() if rule.found_by == "readback"]
    inactive = tuple(readback_inactive(rulebook))
    check = Check(
        conditions=None,
        rules=len(rules) - len(inactive),
        faults=tuple(readback_faults(rows, order, seen, at, rulebook)),
        unchecked=tuple(readback_unchecked(rows, order, seen.leaves, rulebook)),
        inactive=inactive,
    )
    found = assess(check, order, order.leaves, at, rulebook)
    return ReadBack(
        _without_covered_findings(found.findings, ordered, rulebook),
        seen,
        _without_covered_findings(found.findings, as_set, rulebook),
        rows,
        tuple(_effects_of(rows, order.leaves, rulebook.outflow)),
        replace(found, findings=tuple(map(_with_seen_name, found.findings))),
        first or {},
    )


def _effects_of(
    rows: Iterable[SettingComparison], ordered: Mapping[str, Leaf], outflow: str | None
) -> Iterator[EffectOnBehaviour]:
    """The change that each difference makes, a rounded setting's among them."""
    plain = behaviour_of(ordered, outflow)
    for row in rows:
        if row.outcome in DIFFERENCES or row.outcome is Outcome.ROUNDED:
            changed = behaviour_of({**ordered, row.path: row.seen}, outflow)
            missing = tuple(dict.fromkeys((*plain.missing, *changed.missing)))
            differences = () if missing else tuple(find_differences(plain, changed))
            yield EffectOnBehaviour(row.path, differences, missing)


def _with_seen_name(finding: Finding) -> Finding:
    """Name a finding on who looked, or when, as the table of settings seen does."""
    fields = seen_table().fields
    return finding._replace(name=fields[finding.path].name) if finding.path in fields else finding


def _without_covered_findings(
    findings: tuple[Finding, ...], verified: Verified, rulebook: Rulebook
) -> Verified:
    """A verified order without the findings that the comparison reports for the same cause.

    The verdict stays: the order is not better because the finding is reported elsewhere.
    """
    said = {(rule, f.path) for f in findings for rule in rulebook.rules[f.rule].covers}
    left = tuple(f for f in verified.assessment.findings if (f.rule, f.path) not in said)
    return replace(verified, assessment=replace(verified.assessment, findings=left))


def _as_ordered(order: Order, seen: Order) -> Order:
    """The order with the settings seen in place of those ordered.

    Notation flags are dropped: an entry is not the text of an order.
    """
    leaves = dict(order.leaves)
    for path in PATHS:
        leaves[path] = replace(seen.leaves[path], flags=frozenset())
    if not any(seen.leaves[path].given for path in PATHS if path.startswith(f"{ADDITIVE}.")):
        leaves |= {path: Leaf(path) for path in leaves if path.startswith(f"{ADDITIVE}.")}
    elsewhere = tuple(f for f in order.faults if {f.path, *f.spoils}.isdisjoint(PATHS))
    places = {path: place for path, place in order.places.items() if path not in PATHS}
    return Order(order.file, leaves, (*elsewhere, *seen.faults), {**places, **seen.places})


def _asked_at_the_bedside(verified: Verified, seen: Order) -> Verified:
    """Questions on how settings seen are written go to whoever saw them."""
    findings = tuple(
        f._replace(ask_whom="second nurse") if f.place.file == seen.file else f
        for f in verified.assessment.findings
    )
    return replace(verified, assessment=replace(verified.assessment, findings=findings))
