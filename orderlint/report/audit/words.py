"""The words of an audit: shares, rules without an order, and what its counts do not say.

Fixed words and the names in a result. Never a count, and never a layout.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.report.words import LEVELS
from orderlint.rulebook.rule import CodeRule, Rule
from orderlint.rulebook.words_check import BRACKETS, PLACEHOLDER
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import AuditResult
    from orderlint.report.audit.counts import Change, GroupCount
    from orderlint.tables.table_map import MappedColumn

STOPPED = (
    "An order is stopped where a finding has to be settled or asked about before the order is "
    "keyed in or started: DO NOT START – CALL, or CLARIFY."
)
CAUTION = (
    "Caution: this is decision support. It does not replace the prescriber, the pharmacist, the "
    "manufacturer's instructions or local policy, which decide. It counts orders as they were "
    "exported: what the export leaves out or changes is not seen. Of an order that is stopped it "
    "says that somebody would have been asked, not that the order was wrong for its patient, nor "
    "what came of it; of an order that is not stopped it does not say that it was right."
)
BRIEF_CAUTION = (
    "Caution: decision support; orders are counted as they were exported. Whether an order was "
    "right for its patient is not known from here. Local policy decides."
)
VERDICTS = (
    "DO NOT START – CALL: the order contradicts itself, or may harm as it stands. CLARIFY: there "
    "is something to ask about. INCOMPLETE: nothing was found to ask about, but part of the order "
    "could not be checked. NOTE: there is only something to read before starting. CLEAR: none of "
    "the rules asked found anything."
)
INTERVALS = (
    "A line across a bar or a point is the 95 % interval of the share (Wilson score): how far "
    "chance alone may have moved it. It knows nothing of a change in who is treated, or how. In a "
    "picture, a grey band with the word “hidden” stands for months whose share is not shown."
)
SINCE = (
    "A month is named from which a share is another only where chance alone would make so large a "
    "change less than once in 1,000 times (a likelihood-ratio test, p < 0.001). A change in the "
    "table, such as a new form, can be the reason as well."
)
BRACKETED = "In square brackets stands what each order, or the policy, writes there."
NONE_WRITTEN = "none written"
_SENTENCE_END = re.compile(r"(?<=[.?!])\s+(?=[A-Z\[])")
_ANY_SETTING = re.compile(r"\b([Tt])he \{(?:it )?name\}( say| speak)?")
_ADDED = re.compile(r"(?<=[a-z}])\{\w+\}")
"""What an order's own words may add to the last word of a sentence."""
_BESIDE = re.compile(r", \{([\w.]+)\}(?:,|(?=[.;]))")
"""A value that stands beside the name of its setting."""
_AGAIN = re.compile(r"(\[[^\]]*\])(?: \1)+")
_VALUE = "[value]"
_MOST_NAMED = 3
"""Settings that a sentence names where a rule is asked of several."""


def first_sentence(rule: Rule | None) -> str:
    """The first sentence of what a rule says, without an order: its values are in brackets.

    >>> from orderlint.rulebook.load import load
    >>> first_sentence(load().rules["drain-above-treat-above"])
    'The drain hangs at [drain height], above the treat-above level.'
    """
    if rule is None:
        return ""
    said = _ADDED.sub("", BRACKETS.sub("", rule.says))
    own = _own_settings(rule)
    if not 0 < len(own) <= _MOST_NAMED:
        said = _ANY_SETTING.sub(_any_setting, said)
    said = _BESIDE.sub(_beside, said)
    said = PLACEHOLDER.sub(lambda match: _unfilled(match, own, rule), said)
    first = _AGAIN.sub(r"\1", _SENTENCE_END.split(said, maxsplit=1)[0])
    return first.replace(f": {_VALUE}.", ".")


def _own_settings(rule: Rule) -> list[str]:
    """The settings of each of which a rule is asked; none where it is found by code."""
    if isinstance(rule, CodeRule):
        return []
    return [*dict.fromkeys(item.it for item in rule.instances if item.it)]


def _any_setting(match: re.Match[str]) -> str:
    verb = f"{match[2]}s" if match[2] else ""
    return f"{'A' if match[1] == 'T' else 'a'} setting{verb}"


def _beside(match: re.Match[str]) -> str:
    """Nothing, where the name of the setting stands before the value, which it tells."""
    before, name = match.string[: match.start()], match[1]
    names = ("{it name}", "a setting", "A setting") if name == "it" else (setting_name(name),)
    return "" if before.endswith(names) else match[0]


def _unfilled(match: re.Match[str], own: list[str], rule: Rule) -> str:
    """The names of the settings, or in brackets what an order writes there."""
    name, aspect = match.groups()
    if aspect == "name" or name == "name":
        paths = own if name == "it" else [name]
        return " or ".join(map(setting_name, paths)) if name != "name" else "setting"
    if name == "it" or (name == "written" and isinstance(rule, CodeRule)):
        return "[unit]" if aspect == "unit" else _VALUE
    if name in field_table().fields:
        return f"[{setting_name(name)}]"
    if name.startswith("site."):
        return "[limit of the policy]"
    return f"[{name.replace('_', ' ')}]"


