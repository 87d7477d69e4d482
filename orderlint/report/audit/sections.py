"""Makes blocks of the further parts of an audit: months, groups, pairs, outcomes, refused rows.

Never how a count is hidden.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.audit import counts, words
from orderlint.report.audit.moves import shown_moves
from orderlint.report.audit.rule_blocks import folded_table, monthly, value_table
from orderlint.report.audit.small_cells import shown_count, shown_line
from orderlint.report.blocks import (
    CountRow,
    CountTable,
    Folded,
    Items,
    Paragraphs,
    ReportSection,
    list_section,
    paragraph,
)
from orderlint.report.verdicts import LABELS
from orderlint.report.words import counted
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import Against, AuditResult, RuleCounts, Unreadable
    from orderlint.report.blocks import Block

_PAIRS = 12
"""Pairs that are shown."""


def month_section(result: AuditResult) -> ReportSection:
    """The orders that are stopped, by month."""
    heading = "Orders stopped, by month"
    found = monthly(result, "Share of orders stopped", "stopped")
    if found is None:
        return ReportSection(heading, (paragraph("No month can be told."),))
    notes = [words.INTERVALS, words.SINCE]
    if undated := result.months.get(""):
        shown = shown_count(undated.judged, result.min_cell).text
        notes.insert(0, f"Of {shown} orders the month cannot be told.")
    return ReportSection(heading, (found, Paragraphs(tuple(notes), "small")))


def verdict_section(result: AuditResult) -> ReportSection:
    """The orders by verdict."""
    rows = (
        CountRow(LABELS[verdict], (part.counted.text, words.share_alone(part)))
        for verdict, part in counts.by_verdict(result).items()
    )
    table = CountTable(("verdict", "orders", "share"), tuple(rows))
    return ReportSection("Orders by verdict", (table,))


def group_sections(result: AuditResult) -> Iterator[Block]:
    """The orders that are stopped, by each column."""
    for column, groups in result.groups.items():
        parts = counts.most_first(counts.by_part(groups, result.min_cell))
        yield ReportSection(
            f"Orders stopped, by {column}", tuple(value_table(column, parts, "stopped"))
        )


def pairs_section(result: AuditResult) -> ReportSection:
    """The rules that are reported in the same orders."""
    heading = "Rules found together in one order"
    shown = {pair: shown_count(count, result.min_cell) for pair, count in result.pairs.items()}
    ranked = sorted((-(n.value or 0), pair, n) for pair, n in shown.items() if n.value)
    if not ranked:
        return ReportSection(heading, (paragraph("None so often that it is shown."),))
    found = [CountRow(" and ".join(pair), (n.text,)) for _, pair, n in ranked[:_PAIRS]]
    left = len(shown) - len(found)
    more = [Paragraphs((f"{counted(left, 'other pair')}, found less often.",), "small")]
    table = CountTable(("rules", "orders"), tuple(found))
    return ReportSection(heading, (table, *(more if left else [])))


def outcome_sections(result: AuditResult) -> Iterator[Block]:
    """What each rule comes to, and for lack of what rules could not be checked."""
    yield _missing_section(result)
    heads = ("rule", "broken", "kept", "not asked", "not checked", "found")
    rows = tuple(_outcome_row(rule, found, result) for rule, found in result.rules.items())
    yield ReportSection(
        "What each rule comes to",
        (
            Paragraphs((_OUTCOMES,), "small"),
            Folded(f"All {len(rows)} rules", (CountTable(heads, rows),)),
        ),
    )


_OUTCOMES = (
    "Each rule is broken, kept, not asked (it speaks of other orders) or could not be checked, in "
    "each order that was judged. Found are the orders in which it is reported: where a heavier "
    "finding says the same, or the policy silences it, a broken rule is not reported."
)


def _outcome_row(rule: str, found: RuleCounts, result: AuditResult) -> CountRow:
    line = {
        "broken": found.broken,
        "kept": found.kept,
        "not asked": found.not_asked,
        "unchecked": found.unchecked,
    }
    # What is broken stands beside what is reported, which is nearly the same.
    shown = shown_line(line, result.min_cell, spared=("broken",))
    told = shown_count(found.reported, result.min_cell)
    return CountRow(rule, (*(shown[name].text for name in line), told.text))


def _missing_section(result: AuditResult) -> ReportSection:
    heading = "Could not be checked, by what is missing"
    found: dict[str, dict[str, int]] = {}
    for rule, told in result.rules.items():
        for path, count in told.unchecked_by.items():
            found.setdefault(path, {})[rule] = count
    if not found:
        return ReportSection(heading, (paragraph("Every rule could be checked on each order."),))
    ranked = sorted(found.items(), key=lambda item: (-max(item[1].values()), item[0]))
    rows = [
        CountRow(
            words.setting_name(path),
            (f"{len(by_rule)}", shown_count(max(by_rule.values()), result.min_cell).text),
        )
        for path, by_rule in ranked
    ]
    heads = ("missing or not to be read", "rules", "orders, at most")
    note = Paragraphs((_NO_PASS,), "small")
    return ReportSection(heading, (note, *folded_table(heads, rows, "setting")))


_NO_PASS = (
    "What could not be checked is not known to be sound. “At most” is of the rule that lacks the "
    "setting in most orders."
)


def unreadable_sections(result: AuditResult) -> Iterator[Block]:
    """The texts of each setting that cannot be read."""
    heading = "Texts that cannot be read"
    ranked = sorted(result.unreadable.items(), key=lambda item: (-_rows_of(item[1]), item[0]))
    if not ranked:
        yield ReportSection(heading, (paragraph("None."),))
        return
    tables = (part for path, found in ranked for part in _texts(path, found, result.min_cell))
    yield ReportSection(heading, tuple(tables))


def _rows_of(found: Unreadable) -> int:
    return sum(found.texts.values()) + found.rows_of_others


def _texts(path: str, found: Unreadable, min_cell: int) -> Iterator[Block]:
    """A rare text is not shown: it may be of one patient."""
    shown = {text: count for text, count in found.texts.items() if count >= max(min_cell, 1)}
    rows = tuple(CountRow(quote(text), (f"{count:,}",)) for text, count in shown.items())
    left = found.others + len(found.texts) - len(shown)
    if rows:
        yield paragraph(f"{words.setting_name(path)}:")
        yield CountTable(("text", "orders"), rows)
    if left:
        total = shown_count(_rows_of(found) - sum(shown.values()), min_cell).text
        name = f"{words.setting_name(path)}: " if not rows else ""
        said = f"{name}{counted(left, 'rarer text')} in {total} orders."
        yield Paragraphs((said,), "small")


def refused_section(result: AuditResult) -> ReportSection:
    """The rows of which no order can be read, and why."""
    heading = "Refused rows"
    refused = result.refused
    if not refused.count:
        return ReportSection(heading, (paragraph("None: each row is an order."),))
    by_reason = sorted(refused.by_reason.items(), key=lambda item: (-item[1], item[0]))
    rows = tuple(CountRow(reason, (f"{count:,}",)) for reason, count in by_reason)
    first = [
        f"{row.file}, row {row.row:,}{f', column {row.column}' if row.column else ''}: {row.reason}"
        for row in refused.first
    ]
    said = "They are in no other count."
    listed = Folded(f"The first {len(first)}", (Items(tuple(first)),))
    return ReportSection(
        heading,
        (paragraph(said), CountTable(("reason", "rows"), rows), *([listed] if first else [])),
    )


def against_sections(result: AuditResult) -> Iterator[Block]:
    """What another policy would stop."""
    if result.against:
        yield from _against(result, result.against)


def _against(result: AuditResult, other: Against) -> Iterator[Block]:
    names = f"“{result.policy}”", f"“{other.policy}”"
    moved = other.moved_stopped
    whole = shown_moves(result.stopped, other.stopped, moved, result.min_cell)
    said = (
        f"Of {result.judged:,} orders {names[0]} stops {whole.before.text} and {names[1]} "
        f"{whole.after.text}. Only {names[0]} stops {whole.only_before.text}, only {names[1]} "
        f"{whole.only_after.text}."
    )
    ids = sorted(other.moved, key=lambda rule: (-sum(other.moved[rule]), rule))
    heads = ("rule", "first policy", "second", "only first", "only second")
    rows = [_moved_row(rule, result, other) for rule in ids]
    table = tuple(folded_table(heads, rows, "rule")) if rows else ()
    none = () if rows else (paragraph("Each rule is found in the same orders by both."),)
    first = Paragraphs((said, f"First policy: {names[0]}. Second: {names[1]}."))
    yield ReportSection("Two policies side by side", (first, *table, *none))
    asked = [f"{item.rule}: {item.reason}" for item in other.inactive]
    if asked:
        yield list_section(f"Not asked under {names[1]}", asked)


def _moved_row(rule: str, result: AuditResult, other: Against) -> CountRow:
    before = _reported(result.rules, rule)
    after = _reported(other.rules, rule)
    moves = shown_moves(before, after, other.moved[rule], result.min_cell)
    return CountRow(rule, tuple(shown.text for shown in moves))


def _reported(rules: Mapping[str, RuleCounts], rule: str) -> int:
    return rules[rule].reported if rule in rules else 0
