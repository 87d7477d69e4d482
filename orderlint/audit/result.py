"""Makes the result of an audit of what its parts have counted.

Order and names. Counts nothing.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from orderlint import __version__
from orderlint.audit.auditor import WRITTEN
from orderlint.audit.model import (
    Against,
    AuditResult,
    GroupCounts,
    GroupRule,
    Moved,
    Refusals,
    RefusedRow,
    RuleCounts,
    SampledRow,
    SourceFile,
    Unreadable,
)
from orderlint.finding import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.audit.auditor import Options
    from orderlint.audit.columns import Mapping as Columns
    from orderlint.audit.policy_plan import PolicyPlan
    from orderlint.audit.tally import Key, Tally

_MOST_TEXTS = 20
"""Texts of one setting that are listed."""


class PolicyName(NamedTuple):
    """A policy: its plan, and the digest of its file."""

    plan: PolicyPlan
    digest: str

    @property
    def title(self) -> str:
        """What it calls itself."""
        return self.plan.rulebook.policy


class Names(NamedTuple):
    """What a tally knows by number: the files with their digests, the columns, the policies."""

    files: Sequence[tuple[str, str]]
    columns: Columns
    policies: Sequence[PolicyName]


def result_of(tally: Tally, names: Names, options: Options, min_cell: int) -> AuditResult:
    """The result that the counts of all parts come to."""
    counts = _Counts(tally)
    policy = names.policies[0]
    as_of = WRITTEN if options.as_of is None else f"column:{options.as_of}"
    return AuditResult(
        version=__version__,
        files=tuple(
            SourceFile(name, digest, counts["rows", str(number)])
            for number, (name, digest) in enumerate(names.files)
        ),
        mapping=names.columns.mapped,
        unmapped=names.columns.unmapped,
        policy=policy.title,
        policy_digest=policy.digest,
        rulebook_digest=policy.plan.digest(),
        as_of=as_of,
        rows=sum(counts["rows", str(number)] for number in range(len(names.files))),
        refused=_refusals(tally, counts, names),
        stopped=counts["stopped", "0"],
        verdicts=_verdicts(counts, "0"),
        rules=_rules(counts, "0", policy.plan),
        pairs={(one, other): n for (one, other), n in counts.below("pair")},
        groups={name: _groups(counts, policy.plan, "by", name) for name in options.by},
        month_of=(options.month or WRITTEN) if options.by_month else None,
        months=_groups(counts, policy.plan, "month"),
        unreadable=_unreadable(counts, min_cell),
        seed=options.seed,
        samples=_samples(tally, names, policy.plan),
        inactive=policy.plan.inactive(),
        against=_against(counts, names) if len(names.policies) > 1 else None,
        min_cell=min_cell,
    )


class _Counts:
    """Counts by the beginning of their name."""

    def __init__(self, tally: Tally) -> None:
        self._counts = tally.counts
        self._by_first: dict[str, list[tuple[Key, int]]] = defaultdict(list)
        for key, count in sorted(tally.counts.items()):
            self._by_first[key[0]].append((key, count))

    def __getitem__(self, key: Key) -> int:
        return self._counts[key]

    def below(self, *beginning: str) -> Iterator[tuple[Key, int]]:
        """The counts whose names begin so, under the rest of their names."""
        length = len(beginning)
        for key, count in self._by_first[beginning[0]]:
            if key[:length] == beginning:
                yield key[length:], count


def _refusals(tally: Tally, counts: _Counts, names: Names) -> Refusals:
    by_reason = {reason: count for (reason,), count in counts.below("reason")}
    first = (
        RefusedRow(names.files[file][0], row, column, reason)
        for file, row, column, reason in tally.refused
    )
    return Refusals(counts["refused",], by_reason, tuple(first))


def _verdicts(counts: _Counts, number: str) -> Mapping[Verdict, int]:
    return {verdict: counts["verdict", number, verdict.value] for verdict in Verdict}


def _rules(counts: _Counts, number: str, plan: PolicyPlan) -> Mapping[str, RuleCounts]:
    missing: dict[str, dict[str, int]] = defaultdict(dict)
    for (rule, path), count in counts.below("missing", number):
        missing[rule][path] = count
    return {
        name: RuleCounts(
            rule.level,
            rule.family,
            **{outcome: counts["rule", number, name, outcome] for outcome in _OUTCOMES},
            unchecked_by=missing[name],
        )
        for name, rule in plan.rules.items()
    }


_OUTCOMES = ("broken", "kept", "not_asked", "unchecked", "reported", "only")


def _groups(counts: _Counts, plan: PolicyPlan, *under: str) -> Mapping[str, GroupCounts]:
    found: dict[str, dict[Key, int]] = defaultdict(dict)
    for (value, *what), count in counts.below(*under):
        found[value][tuple(what)] = count
    return {
        value: GroupCounts(
            each.get(("rows",), 0),
            each.get(("stopped",), 0),
            each.get(("refused",), 0),
            dict(_group_rules(each, plan)),
            _months(each),
        )
        for value, each in sorted(found.items())
    }


def _group_rules(counts: Mapping[Key, int], plan: PolicyPlan) -> Iterator[tuple[str, GroupRule]]:
    for rule in plan.rules:
        found = GroupRule(*(counts.get((what, rule), 0) for what in GroupRule._fields))
        if found.broken or found.reported:
            yield rule, found


def _months(counts: Mapping[Key, int]) -> Mapping[str, Mapping[str, int]]:
    found: dict[str, dict[str, int]] = {}
    for (what, *rest), count in counts.items():
        if what == "month":
            rule, month = rest
            found.setdefault(rule, {})[month] = count
    return found


def _unreadable(counts: _Counts, min_cell: int) -> Mapping[str, Unreadable]:
    """The texts that stand in `min_cell` rows or more, the most frequent of each setting."""
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for (path, text), count in counts.below("unreadable"):
        found[path][text] = count
    return {path: _most_frequent(texts, min_cell) for path, texts in sorted(found.items())}


def _most_frequent(texts: Mapping[str, int], min_cell: int) -> Unreadable:
    ranked = sorted(texts.items(), key=lambda item: (-item[1], item[0]))
    shown = {text: rows for text, rows in ranked[:_MOST_TEXTS] if rows >= min_cell}
    others = [rows for text, rows in ranked if text not in shown]
    return Unreadable(shown, len(others), sum(others))


def _samples(tally: Tally, names: Names, plan: PolicyPlan) -> Mapping[str, tuple[SampledRow, ...]]:
    return {
        rule: tuple(
            SampledRow(names.files[row.file][0], row.row, row.times, row.cells)
            for _, row in sorted(tally.drawn[rule].items())
        )
        for rule in plan.rules
        if rule in tally.drawn
    }


def _against(counts: _Counts, names: Names) -> Against:
    other = names.policies[1]
    moved = {
        rule: Moved(counts["moved", rule, "before"], counts["moved", rule, "after"])
        for rule in _every_rule(names.policies)
    }
    return Against(
        other.title,
        other.digest,
        other.plan.digest(),
        _verdicts(counts, "1"),
        _rules(counts, "1", other.plan),
        counts["stopped", "1"],
        other.plan.inactive(),
        Moved(counts["moved", "", "before"], counts["moved", "", "after"]),
        {rule: each for rule, each in moved.items() if any(each)},
    )


def _every_rule(policies: Iterable[PolicyName]) -> dict[str, None]:
    return {rule: None for policy in policies for rule in policy.plan.rules}
