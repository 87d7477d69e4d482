"""Drafts of orders: as a document, the questions to whoever confirms one, and the order of it.

Each value as it was written. Never a setting of our own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.order.as_yaml import order_yaml, quoted
from orderlint.report.visible_text import safe
from orderlint.report.words import name_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.sentences.draft import Draft, DraftLine, Rest, SourceWords

_HEAD = """\
# What was read in a text. Each line is to be compared with the text by a person, who then changes
# `confirmed: no` to yes, or runs `orderlint draft --confirm` on this file. What is under
# `not_understood` is in no line; `left_out: yes` there says that the order goes without it.
"""
_ORDER_HEAD = "# From a text, each line confirmed by a person.\n"
LEAVE_OUT, KEEP = "leave out", "no"
LEAVE_OUT_OR_NO = f"Enter {LEAVE_OUT} or {KEEP}."


def draft_text(draft: Draft) -> str:
    """A draft in YAML; the same draft, the same text."""
    lines = [
        f"{_HEAD}document: draft\nformat: 1",
        f"source: {{name: {quoted(draft.name)}, sha256: {quoted(draft.digest)}}}",
        "lines:" if draft.lines else "lines: []",
        *(part for line in draft.lines for part in _line(line)),
        "not_understood:" if draft.rest else "not_understood: []",
        *(part for item in draft.rest for part in _rest(item)),
    ]
    return "\n".join(lines) + "\n"


def _line(line: DraftLine) -> Iterator[str]:
    yield f"  - setting: {line.path}"
    yield f"    value: {quoted(line.value)}"
    yield from _source(line.source)
    yield f"    confirmed: {_yes(line.confirmed)}"


def _rest(item: Rest) -> Iterator[str]:
    first, *others = _source(item.source)
    yield f"  - {first.strip()}"
    yield from others
    if item.why:
        yield f"    why: {quoted(item.why)}"
    yield f"    holds_number_or_setting: {_yes(item.holds_setting)}"
    yield f"    left_out: {_yes(item.left_out)}"


def _source(source: SourceWords) -> Iterator[str]:
    yield f"    written: {quoted(source.text)}"
    yield f"    line: {source.line}"
    yield f"    column: {source.column}"


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def order_text(draft: Draft) -> str:
    """The order of a draft in YAML, its settings in the order of the field table."""
    return order_yaml({line.path: line.value for line in draft.lines}, order_comment(draft))


def order_comment(draft: Draft, changed: Iterable[DraftLine] = ()) -> str:
    """The comments at the head of the order of a draft: they name what a person left out.

    `changed` are the lines that the order does not have as the text has them.
    """
    otherwise = (_comment("Not as the text has it", line.source) for line in changed)
    left_out = (_comment("Left out by that person", item.source) for item in draft.rest)
    return "".join([_ORDER_HEAD, *otherwise, *left_out])


def _comment(said: str, source: SourceWords) -> str:
    """A comment of one line, whatever the words are: what does not print is an escape in it."""
    words = "".join(c if c.isprintable() else f"\\u{{{ord(c):04X}}}" for c in source.text)
    return f"# {said}, line {source.line}: “{words}”\n"


def line_question(line: DraftLine, number: int, count: int) -> str:
    """Whether a line says what is written."""
    name = name_of(line.path)
    return (
        f"{number} of {count}. Line {line.source.line} says “{safe(line.source.text)}”. "
        f"Read as: {name} {safe(line.value)}. Is that what is written? (yes, no)"
    )


def rest_question(item: Rest, number: int, count: int) -> str:
    """What to do with words that are not understood. A yes is no answer, lest one slips through."""
    why = f" ({safe(item.why)})" if item.why else ""
    return (
        f"{number} of {count}. Line {item.source.line} says “{safe(item.source.text)}”. This was "
        f"not read{why}, and is in no line of the order. What is to be done? Enter {LEAVE_OUT}, if "
        f"the order is right without it; {KEEP}, if it is not: then no order is written."
    )
