"""Makes the result of an audit of what its parts have counted.

Order and names. Counts nothing.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from orderlint import __version__
from orderlint.audit import model
from orderlint.audit.auditor import WRITTEN, Audit
from orderlint.finding import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.audit.policy_plan import PolicyPlan
    from orderlint.audit.tally import Key, Tally

    Counts = Counter[Key]
    """In the order of their names."""

_MOST_TEXTS = 20
"""Texts of one setting that are listed."""


def result_of(tally: Tally, audit: Audit, plans: Sequence[PolicyPlan]) -> model.AuditResult:
    """The result that the counts of all parts come to. `plans` are those of the policies."""
    counts = Counter(dict(sorted(tally.counts.items())))
    options, plan = audit.options, plans[0]
    given = zip(audit.tables, audit.digests, strict=True)
    files = tuple(
        model.SourceFile(table.name, digest, counts["rows", str(number)])
        for number, (table, digest) in enumerate(given)
    )
    return model.AuditResult(
        version=__version__,
        files=files,
        mapping=audit.columns.mapped,
        unmapped=audit.columns.unmapped,
        policy=plan.rulebook.policy,
        policy_digest=audit.policies[0].digest,
        rulebook_digest=plan.digest(),
        as_of=WRITTEN if options.as_of is None else f"column:{options.as_of}",
        rows=sum(file.rows for file in files),
        refused=_refusals(tally, counts, files),
        stopped=counts["stopped", "0"],
        verdicts=_verdicts(counts, "0"),
        rules=_rules(counts, "0", plan),
        pairs={(one, other): n for (one, other), n in _below(counts, "pair")},
        groups={name: _groups(counts, plan, "by", name) for name in options.by},
        month_of=(options.month or WRITTEN) if options.by_month else None,
        months=_groups(counts, plan, "month"),
        unreadable=_unreadable(counts, audit.min_cell),
        seed=options.seed,
        samples=_samples(tally, files, plan),
        inactive=plan.inactive(),
        against=_against(counts, audit, plans) if len(plans) > 1 else None,
        min_cell=audit.min_cell,
    )


def _below(counts: Counts, *beginning: str) -> Iterator[tuple[Key, int]]:
    """The counts whose names begin so, under the rest of their names."""
    length = len(beginning)
    return ((key[length:], n) for key, n in counts.items() if key[:length] == beginning)


def _refusals(tally: Tally, counts: Counts, files: Sequence[model.SourceFile]) -> model.Refusals:
    by_reason = {reason: count for (reason,), count in _below(counts, "reason")}
    first = (
        model.RefusedRow(files[file].name, row, column, reason)
        for file, row, column, reason in tally.refused
    )
    return model.Refusals(counts["refused",], by_reason, tuple(first))


def _verdicts(counts: Counts, number: str) -> Mapping[Verdict, int]:
    return {verdict: counts["verdict", number, verdict.value] for verdict in Verdict}


def _rules(counts: Counts, number: str, plan: PolicyPlan) -> Mapping[str, model.RuleCounts]:
    missing: dict[str, dict[str, int]] = defaultdict(dict)
    for (rule, path), count in _below(counts, "missing", number):
        missing[rule][path] = count
    return {
        name: model.RuleCounts(
            rule.level,
            rule.family,
            **{outcome: counts["rule", number, name, outcome] for outcome in _OUTCOMES},
            unchecked_by=missing[name],
        )
        for name, rule in plan.rules.items()
    }


_OUTCOMES = ("broken", "kept", "not_asked", "unchecked", "reported", "only")


def _groups(counts: Counts, plan: PolicyPlan, *under: str) -> Mapping[str, model.GroupCounts]:
    found: dict[str, dict[Key, int]] = defaultdict(dict)
    for (value, *what), count in _below(counts, *under):
        found[value][tuple(what)] = count
    return {
        value: model.GroupCounts(
            each.get(("rows",), 0),
            each.get(("stopped",), 0),
            each.get(("refused",), 0),
            dict(_group_rules(each, plan)),
            _months(each),
        )
        for value, each in sorted(found.items())
    }


def _group_rules(
    counts: Mapping[Key, int], plan: PolicyPlan
) -> Iterator[tuple[str, model.GroupRule]]:
    for rule in plan.rules:
        found = model.GroupRule(*(counts.get((what, rule), 0) for what in model.GroupRule._fields))
        if found.broken or found.reported:
            yield rule, found


def _months(counts: Mapping[Key, int]) -> Mapping[str, Mapping[str, int]]:
    found: dict[str, dict[str, int]] = {}
    for (what, *rest), count in counts.items():
        if what == "month":
            rule, month = rest
            found.setdefault(rule, {})[month] = count
    return found


def _unreadable(counts: Counts, min_cell: int) -> Mapping[str, model.Unreadable]:
    """The texts that stand in `min_cell` rows or more, the most frequent of each setting."""
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for (path, text), count in _below(counts, "unreadable"):
        found[path][text] = count
    return {path: _most_frequent(texts, min_cell) for path, texts in sorted(found.items())}


def _most_frequent(texts: Mapping[str, int], min_cell: int) -> model.Unreadable:
    ranked = sorted(texts.items(), key=lambda item: (-item[1], item[0]))
    shown = {text: rows for text, rows in ranked[:_MOST_TEXTS] if rows >= min_cell}
    others = [rows for text, rows in ranked if text not in shown]
    return model.Unreadable(shown, len(others), sum(others))


def _samples(
    tally: Tally, files: Sequence[model.SourceFile], plan: PolicyPlan
) -> Mapping[str, tuple[model.SampledRow, ...]]:
    return {
        rule: tuple(
            model.SampledRow(files[row.file].name, row.row, row.times, row.cells)
            for _, row in sorted(tally.drawn[rule].items())
        )
        for rule in plan.rules
        if rule in tally.drawn
    }


def _against(counts: Counts, audit: Audit, plans: Sequence[PolicyPlan]) -> model.Against:
    plan, other = plans
    moved = {
        rule: model.MovedRows(counts["moved", rule, "before"], counts["moved", rule, "after"])
        for rule in {**plan.rules, **other.rules}
    }
    return model.Against(
        other.rulebook.policy,
        audit.policies[1].digest,
        other.digest(),
        _verdicts(counts, "1"),
        _rules(counts, "1", other),
        counts["stopped", "1"],
        other.inactive(),
        model.MovedRows(counts["moved", "", "before"], counts["moved", "", "after"]),
        {rule: each for rule, each in moved.items() if any(each)},
    )
