"""An order and the settings seen in; what differs, what that would do, and findings out.

Joins verifying, comparing and wording. Never asks, and never shows anything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.finding import verdict_of
from orderlint.order import Leaf, Order
from orderlint.readback.changes import changes_of
from orderlint.readback.checklist import ADDITIVE, PATHS
from orderlint.readback.differences import compare
from orderlint.readback.findings import faults_of, inactive_of, unchecked_of
from orderlint.readback.observed import seen_table
from orderlint.verification import findings_of, verify_order

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Finding, Inactive, Suppressed, Unchecked, Verdict
    from orderlint.readback.changes import Change
    from orderlint.readback.differences import Row
    from orderlint.rulebook.rule import Rulebook
    from orderlint.verification import Verified


@dataclass(frozen=True, slots=True)
class ReadBack:
    """All that is said of settings seen beside an order.

    `ordered` is the order verified, `as_set` the same with what is seen in place of what is
    ordered. `findings`, `unchecked`, `inactive` and `suppressed` are those of comparing alone;
    `verdict` is the heaviest of all. `first` has what was entered at a first look where somebody
    looked twice.
    """

    ordered: Verified
    seen: Order
    as_set: Verified
    rows: tuple[Row, ...]
    changes: tuple[Change, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    inactive: tuple[Inactive, ...]
    suppressed: tuple[Suppressed, ...]
    verdict: Verdict
    first: Mapping[str, str]

    @property
    def only_as_set(self) -> tuple[Finding, ...]:
        """The findings that the settings seen would draw if they were ordered, and the order does
        not."""
        known = {(finding.rule, finding.says) for finding in self.ordered.findings}
        return tuple(f for f in self.as_set.findings if (f.rule, f.says) not in known)


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
    ordered = verify_order(order, at, rulebook)
    as_set = _asked_at_the_bedside(verify_order(_as_ordered(order, seen), at, rulebook), seen)
    rows = compare(order.leaves, seen.leaves, rulebook)
    faults = faults_of(rows, order, seen, at, rulebook)
    findings, suppressed = findings_of(faults, order, at, rulebook)
    unchecked = tuple(unchecked_of(rows, order, seen.leaves, rulebook))
    parts = (ordered, as_set)
    every = (*findings, *(one for part in parts for one in part.findings))
    left_open = (*unchecked, *(one for part in parts for one in part.unchecked))
    hidden = (*suppressed, *(one for part in parts for one in part.suppressed))
    return ReadBack(
        _beside(findings, ordered, rulebook),
        seen,
        _beside(findings, as_set, rulebook),
        rows,
        changes_of(rows, order.leaves, rulebook.outflow),
        tuple(map(_named, findings)),
        unchecked,
        tuple(inactive_of(rulebook)),
        suppressed,
        verdict_of(every, left_open, hidden),
        first or {},
    )


def _named(finding: Finding) -> Finding:
    """A finding on who looked, or when, has its name from the settings seen, not from the order."""
    fields = seen_table().fields
    return finding._replace(name=fields[finding.path].name) if finding.path in fields else finding


def _beside(findings: tuple[Finding, ...], verified: Verified, rulebook: Rulebook) -> Verified:
    """What verifying found, without what is said of the same cause in comparing.

    Its verdict stands: the order is no better for being said to be over elsewhere.
    """
    said = {(rule, f.path) for f in findings for rule in rulebook.rules[f.rule].covers}
    left = tuple(f for f in verified.findings if (f.rule, f.path) not in said)
    return replace(verified, findings=left)


def _as_ordered(order: Order, seen: Order) -> Order:
    """The order that the settings seen would be, all else being as ordered.

    How an entry is written is no notation of an order, so its flags are left out.
    """
    leaves = dict(order.leaves)
    for path in PATHS:
        leaves[path] = replace(seen.leaves[path], flags=frozenset())
    if not any(seen.leaves[path].given for path in PATHS if path.startswith(f"{ADDITIVE}.")):
        leaves |= {path: Leaf(path) for path in leaves if path.startswith(f"{ADDITIVE}.")}
    elsewhere = tuple(fault for fault in order.faults if not _is_seen(fault.path, fault.spoils))
    places = {path: place for path, place in order.places.items() if path not in PATHS}
    return Order(order.file, leaves, (*elsewhere, *seen.faults), {**places, **seen.places})


def _is_seen(path: str, spoils: tuple[str, ...]) -> bool:
    return bool({path, *spoils} & {*PATHS})


def _asked_at_the_bedside(verified: Verified, seen: Order) -> Verified:
    """How settings seen are written down is asked of whoever saw them."""
    findings = tuple(
        f._replace(ask_whom="second nurse") if f.place.file == seen.file else f
        for f in verified.findings
    )
    return replace(verified, findings=findings)
