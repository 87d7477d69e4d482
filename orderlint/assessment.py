"""Judges rules and faults: findings, what could not be checked, what was suppressed, a verdict.

Verify, read-back, compare and review all use it; each says which rules it applies.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.broken_rules import Break, break_of_fault, to_findings
from orderlint.conditions import Conditions, kept
from orderlint.finding import Fault, Finding, Inactive, Suppressed, Unchecked, Verdict, verdict_by
from orderlint.language.tree import And, Not, Or
from orderlint.rulebook.rule import OrderRule, Rulebook, Suppression, subjects_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.order import Leaf, Order


@dataclass(frozen=True, slots=True)
class Assessment:
    """What one check finds, and the verdict on it.

    `findings` are heaviest first. `unchecked` are the rules that could not be checked, `inactive`
    those that were not asked, `suppressed` the findings that the policy suppresses. `rules` is the
    number of rules asked.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    inactive: tuple[Inactive, ...]
    suppressed: tuple[Suppressed, ...]
    rules: int


class Check(NamedTuple):
    """The rules that a check asks, and the faults that it has found itself.

    `conditions` are those of its rules, if it asks any; `rules` is how many rules count as asked,
    these and others. A policy can suppress `faults`; it cannot suppress `policy_faults`.
    `unchecked` and `inactive` are of rules without conditions.
    """

    conditions: Conditions | None
    rules: int
    faults: tuple[Fault, ...] = ()
    policy_faults: tuple[Fault, ...] = ()
    unchecked: tuple[Unchecked, ...] = ()
    inactive: tuple[Inactive, ...] = ()


class Judged(NamedTuple):
    """What a check finds before a word is said of it.

    `broken` are the rules that are broken, each with the leaves at which it is; some of them are
    not reported beside others (`without_covered`). `silenced` are those that the policy suppresses.
    `unknown` has the numbers of the conditions that cannot be checked.
    """

    verdict: Verdict
    broken: list[Break]
    silenced: Mapping[Suppression, list[Break]]
    unknown: list[int]


def assess(
    check: Check, order: Order, leaves: Mapping[str, Leaf], at: int, rulebook: Rulebook
) -> Assessment:
    """Assess an order as of `at`, milliseconds since 1970 UTC.

    `leaves` are all that conditions read: those of `order` and others. Findings of one level
    stand in the order of the rulebook or, where no rule with a condition is asked, of the faults.
    """
    found, asked = judge(check, leaves, at, rulebook), check.conditions
    return Assessment(
        found.verdict,
        to_findings(without_covered(found.broken), order, leaves),
        (*(asked.unchecked(found.unknown, leaves) if asked else ()), *check.unchecked),
        (*(asked.inactive(leaves) if asked else ()), *check.inactive),
        tuple(suppressed_findings(found.silenced, order, leaves)),
        check.rules,
    )


def judge(check: Check, leaves: Mapping[str, Leaf], at: int, rulebook: Rulebook) -> Judged:
    """Which rules an order breaks as of `at`, and the verdict.

    INVARIANT: no rule is covered by one of a lower level, so that the verdict needs no covering.
    """
    asked = check.conditions
    broken, unknown = asked.judge(leaves) if asked else ([], [])
    silenced: Mapping[Suppression, list[Break]] = {}
    if check.faults or check.policy_faults or rulebook.suppressions:
        broken += [break_of_fault(fault, rulebook) for fault in check.faults]
        broken, silenced = without_suppressed(broken, rulebook, at)
        broken += [break_of_fault(fault, rulebook) for fault in check.policy_faults]
        broken = _ranked(broken, rulebook) if asked else broken
    hidden = [item.rule.level for items in silenced.values() for item in items]
    levels = [item.rule.level for item in broken]
    verdict = verdict_by(levels, hidden, is_open=bool(unknown or check.unchecked))
    return Judged(verdict, broken, silenced, unknown)


def assessment_of(
    findings: Iterable[Finding],
    unchecked: tuple[Unchecked, ...],
    inactive: tuple[Inactive, ...],
    suppressed: tuple[Suppressed, ...],
    rules: int,
) -> Assessment:
    """The assessment of what was found: heaviest first, with the verdict on it."""
    heaviest_first = tuple(sorted(findings, key=lambda finding: -finding.level.weight))
    levels = {finding.level for finding in heaviest_first}
    hidden = {item.finding.level for item in suppressed}
    verdict = verdict_by(levels, hidden, is_open=bool(unchecked))
    return Assessment(verdict, heaviest_first, unchecked, inactive, suppressed, rules)


