"""Makes blocks of the rules of an audit: ranked with bars, and each of the first ones by itself.

Never how a count is hidden.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import blocks as b
from orderlint.report.audit import counts, words
from orderlint.report.audit.month_tables import month_table
from orderlint.report.audit.table_counts import table_counts
from orderlint.report.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.audit.model import AuditResult
    from orderlint.report.audit.counts import GroupCount
    from orderlint.rulebook.rule import Rule

_OPEN = 12
"""Rows of a table that a page shows without its being opened."""
_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0)
"""Shares that a bar of full width can be."""
_VALUES = 12
"""Values of a column that are shown of a rule."""


def rule_table(
    result: AuditResult, rules: Mapping[str, Rule], heading: str, ids: Sequence[str]
) -> b.ReportSection:
    """Rules in the order given, with how many orders each is reported in, and in how many alone."""
    if not ids:
        return b.ReportSection(heading, (b.paragraph("None."),))
    heads = ("rule", "orders", "share", "by it alone")
    whole, parts = table_counts(result), [counts.of_rule(result, rule) for rule in ids]
    most = max((part.counted.value or 0 for part in parts), default=0)
    found = [
        b.CountRow(
            words.rule_heading(result, rule),
            (part.counted.text, words.share_alone(part), whole.rule(rule, "only").text),
            words.first_sentence(rules.get(rule)),
            b.Bar(part.counted.value / most) if part.counted.value else None,
        )
        for rule, part in zip(ids, parts, strict=True)
    ]
    note = b.Paragraphs((words.BRACKETED,), "small")
    notes = [note] if any("[" in row.said for row in found) else []
    scale = [_scale(f"{most:,} orders")] if most else []
    return b.ReportSection(heading, (*scale, *folded_table(heads, found, "rule"), *notes))


def _scale(full: str) -> b.Block:
    """What the bars of a table are of; a text has no bars."""
    return b.PageOnly((b.Paragraphs((f"A bar of full width is {full}.",), "small"),))


def folded_table(
    heads: tuple[str, ...], found: Sequence[b.CountRow], noun: str
) -> Iterator[b.Block]:
    """A table of which a page folds what is beyond a screen."""
    yield b.CountTable(heads, tuple(found[:_OPEN]))
    if rest := tuple(found[_OPEN:]):
        yield b.Folded(f"{counted(len(rest), f'more {noun}')}", (b.CountTable(heads, rest),))


def most_in(result: AuditResult, rule: str) -> Iterator[tuple[str, GroupCount]]:
    """The value of each column in which a rule stops most orders, where it is shown."""
    if counts.of_rule(result, rule).counted.value is None:
        return
    for column, groups in result.groups.items():
        parts = counts.most_first(counts.by_part(groups, result.min_cell, rule))
        yield from ((column, part) for part in parts[:1] if part.share and part.counted.value)


def told_of(result: AuditResult, rule: str) -> list[tuple[str, str]]:
    """In which group of each column a rule stops most, and since when; nothing of a hidden one."""
    if counts.of_rule(result, rule).counted.value is None:
        return []
    told = [(f"By {column}", said) for column, said in _where(result, rule)]
    since = _since(result, rule)
    return [*told, ("Since when", since)] if since else told


def _where(result: AuditResult, rule: str) -> Iterator[tuple[str, str]]:
    for column, groups in result.groups.items():
        parts = counts.most_first(counts.by_part(groups, result.min_cell, rule))
        first = next((part for part in parts if part.share), None)
        if first is None or not first.counted.value:
            yield column, "no value has so many that it is shown"
            continue
        said = f"most in {words.value_words(first.name)}, {words.share_words(first)}"
        beside = counts.elsewhere(result, rule, first)
        if beside and len(groups) > 1:
            said += f"; elsewhere {words.share_words(beside)}"
        yield column, f"{said}{_largest(parts, first)}"


def _largest(parts: list[GroupCount], first: GroupCount) -> str:
    """The value with the largest share, where it is another than the one with most orders."""
    largest = max((part for part in parts if part.share), key=_ratio)
    if _ratio(largest) <= _ratio(first):
        return ""
    name = words.value_words(largest.name)
    return f"; the largest share in {name}, {words.share_words(largest)}"


def _ratio(part: GroupCount) -> float:
    count, of = part.share or (0, 1)
    return count / of


def _since(result: AuditResult, rule: str) -> str:
    months = counts.dated(result)
    change = counts.change_of(result, rule)
    if change:
        return words.change_words(change)
    span = counts.span_of(result, rule)
    return words.span_words(span, months) if span else ""


def rule_sections(
    result: AuditResult, rules: Mapping[str, Rule], ids: Sequence[str]
) -> Iterator[b.Block]:
    """Each of these rules by itself: by month and by each column."""
    for number, rule in enumerate(ids, 1):
        yield b.ReportSection(
            words.rule_heading(result, rule),
            (
                b.paragraph(words.first_sentence(rules.get(rule))),
                b.Terms(tuple(told_of(result, rule))),
                b.Columns(tuple(_pictures(result, rule, f"rule{number}"))),
                *(by_month_of_values(result, rule) if number == 1 else ()),
            ),
        )


def _pictures(result: AuditResult, rule: str, name: str) -> Iterator[b.Block]:
    if months := monthly(result, f"Share of orders, {rule}", name, rule):
        yield months
    for column, groups in result.groups.items():
        parts = counts.most_first(counts.by_part(groups, result.min_cell, rule))
        yield b.ReportSection("", tuple(value_table(column, parts, "reported")))


def by_month_of_values(result: AuditResult, rule: str) -> Iterator[b.Block]:
    """The orders that a rule stops, by month and the values of each column with most of them."""
    for column in result.groups:
        table = month_table(result, column, rule)
        if table is not None:
            others = ("others",) if table.has_others else ()
            heads = ("month", *map(words.value_words, table.values), *others)
            rows = (
                b.CountRow(month or _NOT_TOLD, tuple(each.text for each in shown))
                for month, shown in table.months.items()
            )
            body = (b.CountTable(heads, tuple(rows)),)
            yield b.ReportSection("", (b.Folded(f"The same by month and {column}", body),))


_NOT_TOLD = "not told"


def monthly(result: AuditResult, title: str, name: str, rule: str | None = None) -> b.Block | None:
    """The picture of a share by month, and its numbers; None without a month."""
    parts = counts.by_part(counts.dated(result), result.min_cell, rule)
    if not parts:
        return None
    points = tuple(
        b.Month(part.name, part.share[0] / part.share[1], *part.interval)
        if part.share
        else b.Month(part.name, None)
        for part in parts
    )
    heads = ("month", "orders", "stopped" if rule is None else "reported", "share", "95 % interval")
    table = b.CountTable(heads, tuple(_part_row(part, part.name) for part in parts))
    picture = b.PageOnly((b.Monthly(title, points, name),))
    return b.ReportSection("", (picture, b.Folded("The same in numbers", (table,))))


def value_table(column: str, parts: Sequence[GroupCount], head: str) -> Iterator[b.Block]:
    """The values of a column with orders and shares, the first of them; `head` is of the counts."""
    widest = max((part.interval[1] for part in parts[:_VALUES] if part.share), default=0.0)
    top = next((step for step in _STEPS if step >= widest), 1.0)
    if widest:
        yield _scale(f"{100 * top:g} % of the orders in its row")
    heads = (column, "orders", head, "share", "95 % interval")
    found = [
        _part_row(part, words.value_words(part.name), top if part.share else None)
        for part in parts[:_VALUES]
    ]
    yield b.CountTable(heads, tuple(found))
    if len(parts) > _VALUES:
        left = counted(len(parts) - _VALUES, "more value")
        yield b.Paragraphs((f"{left} of {column} with fewer orders.",), "small")


def _part_row(part: GroupCount, name: str, top: float | None = None) -> b.CountRow:
    cells = part.orders.text, part.counted.text, words.share_alone(part), words.interval_words(part)
    if top is None or part.share is None:
        return b.CountRow(name, cells)
    low, high = part.interval
    share = part.share[0] / part.share[1]
    return b.CountRow(name, cells, "", b.Bar(share / top, (low / top, high / top)))
