"""Makes blocks of an audit: what is stopped, by which rules, in which groups, since when.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.report import blocks as b
from orderlint.report.audit import counts, rule_blocks, sections, words
from orderlint.report.audit.origin import origin_sections
from orderlint.report.audit.samples import sample_sections
from orderlint.report.audit.small_cells import NOT_SHOWN
from orderlint.report.audit.table_counts import table_counts
from orderlint.report.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.audit.model import AuditResult
    from orderlint.report.audit.words import WrittenRows
    from orderlint.rulebook.rule import Rule

_FIRST = 3
"""Rules that the first screen of a text has."""
_WHOLE = 5
"""Rules of which a page and the whole text say in which groups they stop, and since when."""
_NAMES = 12
"""Settings without a column that are named."""
MOST = "The rules that stop most"


def blocks(
    result: AuditResult, rules: Mapping[str, Rule], written: Sequence[WrittenRows] = ()
) -> Iterator[b.Block]:
    """The audit whole. `rules` are the rulebook's, for their words; `written` are files of rows."""
    yield from _opening(result, words.CAUTION)
    if said := words.hiding_words(result.min_cell):
        yield b.ReportSection("", (b.paragraph(said, "small"),))
    stopping = counts.ranked(result, rules)
    yield b.PageOnly((_answers(result, rules, stopping),))
    yield rule_blocks.rule_table(result, rules, MOST, stopping)
    yield from _left_out(result, rules)
    yield sections.verdict_section(result)
    yield sections.month_section(result)
    yield from sections.group_sections(result)
    yield from rule_blocks.rule_sections(
        result, rules, counts.rules_shown(result, stopping)[:_WHOLE]
    )
    yield sections.pairs_section(result)
    noting = counts.ranked(result, rules, notes=True)
    yield rule_blocks.rule_table(
        result, rules, "Rules that note something and stop no order", noting
    )
    yield from sections.against_sections(result)
    yield from sections.unreadable_sections(result)
    yield from sections.outcome_sections(result)
    yield from sample_sections(result)
    yield sections.refused_section(result)
    yield from _written(written)
    yield from origin_sections(result)


def title(result: AuditResult) -> str:
    """The heading of the report, and the title of its page."""
    return f"Audit of past orders: {words.files_words(result)}"


def brief_blocks(
    result: AuditResult, rules: Mapping[str, Rule], written: Sequence[WrittenRows] = ()
) -> Iterator[b.Block]:
    """What a first screen holds: how many orders are stopped, and by which rules most."""
    yield from _opening(result, words.BRIEF_CAUTION)
    stopping = counts.ranked(result, rules)
    entries = (_entry(result, rules, rule) for rule in stopping[:_FIRST])
    found = tuple(entries) or (b.paragraph("None stops an order."),)
    yield b.ReportSection(MOST, found)
    yield from _left_out(result, rules)
    yield from _written(written)
    yield b.Paragraphs(tuple(_rest(result, len(stopping) - _FIRST)))


def _entry(result: AuditResult, rules: Mapping[str, Rule], rule: str) -> b.Entry:
    head = f"{words.rule_heading(result, rule)}: {_reported(result, rule)}"
    details = (f"{name}: {said}" for name, said in rule_blocks.told_of(result, rule))
    return b.Entry(head, words.first_sentence(rules.get(rule)), tuple(details))


def _rest(result: AuditResult, others: int) -> Iterator[str]:
    """What the first screen leaves out."""
    if others > 0:
        yield f"{counted(others, 'other rule')} stop{'s' if others == 1 else ''} orders."
    unread = sum(bool(found.texts or found.others) for found in result.unreadable.values())
    if unread:
        yield f"{counted(unread, 'setting')} had texts that cannot be read."
    open_rules = sum(bool(found.unchecked) for found in result.rules.values())
    if open_rules:
        yield f"{counted(open_rules, 'rule')} could not be checked on some order."
    yield "--detail has all of it, and --format html a page with pictures."


