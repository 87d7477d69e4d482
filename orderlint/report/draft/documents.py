"""Writes a draft as a document, and a confirmed one as an order. Each value as it was written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.order.as_yaml import order_yaml, quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.sentences.draft import Draft, Line, Rest, Source

_HEAD = """\
# What was read in a text. Each line is to be compared with the text by a person, who then changes
# `confirmed: no` to yes, or runs `orderlint draft --confirm` on this file. What is under
# `not_understood` is in no line; `left_out: yes` there says that the order goes without it.
"""
_ORDER_HEAD = "# From a text, each line confirmed by a person.\n"


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


def _line(line: Line) -> Iterator[str]:
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


def _source(source: Source) -> Iterator[str]:
    yield f"    written: {quoted(source.text)}"
    yield f"    line: {source.line}"
    yield f"    column: {source.column}"


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def order_text(draft: Draft) -> str:
    """The order of a draft in YAML, its settings in the order of the field table."""
    return order_yaml({line.path: line.value for line in draft.lines}, order_comment(draft))


def order_comment(draft: Draft, changed: Iterable[Line] = ()) -> str:
    """The comments at the head of the order of a draft: they name what a person left out.

    `changed` are the lines that the order does not have as the text has them.
    """
    otherwise = (_comment("Not as the text has it", line.source) for line in changed)
    left_out = (_comment("Left out by that person", item.source) for item in draft.rest)
    return "".join([_ORDER_HEAD, *otherwise, *left_out])


def _comment(said: str, source: Source) -> str:
    """A comment of one line, whatever the words are: what does not print is an escape in it."""
    words = "".join(c if c.isprintable() else f"\\u{{{ord(c):04X}}}" for c in source.text)
    return f"# {said}, line {source.line}: “{words}”\n"
