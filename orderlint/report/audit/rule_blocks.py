"""Makes blocks of the rules of an audit: ranked with bars, and each of the first ones by itself.

Never how a count is hidden.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.audit import counts, words
from orderlint.report.audit.small_cells import shown_count
from orderlint.report.blocks import (
    Bar,
    Block,
    Columns,
    CountRow,
    CountTable,
    Folded,
    Month,
    Monthly,
    PageOnly,
    Paragraphs,
    ReportSection,
    Terms,
    paragraph,
)
from orderlint.report.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.audit.model import AuditResult
    from orderlint.report.audit.counts import Part
    from orderlint.rulebook.rule import Rule

_OPEN = 12
"""Rows of a table that a page shows without its being opened."""
_VALUES = 12
"""Values of a column that are shown of a rule."""


def rule_table(
    result: AuditResult, rules: Mapping[str, Rule], heading: str, ids: Sequence[str]
) -> ReportSection:
    """Rules in the order given, with how many orders each is reported in, and in how many alone."""
    if not ids:
        return ReportSection(heading, (paragraph("None."),))
    heads = ("rule", "orders", "share", "alone")
    parts = [counts.of_rule(result, rule) for rule in ids]
    most = max((part.counted.value or 0 for part in parts), default=0)
    found = [
        CountRow(
            words.rule_heading(result, rule),
            (part.counted.text, words.share_alone(part), _alone(result, rule)),
            words.first_sentence(rules.get(rule)),
            Bar(part.counted.value / most) if part.counted.value else None,
        )
        for rule, part in zip(ids, parts, strict=True)
    ]
    return ReportSection(heading, tuple(folded_table(heads, found, "rule")))


def _alone(result: AuditResult, rule: str) -> str:
    return shown_count(result.rules[rule].only, result.min_cell).text


def folded_table(heads: tuple[str, ...], found: Sequence[CountRow], noun: str) -> Iterator[Block]:
    """A table of which a page folds what is beyond a screen."""
    yield CountTable(heads, tuple(found[:_OPEN]))
    if rest := tuple(found[_OPEN:]):
        yield Folded(f"{counted(len(rest), f'more {noun}')}", (CountTable(heads, rest),))


def told_of(result: AuditResult, rule: str) -> list[tuple[str, str]]:
    """In which group of each column a rule stops most, and since when."""
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


def _largest(parts: list[Part], first: Part) -> str:
    """The value with the largest share, where it is another than the one with most orders."""
    largest = max((part for part in parts if part.share), key=_ratio)
    if _ratio(largest) <= _ratio(first):
        return ""
    name = words.value_words(largest.name)
    return f"; the largest share in {name}, {words.share_words(largest)}"


def _ratio(part: Part) -> float:
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
) -> Iterator[Block]:
    """Each of these rules by itself: by month and by each column."""
    for number, rule in enumerate(ids, 1):
        yield ReportSection(
            words.rule_heading(result, rule),
            (
                paragraph(words.first_sentence(rules.get(rule))),
                Terms(tuple(told_of(result, rule))),
                Columns(tuple(_pictures(result, rule, f"rule{number}"))),
            ),
        )


def _pictures(result: AuditResult, rule: str, name: str) -> Iterator[Block]:
    if months := monthly(result, f"Share of orders, {rule}", name, rule):
        yield months
    for column, groups in result.groups.items():
        parts = counts.most_first(counts.by_part(groups, result.min_cell, rule))
        shown = [part for part in parts if part.counted.value != 0]
        yield ReportSection("", tuple(value_table(column, shown, "found")))


def monthly(result: AuditResult, title: str, name: str, rule: str | None = None) -> Block | None:
    """The picture of a share by month, and its numbers; None without a month."""
    parts = counts.by_part(counts.dated(result), result.min_cell, rule)
    if not parts:
        return None
    points = tuple(
        Month(part.name, part.share[0] / part.share[1], *part.interval)
        if part.share
        else Month(part.name, None)
        for part in parts
    )
    heads = ("month", "orders", "stopped" if rule is None else "found", "share", "95 % interval")
    table = CountTable(heads, tuple(_part_row(part, part.name) for part in parts))
    picture = PageOnly((Monthly(title, points, name),))
    return ReportSection("", (picture, Folded("The same in numbers", (table,))))


def value_table(column: str, parts: Sequence[Part], head: str) -> Iterator[Block]:
    """The values of a column with orders and shares, the first of them; `head` is of the counts."""
    # An interval of few orders may be far wider than any share: it ends at the edge of the bar.
    top = 1.2 * max(map(_ratio, parts), default=1.0) or 1.0
    heads = (column, "orders", head, "share", "95 % interval")
    found = [
        _part_row(part, words.value_words(part.name), top if part.share else None)
        for part in parts[:_VALUES]
    ]
    yield CountTable(heads, tuple(found))
    if len(parts) > _VALUES:
        left = counted(len(parts) - _VALUES, "more value")
        yield Paragraphs((f"{left} of {column} with fewer orders.",), "small")


def _part_row(part: Part, name: str, top: float | None = None) -> CountRow:
    cells = part.orders.text, part.counted.text, words.share_alone(part), words.interval_words(part)
    if top is None or part.share is None:
        return CountRow(name, cells)
    low, high = part.interval
    share = part.share[0] / part.share[1]
    return CountRow(name, cells, "", Bar(share / top, (low / top, min(high / top, 1.0))))