def findings_of_faults(
    faults: Iterable[Fault], order: Order, rulebook: Rulebook, *, apart: bool = False
) -> tuple[Finding, ...]:
    """The findings of faults that no policy can suppress, heaviest first.

    `order` has the place of each setting. With `apart`, each fault is a finding of its own.
    """
    broken = [break_of_fault(fault, rulebook) for fault in faults]
    shown = without_covered(_ranked(broken, rulebook))
    return to_findings(shown, order, order.leaves, apart=apart)


def _ranked(broken: list[Break], rulebook: Rulebook) -> list[Break]:
    ranks = _ranks(rulebook)
    return sorted(broken, key=lambda item: ranks[item.rule.id])


@kept
def _ranks(rulebook: Rulebook) -> Mapping[str, int]:
    return {rule: rank for rank, rule in enumerate(rulebook.rules)}


def without_covered(broken: list[Break]) -> list[Break]:
    """Drop findings covered by another shown finding that shares a path."""
    ids = {item.rule.id for item in broken}
    coverers: dict[str, list[Break]] = {}
    for item in broken:
        for rule in item.rule.covers & ids:
            coverers.setdefault(rule, []).append(item)
    if not coverers:
        return broken
    seen: dict[int, bool] = {}

    def is_shown(item: Break) -> bool:
        if id(item) not in seen:
            seen[id(item)] = not any(
                item.subjects & other.subjects and is_shown(other)
                for other in coverers.get(item.rule.id, ())
            )
        return seen[id(item)]

    return [item for item in broken if is_shown(item)]


def split_by_suppression(
    rule: OrderRule, rulebook: Rulebook, at: int
) -> tuple[OrderRule, OrderRule]:
    """Split a rule in two: the conditions that no suppression matches, and the others.

    A proof gives one order that breaks a rule. That order might break it only where the policy
    suppresses it, though others break it elsewhere.
    """
    running = [item for item in rulebook.suppressions if at < item.until]
    hidden = tuple(
        each
        for each in rule.instances
        if any(item.matches(rule.id, each.paths) for item in running)
    )
    if not hidden:
        return rule, replace(rule, instances=())
    asked = tuple(each for each in rule.instances if each not in hidden)
    return replace(rule, instances=asked), replace(rule, instances=hidden)


def definedness_rule(rule: OrderRule) -> OrderRule:
    """A rule that is broken wherever one of `rule`'s conditions is unknown."""
    # The `and` keeps `context_of` from reading a `when` in it.
    asked = (
        each._replace(condition=And((Or((each.condition, Not(each.condition))),)))
        for each in rule.instances
    )
    return replace(rule, instances=tuple(asked))


def reported_for(
    rule: str,
    paths: Iterable[str],
    assessment: Assessment,
    rulebook: Rulebook,
) -> Finding | Suppressed:
    """The finding that reports a rule which is broken at `paths`.

    Its own finding there comes first, then one that covers it, then one that the policy suppresses.
    Raises RuntimeError if there is none, which is a fault of the tool.
    """
    told = subjects_of(tuple(paths))
    found = assessment.findings
    own = [each for each in found if each.rule == rule]
    covering = [f for f in found if f.rule != rule and rule in rulebook.rules[f.rule].covers]
    hidden = [item for item in assessment.suppressed if item.finding.rule == rule]
    every: list[Finding | Suppressed] = [*own, *covering, *hidden]
    # A finding names what is written, so that one at a setting left out may not name it.
    said = next(iter([*(each for each in every if _is_at(each, told)), *every]), None)
    if said is None:
        raise RuntimeError(f"verify says nothing of an order that breaks {rule}")
    return said


def _is_at(said: Finding | Suppressed, paths: frozenset[str]) -> bool:
    """Whether a finding names one of these settings, or the section of one."""
    finding = said.finding if isinstance(said, Suppressed) else said
    named = (finding.path, *(item.path for item in finding.also))
    return any(f"{path}.".startswith(f"{each}.") for each in named for path in paths)


def without_suppressed(
    broken: list[Break], rulebook: Rulebook, at: int
) -> tuple[list[Break], dict[Suppression, list[Break]]]:
    """The breaks that no suppression matches, and those that each suppression matches."""
    silenced: dict[Suppression, list[Break]] = {}
    for suppression in rulebook.suppressions:
        if at < suppression.until:
            silenced[suppression] = [
                item for item in broken if suppression.matches(item.rule.id, item.paths)
            ]
    taken = {id(item) for items in silenced.values() for item in items}
    return [item for item in broken if id(item) not in taken], silenced


def suppressed_findings(
    silenced: Mapping[Suppression, list[Break]], order: Order, leaves: Mapping[str, Leaf]
) -> Iterator[Suppressed]:
    """The findings that each suppression matches."""
    for item, broken in silenced.items():
        for finding in to_findings(broken, order, leaves):
            yield Suppressed(finding, item.reason, item.approved_by, item.until_text, item.place)
