"""Asks questions at the bedside and reads the answers; each answer is saved when it is given.

Prompts go to standard error, so that a report can be piped. Never decides what is asked.
"""

from __future__ import annotations

import itertools
import sys
from typing import TYPE_CHECKING, TypeAlias

from orderlint.cli.outputs import write_stderr
from orderlint.own_files import CannotWrite
from orderlint.readback import dialogue
from orderlint.reading.limits import LONG_DIGITS
from orderlint.reading.unicode_checks import first_refused_offset
from orderlint.report.readback import prompts as words
from orderlint.report.wrapping import wrap_paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from orderlint.order import Order
    from orderlint.readback.dialogue import Entered, Question
    from orderlint.rulebook.rule import Rulebook

    Keep: TypeAlias = Callable[[Entered], None]
    Now: TypeAlias = Callable[[], str]

LONGEST = 200
"""Characters in one answer."""
_MOST = 4 * LONGEST + 2
"""Bytes of one answer with its line feed: a character has four at most."""
MOST_TRIES = 20
"""Answers to one question that are not taken, after which a pipe has no more; a nurse may go on."""
_LONGEST_LINE = 1024 * 1024  # bytes that are read to find the end of what is too long
_WIDTH = 79
_COMMANDS = {"back", "stop", "help", "?"}
_YES, _NO = frozenset({"yes", "y"}), frozenset({"no", "n"})


class NoMore(Exception):  # noqa: N818 - what the nurse wanted, or what befell the terminal
    """No more answers: `stop`, the end of input, or nobody left to read the questions."""


def ask_all(entered: Entered, order: Order, rulebook: Rulebook, keep: Keep, now: Now) -> Entered:
    """Ask until everything is entered. Raises NoMore.

    `keep` is called with what is entered after each answer; it may raise CannotWrite, which is
    told once, and asking goes on.
    """
    stood, told = "", False
    while (asked := dialogue.next_question(entered, order, rulebook)) is not None:
        where = words.AGAIN if asked.again else words.station_words(asked)
        if where != stood:
            say("", where)
        stood = where
        entered = _answer(entered, asked, rulebook, now)
        try:
            keep(entered)
        except CannotWrite as reason:
            if not told:
                say(words.not_kept(str(reason)))
            told = True
    say("", words.DONE, "")
    return entered


def ask_people(entered: Entered, rulebook: Rulebook, now: Now) -> Entered:
    """Ask who checks, and whatever else is not known of the people. Raises NoMore."""
    say("", words.PEOPLE_HEADING)
    while (asked := dialogue.first_question(entered)) is not None and asked.path in dialogue.PEOPLE:
        entered = _answer(entered, asked, rulebook, now)
    return entered


def ask_yes(question: str) -> bool:
    """Ask until the answer is yes or no. Raises NoMore."""
    return ask_either(question, _YES, _NO, words.YES_OR_NO)


def ask_either(
    question: str, first: frozenset[str], second: frozenset[str], otherwise: str
) -> bool:
    """Ask until the answer is one of these, and say whether it is of the first. Raises NoMore."""
    say(question)
    for text, trouble in _lines():
        answer = " ".join(text.casefold().split())
        if trouble is None and answer in first | second:
            return answer in first
        if trouble is None and answer == "stop":
            break
        say(otherwise)
    raise NoMore


def _answer(entered: Entered, asked: Question, rulebook: Rulebook, now: Now) -> Entered:
    """What is entered after one answer that was taken, `back` among them."""
    say(words.prompt(asked))
    for text, line_trouble in _lines():
        trouble = line_trouble
        if trouble is None and not text:
            trouble = words.nothing_entered(asked)
        if trouble is None and text.casefold() in _COMMANDS:
            back = _command(text.casefold(), entered, asked)
            if back is not None:
                return back
            continue
        if trouble is None:
            fault = dialogue.validate(entered, asked, text)
            if fault is None:
                return dialogue.record(entered, asked, text, now())
            trouble = words.objection_words(fault, rulebook)
        say(trouble)
    raise NoMore


def _lines() -> Iterator[tuple[str, str | None]]:
    """Answers to one question, as `_line` gives them: a pipe has no more than some."""
    for tries in itertools.count(1):
        if tries > MOST_TRIES and not (sys.stdin is not None and sys.stdin.isatty()):
            return
        yield _line()


def _command(command: str, entered: Entered, asked: Question) -> Entered | None:
    """What is entered after `back`; None where the same question is still to be answered."""
    if command == "stop":
        raise NoMore
    if command == "back":
        back = dialogue.undo(entered, asked)
        if back is not None:
            return back
        say(words.NOT_BACK)
    else:
        say(words.OPENING, words.prompt(asked))
    return None


def _line() -> tuple[str, str | None]:
    """One line from standard input, with blanks at its ends taken off, or why it is none."""
    _write("> ")
    if sys.stdin is None:
        raise NoMore
    try:
        line = part = sys.stdin.buffer.readline(_MOST)
        read = len(part)
        # What is too long is read to its end, and not kept. A shorter part is where input ends.
        while len(part) == _MOST and not part.endswith(b"\n"):
            if read > _LONGEST_LINE:
                raise NoMore
            part = sys.stdin.buffer.readline(_MOST)
            line, read = line[:_MOST] + part, read + len(part)
    except OSError:
        raise NoMore from None
    if not sys.stdin.isatty():
        _write("\n")  # where nobody types, no line feed is echoed
    # What was typed before the end of input, and not entered, is no entry; a pipe has no Enter.
    if not line or (not line.endswith(b"\n") and sys.stdin.isatty()):
        raise NoMore
    try:
        text = line.decode(sys.stdin.encoding).strip()
    except UnicodeDecodeError:
        return "", words.HIDDEN
    if len(text) > LONGEST or LONG_DIGITS.search(text):  # could not be read again once it is kept
        return "", words.TOO_LONG
    hidden = first_refused_offset(text) is not None or not text.isprintable()
    return ("", words.HIDDEN) if hidden else (text, None)


def say(*texts: str) -> None:
    """Paragraphs on standard error. Raises NoMore where nobody can read them."""
    _write("".join(f"{wrap_paragraph(text, _WIDTH)}\n" for text in texts))


def _write(text: str) -> None:
    try:
        write_stderr(text)
    except CannotWrite:
        raise NoMore from None
