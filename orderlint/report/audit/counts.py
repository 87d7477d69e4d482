"""The counts of an audit as they may be shown: ranked, with small ones hidden.

Never a sentence, and never a layout.
"""

from __future__ import annotations

from itertools import repeat
from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit.shares import change_point, wilson
from orderlint.finding import Level, Verdict
from orderlint.report.audit.small_cells import ShownCount, shown_count, shown_line
from orderlint.report.audit.table_counts import table_counts
from orderlint.rulebook.rule import MISSING_FAMILY, CodeRule, Rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.audit.model import AuditResult, GroupCounts


class GroupCount(NamedTuple):
    """One group or month: its orders, and how many of them a count is of; small ones hidden."""

    name: str
    orders: ShownCount
    counted: ShownCount

    @property
    def share(self) -> tuple[int, int] | None:
        """The count and what it is of; None if either is hidden or there is no order."""
        if self.counted.value is None or not self.orders.value:
            return None
        return self.counted.value, self.orders.value

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the share, from 0 to 1; (0, 1) without a share."""
        return wilson(*self.share) if self.share else (0.0, 1.0)


class Change(NamedTuple):
    """That a share is another from `month` on: what it is before and since, small counts hidden."""

    month: str
    rises: bool
    before: GroupCount
    since: GroupCount


def ranked(result: AuditResult, rules: Mapping[str, Rule], *, notes: bool = False) -> list[str]:
    """The ids of the rules that stop orders or, with `notes`, of those that are reported as notes.

    The one reported most comes first, hidden ones last. Without those on settings that the table
    leaves out.
    """
    without = {*left_out(result, rules)}
    found = [
        rule
        for rule, found in result.rules.items()
        if found.reported and (found.level is Level.NOTE) == notes and rule not in without
    ]
    return sorted(found, key=lambda rule: (-(of_rule(result, rule).counted.value or 0), rule))


def rules_shown(result: AuditResult, ids: Iterable[str]) -> list[str]:
    """Of these rules, those with a count that is shown."""
    return [rule for rule in ids if of_rule(result, rule).counted.value is not None]


def whole(result: AuditResult) -> GroupCount:
    """How many orders of the table are stopped."""
    return GroupCount("", _judged(result), table_counts(result).stopped)


def by_verdict(result: AuditResult) -> dict[Verdict, GroupCount]:
    """How many orders come to each verdict. Those of the first two are the orders stopped."""
    shown = table_counts(result)
    return {verdict: GroupCount("", _judged(result), shown.verdict(verdict)) for verdict in Verdict}


def of_rule(result: AuditResult, rule: str) -> GroupCount:
    """In how many orders of the table a rule is reported."""
    return GroupCount("", _judged(result), table_counts(result).rule(rule, "reported"))


def _judged(result: AuditResult) -> ShownCount:
    return shown_count(result.judged, result.min_cell)


def by_part(
    parts: Mapping[str, GroupCounts], min_cell: int, rule: str | None = None
) -> tuple[GroupCount, ...]:
    """The orders of each group or month that are stopped or, with `rule`, in which it is reported.

    In the order of `parts`.
    """
    orders = {name: part.judged for name, part in parts.items()}
    counted = {name: _counted(part, rule) for name, part in parts.items()}
    shown_orders = shown_line(orders, min_cell)
    nearly = {name for name, n in orders.items() if 0 < n - counted[name] < min_cell}
    shown = shown_line(counted, min_cell, most=orders, hide=nearly)
    return tuple(GroupCount(name, shown_orders[name], shown[name]) for name in parts)


def _counted(part: GroupCounts, rule: str | None) -> int:
    if rule is None:
        return part.stopped
    return part.rules[rule].reported if rule in part.rules else 0


def most_first(parts: Iterable[GroupCount]) -> list[GroupCount]:
    """Those with the highest counts first; hidden counts after them, and zeros last."""
    return sorted(parts, key=lambda part: (-_weight(part.counted), part.name))


def _weight(shown: ShownCount) -> float:
    return 0.5 if shown.value is None else shown.value


def elsewhere(result: AuditResult, rule: str, part: GroupCount) -> GroupCount | None:
    """The count of a rule in all groups but one; None where that one is hidden."""
    if part.share is None:
        return None
    counted, orders = part.share
    left = result.rules[rule].reported - counted, result.judged - orders
    return GroupCount("", *(shown_count(count, result.min_cell) for count in reversed(left)))


def dated(result: AuditResult) -> dict[str, GroupCounts]:
    """The months that can be told, the first one first."""
    return {month: result.months[month] for month in sorted(result.months) if month}


def change_of(result: AuditResult, rule: str) -> Change | None:
    """The month from which a rule is reported in another share of orders; None if none clearly."""
    months = dated(result)
    series = [(_counted(part, rule), part.judged) for part in months.values()]
    at = change_point(series)
    if at is None:
        return None
    ends = {False: series[:at], True: series[at:]}
    counted = {late: sum(count for count, _ in part) for late, part in ends.items()}
    orders = {late: sum(of for _, of in part) for late, part in ends.items()}
    shown_orders = shown_line(orders, result.min_cell)
    shown = shown_line(counted, result.min_cell, most=orders)
    before, since = (GroupCount("", shown_orders[late], shown[late]) for late in ends)
    rises = counted[True] * orders[False] > counted[False] * orders[True]
    return Change([*months][at], rises, before, since)


def span_of(result: AuditResult, rule: str) -> tuple[str, str] | None:
    """The first and the last month in which a rule may be reported, as far as that is shown."""
    parts = by_part(dated(result), result.min_cell, rule)
    found = [part.name for part in parts if part.counted.value != 0]
    return (found[0], found[-1]) if found else None


def left_out(result: AuditResult, rules: Mapping[str, Rule]) -> list[str]:
    """The ids of the reported rules on missing settings that no column of the table is read as.

    They say of the table what it lacks, and nothing of an order.
    """
    columns = [column.path for column in result.mapping]
    return [
        rule
        for rule, counts in result.rules.items()
        if counts.reported and counts.family == MISSING_FAMILY and rule in rules
        if not any(map(_is_read, main_settings(rules[rule]), repeat(columns)))
    ]


def main_settings(rule: Rule) -> tuple[str, ...]:
    """The paths of the settings that a rule is asked of first."""
    if isinstance(rule, CodeRule):
        return ()
    return tuple(dict.fromkeys(item.it or item.paths[0] for item in rule.instances))


def _is_read(path: str, columns: Iterable[str]) -> bool:
    """Whether a column is read as a setting, as its section or as a part of it."""
    return any(f"{path}.".startswith(f"{c}.") or c.startswith(f"{path}.") for c in columns)