def _opening(result: AuditResult, caution: str) -> Iterator[b.Block]:
    """The table, how much was judged, how many orders are stopped, and what that does not say."""
    yield b.Heading(title(result))
    yield b.ReportSection("", (b.Paragraphs(tuple(_counted(result))),))
    yield b.paragraph(caution, "caution")


def _counted(result: AuditResult) -> Iterator[str]:
    count = f"{result.rows:,} row{'' if result.rows == 1 else 's'}"
    under = f"each as of {words.as_of_words(result.as_of)}, under “{result.policy}”"
    refused = result.refused.count
    if refused:
        yield (
            f"{count}. {refused:,} {'is' if refused == 1 else 'are'} refused, as no order can be "
            f"read there; the other {result.judged:,} were judged, {under}."
        )
    else:
        yield f"{count}, all of them judged, {under}."
    yield f"{words.share_words(counts.whole(result))} would have been stopped. {words.STOPPED}"


def _answers(
    result: AuditResult, rules: Mapping[str, Rule], stopping: list[str]
) -> b.ReportSection:
    """What somebody asks first: how many, by which rule, in which group, since when."""
    pairs = [("Orders stopped", words.share_words(counts.whole(result)))]
    if not stopping:
        return b.ReportSection("In short", (b.Terms(tuple(pairs)),))
    first = stopping[0]
    said = words.first_sentence(rules.get(first))
    pairs.append(("The rule that stops most", f"{first}: {_reported(result, first)}. {said}"))
    pairs += [
        (f"{first}: {in_sentence(name)}", told) for name, told in rule_blocks.told_of(result, first)
    ]
    return b.ReportSection("In short", (b.paragraph(_most(result, first)), b.Terms(tuple(pairs))))


def _most(result: AuditResult, rule: str) -> str:
    """Since when, in what share of orders and where the rule that stops most does so."""
    change = counts.change_of(result, rule)
    if change and change.since.share and change.before.share:
        since, before = (words.share_alone(part) for part in (change.since, change.before))
        said = f"Since {change.month}, {rule} stops {since} of orders (before, {before})"
    else:
        said = f"{rule} stops {words.share_words(counts.of_rule(result, rule))}"
    total = counts.of_rule(result, rule).counted.text
    places = (
        f"{part.counted.text} of its {total} are in {column} {words.value_words(part.name)}"
        for column, part in rule_blocks.most_in(result, rule)
    )
    return f"{'; '.join((said, *places))}."


def _reported(result: AuditResult, rule: str) -> str:
    """In how many orders a rule stops, and in how many of them alone."""
    alone = table_counts(result).rule(rule, "only").text
    said = words.share_words(counts.of_rule(result, rule))
    return said if alone == NOT_SHOWN else f"{said}, {alone} by this rule alone"


def _left_out(result: AuditResult, rules: Mapping[str, Rule]) -> Iterator[b.Block]:
    """The rules that find settings missing which no column of the table is read as."""
    found = counts.left_out(result, rules)
    if found:
        paths = (path for rule in found for path in counts.main_settings(rules[rule]))
        names = [*dict.fromkeys(map(words.setting_name, paths))]
        more = f" and {len(names) - _NAMES} more" if len(names) > _NAMES else ""
        said = (
            f"No column is read as: {', '.join(names[:_NAMES])}{more}. So each order lacks them. "
            f"The lists of rules leave out what says so ({counted(len(found), 'rule')}), and the "
            "orders that it stops are counted as stopped."
        )
        yield b.ReportSection("What the table leaves out", (b.paragraph(said),))


def _written(written: Sequence[WrittenRows]) -> Iterator[b.Block]:
    """The files of rows, and which of their columns are not as in the table."""
    if written:
        said = (sentence for item in written for sentence in words.written_words(item))
        yield b.list_section("Rows written", said)