def setting_name(path: str) -> str:
    """The display name of a setting or section, for use within a sentence."""
    table = field_table()
    known = path in table.fields or path in table.section_names
    return in_sentence(table.display_name(path)) if known else path


def rule_heading(result: AuditResult, rule: str) -> str:
    """A rule with its level."""
    return f"{rule} ({LEVELS[result.rules[rule].level]})"


def percent(count: int, of: int) -> str:
    """A share with one decimal; one that is not nothing, or not all, never looks as if it were."""
    tenths = (2000 * count + of) // (2 * of) if of else 0
    if count and not tenths:
        return "under 0.1 %"
    if count < of and tenths == 1000:
        return "over 99.9 %"
    return f"{tenths // 10}.{tenths % 10} %"


def share_words(part: GroupCount) -> str:
    """As in "540 of 2,000 orders (27.0 %)"; a hidden count without a share."""
    said = f"{part.counted.text} of {part.orders.text} orders"
    return f"{said} ({percent(*part.share)})" if part.share else said


def share_alone(part: GroupCount) -> str:
    """As in "27.0 %"; nothing where it is hidden."""
    return percent(*part.share) if part.share else ""


def interval_words(part: GroupCount) -> str:
    """As in "25.1 to 29.0"; nothing where the share is hidden."""
    if part.share is None:
        return ""
    low, high = part.interval
    return f"{100 * low:.1f} to {100 * high:.1f}"


def value_words(value: str) -> str:
    """A value of a column by which orders are grouped."""
    return f"“{quote(value)}”" if value else NONE_WRITTEN


def change_words(change: Change) -> str:
    """From when on, how often, and how often before."""
    if change.before.share and change.since.share:
        before, since = percent(*change.before.share), percent(*change.since.share)
        return f"from {change.month} on, in {since} of orders; before, in {before}."
    way = "more" if change.rises else "fewer"
    return f"from {change.month} on, in {way} orders than before."


def span_words(span: tuple[str, str], months: Mapping[str, object]) -> str:
    """In which months, where no month is clearly another than those before."""
    first, last = span
    whole = [*months]
    since = "from the first month on" if first == whole[0] else f"first in {first}"
    return f"{since}, last in {last}; there is no month from which its share is clearly another."


def files_words(result: AuditResult) -> str:
    """The files of the table, one by name."""
    first, *others = result.files
    more = f" and {len(others)} more" if others else ""
    return f"{first.name}{more}"


def as_of_words(as_of: str) -> str:
    """As of when each order is judged."""
    if as_of == "written":
        return "the time at which it was written"
    return f"the time in its column “{quote(as_of.removeprefix('column:'))}”"


def mapped_words(column: MappedColumn) -> Iterator[str]:
    """Which column a setting is read from, and how."""
    yield f"column “{quote(column.column)}”"
    if column.unit_column is not None:
        yield f"its unit in column “{quote(column.unit_column)}”"
    if column.unit is not None:
        yield f"in {column.unit} in every row"
    if column.absent:
        words = ", ".join(f"“{quote(word)}”" for word in column.absent)
        yield f"nothing written where it says {words}"
    if column.shortest_text:
        yield "floats as their shortest text"


def hiding_words(min_cell: int) -> str:
    """How small counts are shown; nothing where all are shown."""
    if min_cell <= 1:
        return ""
    return (
        f"Counts of 1 to {min_cell - 1} orders are shown as “under {min_cell}”, with their shares "
        "left out. Where one of them could be computed from other numbers, another count is shown "
        "so too, or as “not shown”."
    )


def month_words(month_of: str) -> str:
    """What the month of an order is taken from."""
    if month_of == "written":
        return "of the time at which the order was written"
    return f"of the column “{quote(month_of.removeprefix('column:'))}”"


class WrittenRows(NamedTuple):
    """What was written: how many rows, and the columns in which cells are not as in the table."""

    file: str
    rows: int
    changed: tuple[str, ...] = ()
    shortened: tuple[str, ...] = ()


def written_words(written: WrittenRows) -> list[str]:
    """What was written, and which columns are not as they were; a sentence each."""
    rows = f"{written.rows:,} row{'' if written.rows == 1 else 's'}"
    return [f"{rows} written to {written.file}.", *changed_words(written)]


def changed_words(written: WrittenRows) -> list[str]:
    """Which columns of a file are not as they were; a sentence each."""
    said = []
    if written.changed:
        said.append(
            f"In {written.file}, column {', '.join(written.changed)}, an apostrophe stands before "
            "what a spreadsheet would compute, so that it stays text. Parquet has it as it was."
        )
    if written.shortened:
        said.append(
            f"In {written.file}, column {', '.join(written.shortened)}, texts were too long for a "
            "cell and are cut."
        )
    return said
