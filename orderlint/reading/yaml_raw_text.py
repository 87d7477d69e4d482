"""Compares the raw text of a YAML file with the events that a parser made of it.

What no event holds must be an indicator, white space or a comment: else a doubt that somebody wrote
could be lost. Parsers are lenient on this. Never what a value means.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NoReturn

import yaml

from orderlint.finding import Refused
from orderlint.reading.unicode_checks import describe_character, place_at

if TYPE_CHECKING:
    from collections.abc import Iterator

_STARTS = (yaml.MappingStartEvent, yaml.SequenceStartEvent)
_ENDS = (yaml.MappingEndEvent, yaml.SequenceEndEvent)
# The indicators that are read, white space, directives, and comments: these begin a line or come
# after white space (YAML 1.2.2, 6.6), as after a dash (8.2.1) or document marker (9.1.2) it does.
_EXPLAINED = re.compile(
    r"""(?: [\s:,\[\]{}]++
          | -(?!\S)
          | (?<!\S) \# [^\n]*
          | (?<![^\n]) (?: (?: --- | \.\.\. ) (?!\S) | %YAML [ \t]+ [\d.]+ )
        )*+""",
    re.VERBOSE,
)
_MARKS = " \t\r\n:,[]{}"  # of these, what nearly always stands between two values
_HEAD_AND_COMMENT = re.compile(r"[|>][-+0-9]*#")
_COMMENT = "A comment must have a space before its #."
_QUESTION_MARK = "Keys marked with a question mark (?) are not read. Write the key without one."
_DASH = "A dash stands here without a value. Put it in quotes if it is the value."
_ABOVE = "Blank lines before this line are indented further than it. Take their spaces out."


def compared(events: Iterator[Any], text: str, file: str) -> Iterator[Any]:
    """Yield the events of one file, in turn. Raises Refused at text that none of them explains."""
    comparison = _RawTextCheck(text, file)
    for event in events:
        comparison.take(event)
        yield event


class _RawTextCheck:
    """One pass over a file: `end` is the offset after the last key or value.

    `columns` has, for each section and list that is open, the column (from 0) of the innermost one
    without brackets, -1 if there is none; `brackets` where each one that has them begins, else -1.
    """

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file, self.end = text, file, 0
        self.columns, self.brackets = [-1], [-1]

    def take(self, event: Any) -> None:
        kind, start, end = type(event), event.start_mark, event.end_mark
        if kind is yaml.ScalarEvent:
            if start.index < end.index:
                self._take_scalar(event, start, end)
        elif kind in _STARTS:
            self.columns.append(self.columns[-1] if event.flow_style else start.column)
            self.brackets.append(start.index if event.flow_style else -1)
        elif kind in _ENDS:
            opening = self.brackets.pop()
            if opening >= 0 > self.brackets[-1]:
                # Comments stand where they like; a bracket that closes hides nothing.
                self._check_lines(opening, end.index, r"[\]}#\r\n]")
            self.columns.pop()
        elif kind is yaml.StreamEndEvent:
            self._check_between(len(self.text))

    def _take_scalar(self, event: Any, start: Any, end: Any) -> None:
        self._check_between(start.index)
        self.end = end.index
        if event.style in ("|", ">"):
            self._check_block(event, start.index)
        elif not event.style and event.value == "-":
            self._refuse(_DASH, start.index)
        elif start.line != end.line:
            self._check_lines(start.index, end.index, r"[\r\n]")

    def _check_between(self, start: int) -> None:
        if not self.text[self.end : start].strip(_MARKS):
            return
        explained = _EXPLAINED.match(self.text, self.end, start)
        at = explained.end() if explained else self.end
        if at < start:
            message = f"{describe_character(self.text, at)} belongs to no key and to no value."
            messages = {"?": _QUESTION_MARK, "#": _COMMENT}
            self._refuse(messages.get(self.text[at], message), at)

    def _check_lines(self, start: int, end: int, exempt: str) -> None:
        """Check that lines of one value are indented (YAML 1.2.2, 6.3), if it has more than one."""
        least = self.columns[-1] + 1
        if not least or self.text.find("\n", start, end) < 0:
            return
        found = re.compile(rf"\n(?! {{{least}}})(?![ \t]*{exempt})").search(self.text, start, end)
        if found:
            line = place_at(self.text, start, self.file).line
            spaces = "a space" if least == 1 else f"{least} spaces"
            message = f"What line {line} begins goes on here; it must be indented by {spaces}."
            self._refuse(message, found.end())

    def _check_block(self, event: Any, start: int) -> None:
        """Check the first line of a text in a block, and what follows if no text does."""
        head = _HEAD_AND_COMMENT.match(self.text, start)
        if head:
            self._refuse(_COMMENT, head.end() - 1)
        deeper = re.compile(rf"(?<![^\n]) {{{self.columns[-1] + 1},}}(?=\#)")
        if not event.value.strip():
            comment = deeper.match(self.text, self.end - event.end_mark.column)
            if comment:
                self._refuse(_ABOVE, comment.end())

    def _refuse(self, message: str, offset: int) -> NoReturn:
        raise Refused(message, place_at(self.text, offset, self.file))
