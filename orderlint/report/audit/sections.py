"""Makes blocks of the further parts of an audit: months, groups, pairs, outcomes, refused rows.

Never how a count is hidden.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import blocks as b
from orderlint.report.audit import counts, words
from orderlint.report.audit.rule_blocks import folded_table, monthly, value_table
from orderlint.report.audit.small_cells import NOT_SHOWN, shown_count, shown_line, shown_moves
from orderlint.report.audit.table_counts import OUTCOMES, table_counts
from orderlint.report.words import LABELS, counted
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import Against, AuditResult, GroupCounts, RuleCounts, Unreadable

_PAIRS = 12
"""Pairs that are shown."""
_WHO = (
    "They are in no other count. What is to be changed is changed by whoever makes the export: in "
    "the record that the row comes from, or where the export is made, at the row and column named "
    "below. A character that is to be taken out may show on no screen: delete that text and type "
    "it anew. Then run the audit again."
)


def month_section(result: AuditResult) -> b.ReportSection:
    """The orders that are stopped, by month."""
    heading = "Orders stopped, by month"
    found = monthly(result, "Share of orders stopped", "stopped")
    if found is None:
        return b.ReportSection(heading, (b.paragraph("No month can be told."),))
    notes = [words.INTERVALS, words.SINCE]
    if undated := result.months.get(""):
        shown = shown_count(undated.judged, result.min_cell).text
        notes.insert(0, f"Of {shown} orders the month cannot be told.")
    return b.ReportSection(heading, (found, b.Paragraphs(tuple(notes), "small")))


def verdict_section(result: AuditResult) -> b.ReportSection:
    """The orders by verdict."""
    rows = (
        b.CountRow(LABELS[verdict], (part.counted.text, words.share_alone(part)))
        for verdict, part in counts.by_verdict(result).items()
    )
    table = b.CountTable(("verdict", "orders", "share"), tuple(rows))
    note = b.Paragraphs((words.VERDICTS,), "small")
    return b.ReportSection("Orders by verdict", (table, note))


def group_sections(result: AuditResult) -> Iterator[b.Block]:
    """The orders that are stopped, by each column."""
    for column, groups in result.groups.items():
        parts = counts.most_first(counts.by_part(groups, result.min_cell))
        yield b.ReportSection(
            f"Orders stopped, by {column}", tuple(value_table(column, parts, "stopped"))
        )


def pairs_section(result: AuditResult) -> b.ReportSection:
    """The rules that are reported in the same orders."""
    heading = "Rules reported together in one order"
    shown = {pair: table_counts(result).pair(pair) for pair in result.pairs}
    ranked = sorted((-(n.value or 0), pair, n) for pair, n in shown.items() if n.value)
    if not ranked:
        return b.ReportSection(heading, (b.paragraph("None so often that it is shown."),))
    found = [b.CountRow(" and ".join(pair), (n.text,)) for _, pair, n in ranked[:_PAIRS]]
    more = [b.Paragraphs(("Other pairs are reported less often, or not shown.",), "small")]
    table = b.CountTable(("rules", "orders"), tuple(found))
    return b.ReportSection(heading, (table, *(more if len(shown) > len(found) else [])))


def outcome_sections(result: AuditResult) -> Iterator[b.Block]:
    """What each rule comes to, and for lack of what rules could not be checked."""
    yield _missing_section(result)
    heads = ("rule", "broken", "kept", "not asked", "not checked", "reported")
    whole = table_counts(result)
    names = (*OUTCOMES, "reported")
    rows = {rule: [whole.rule(rule, name) for name in names] for rule in result.rules}
    # By what is shown: a hidden zero is not to be told by where it stands.
    idle = [rule for rule, shown in rows.items() if shown[0].value == shown[3].value == 0]
    told, quiet = (
        tuple(b.CountRow(r, tuple(s.text for s in rows[r])) for r in rows if (r in idle) == there)
        for there in (False, True)
    )
    table = [b.CountTable(heads, told)] if told else []
    said = f"{counted(len(quiet), 'rule')} kept or not asked in every order"
    folded = [b.Folded(said, (b.CountTable(heads, quiet),))] if quiet else []
    note = b.Paragraphs((_OUTCOMES,), "small")
    yield b.ReportSection("What each rule comes to", (note, *table, *folded))


_OUTCOMES = (
    "Each rule is broken, kept, not asked (it speaks of other orders) or could not be checked, in "
    "each order that was judged. Reported are the orders of which a check would say so: where a "
    "heavier finding says the same, or the policy silences it, a broken rule is not reported."
)


def _missing_section(result: AuditResult) -> b.ReportSection:
    heading = "Could not be checked, by what is missing"
    found: dict[str, dict[str, int]] = {}
    for rule, told in result.rules.items():
        for path, count in told.unchecked_by.items():
            found.setdefault(path, {})[rule] = count
    if not found:
        return b.ReportSection(
            heading, (b.paragraph("Every rule could be checked on each order."),)
        )
    ranked = sorted(found.items(), key=lambda item: (-max(item[1].values()), item[0]))
    rows = [
        b.CountRow(
            words.setting_name(path),
            (f"{len(by_rule)}", _at_most(by_rule, result)),
        )
        for path, by_rule in ranked
    ]
    heads = ("missing or not to be read", "rules", "orders, at most")
    note = b.Paragraphs((_NO_PASS,), "small")
    return b.ReportSection(heading, (note, *folded_table(heads, rows, "setting")))


def _at_most(by_rule: Mapping[str, int], result: AuditResult) -> str:
    """The orders in which some rule lacks a setting most often, unless that gives them away."""
    rule = max(by_rule, key=lambda rule: by_rule[rule])
    shown = shown_count(by_rule[rule], result.min_cell)
    hidden = table_counts(result).rule(rule, "unchecked").value is None
    return NOT_SHOWN if hidden and shown.value is not None else shown.text


_NO_PASS = (
    "What could not be checked is not known to be sound. “At most” is of the rule that lacks the "
    "setting in most orders."
)


def unreadable_sections(result: AuditResult) -> Iterator[b.Block]:
    """The texts of each setting that cannot be read."""
    heading = "Texts that cannot be read"
    ranked = sorted(result.unreadable.items(), key=lambda item: (-_rows_of(item[1]), item[0]))
    if not ranked:
        yield b.ReportSection(heading, (b.paragraph("None."),))
        return
    tables = (part for path, found in ranked for part in _texts(path, found, result.min_cell))
    yield b.ReportSection(heading, tuple(tables))


def _rows_of(found: Unreadable) -> int:
    return sum(found.texts.values()) + found.rows_of_others


def _texts(path: str, found: Unreadable, min_cell: int) -> Iterator[b.Block]:
    """A rare text is not shown: it may be of one patient."""
    # How many rare texts there are is not said: with their orders, that would say each count.
    shown = {text: count for text, count in found.texts.items() if count >= max(min_cell, 1)}
    rows = tuple(b.CountRow(quote(text), (f"{count:,}",)) for text, count in shown.items())
    name = words.setting_name(path)
    if rows:
        yield b.paragraph(f"{name}:")
        yield b.CountTable(("text", "orders"), rows)
    left = found.others + len(found.texts) - len(shown)
    if left and min_cell > 1:
        of = "Further texts" if rows else f"The texts of the {name}"
        yield b.Paragraphs((f"{of} are not shown: each stands in too few orders.",), "small")
    elif left:
        said = f"{counted(left, 'further text')} in {found.rows_of_others:,} orders."
        yield b.Paragraphs((said,), "small")


def against_sections(result: AuditResult) -> Iterator[b.Block]:
    """What another policy would stop."""
    other = result.against
    if other is None:
        return
    names = f"“{result.policy}”", f"“{other.policy}”"
    moved = other.moved_stopped
    hidden = table_counts(result).stopped.value is None
    whole = shown_moves(result.stopped, other.stopped, moved, result.min_cell, hide=hidden)
    before, after, only_before, only_after = (shown.text for shown in whole)
    said = (
        f"Of {result.judged:,} orders {names[0]} stops {before} and {names[1]} "
        f"{after}. Only {names[0]} stops {only_before}, only {names[1]} "
        f"{only_after}."
    )
    ids = sorted(other.moved, key=lambda rule: (-sum(other.moved[rule]), rule))
    heads = ("rule", "first policy", "second", "only first", "only second")
    rows = [_moved_row(rule, result, other) for rule in ids]
    table = tuple(folded_table(heads, rows, "rule")) if rows else ()
    none = () if rows else (b.paragraph("Each rule is reported in the same orders by both."),)
    first = b.Paragraphs((said, f"First policy: {names[0]}. Second: {names[1]}."))
    yield b.ReportSection("Two policies side by side", (first, *table, *none))
    asked = [f"{item.rule}: {item.reason}" for item in other.inactive]
    if asked:
        yield b.list_section(f"Not asked under {names[1]}", asked)


def _moved_row(rule: str, result: AuditResult, other: Against) -> b.CountRow:
    before = _reported(result.rules, rule)
    after = _reported(other.rules, rule)
    hidden = rule in result.rules and table_counts(result).rule(rule, "reported").value is None
    moves = shown_moves(before, after, other.moved[rule], result.min_cell, hide=hidden)
    return b.CountRow(rule, tuple(shown.text for shown in moves))


def _reported(rules: Mapping[str, RuleCounts], rule: str) -> int:
    return rules[rule].reported if rule in rules else 0


def refused_section(result: AuditResult) -> b.ReportSection:
    """The rows of which no order can be read, and why."""
    heading = "Refused rows"
    refused = result.refused
    if not refused.count:
        return b.ReportSection(heading, (b.paragraph("None: each row is an order."),))
    by_reason = sorted(refused.by_reason.items(), key=lambda item: (-item[1], item[0]))
    rows = tuple(b.CountRow(reason, (f"{count:,}",)) for reason, count in by_reason)
    reasons = b.CountTable(("reason", "rows"), rows)
    where = tuple(_where_refused(result))
    terms = [b.Terms(where)] if where else []
    return b.ReportSection(heading, (b.paragraph(_WHO), reasons, *terms, *_first_refused(result)))


def _where_refused(result: AuditResult) -> Iterator[tuple[str, str]]:
    """How many of them each column's values have, and each month."""
    for column, groups in result.groups.items():
        yield f"By {column}", _refused_in(groups, result.min_cell)
    if result.months:
        months = {(month or "not known"): result.months[month] for month in sorted(result.months)}
        yield "By month", _refused_in(months, result.min_cell, quoted=False)


def _refused_in(parts: Mapping[str, GroupCounts], min_cell: int, *, quoted: bool = True) -> str:
    shown = shown_line({name: part.refused for name, part in parts.items()}, min_cell)
    return ", ".join(
        f"{words.value_words(name) if quoted else name}: {count.text}"
        for name, count in shown.items()
        if count.value != 0
    )


def _first_refused(result: AuditResult) -> Iterator[b.Block]:
    first = [
        f"{row.file}, row {row.row:,}{f', column {row.column}' if row.column else ''}: {row.reason}"
        for row in result.refused.first
    ]
    if first:
        yield b.Folded(f"The first {len(first)}", (b.Items(tuple(first)),))
