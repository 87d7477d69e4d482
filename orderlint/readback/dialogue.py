"""Which setting is asked for next at the bedside, and what has been entered so far.

INVARIANT: nothing here reads the order before every setting has been entered once. Never shows
anything, and has no words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import casefold_spaces
from orderlint.finding import Fault, Place
from orderlint.order import Order, State
from orderlint.readback.checklist import ADDITIVE, ADDITIVE_NAME, SETTINGS
from orderlint.readback.differences import DIFFERENCES, compare_settings
from orderlint.readback.findings import INDEPENDENT
from orderlint.readback.observed import is_nothing, judge_entry, nothing_seen, with_entry
from orderlint.rulebook.standing_orders import filled

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.rulebook.rule import Rulebook

ENTRIES = "entries"
"""The name that places of what is entered carry; the line is the number of the question."""
SET_ALONE = "--set"
"""In place of a file's name where single settings were given, and no look at all of them."""
NOBODY = "nobody"
"""Why an entry is not taken that names no person; no rule, as it is not written anywhere."""
PEOPLE = ("keyed_by", "seen_by")
QUESTIONS = (*PEOPLE, *SETTINGS)
_FLUID, _CONCENTRATION = "irrigation.fluid", f"{ADDITIVE}.concentration"
_IN_BAG = frozenset({ADDITIVE_NAME, _CONCENTRATION, "irrigation.bag"})


class Entered(NamedTuple):
    """What was entered, by path and in the order of entering, at the first look and at a second.

    `seen_at` is when looking began and `times` when each answer was given, as they are written.
    """

    seen_at: str
    first: Mapping[str, str]
    again: Mapping[str, str]
    times: Mapping[Question, str] = {}

    @property
    def last(self) -> Mapping[str, str]:
        """What counts: what was entered last for each setting."""
        return {**self.first, **self.again}


class Question(NamedTuple):
    """A setting, or a person, to be entered; `again` at a second look."""

    path: str
    again: bool


def first_question(entered: Entered) -> Question | None:
    """What is to be entered next for the first time, whatever is ordered; None if all is."""
    waiting = _not_entered(entered.first, QUESTIONS)
    return next((Question(path, again=False) for path in waiting), None)


def next_question(entered: Entered, order: Order, rulebook: Rulebook) -> Question | None:
    """What is to be entered next; None once all is, with a second look at what differs."""
    first = first_question(entered)
    if first is not None:
        return first
    # A second look may find a bag where none was seen: then what is in it is asked for as well.
    looks = {*_differing(entered, order, rulebook), *_not_entered(entered.last, SETTINGS)}
    waiting = (p for p in SETTINGS if p in looks and not _is_left_out(p, entered.last))
    return next((Question(p, again=True) for p in waiting if p not in entered.again), None)


def _not_entered(entries: Mapping[str, str], paths: tuple[str, ...]) -> Iterator[str]:
    return (path for path in paths if path not in entries and not _is_left_out(path, entries))


def _is_left_out(path: str, entries: Mapping[str, str]) -> bool:
    """Whether an entry says already that there is nothing: no bag has an additive or a volume."""
    if path in _IN_BAG and is_nothing(entries.get(_FLUID, "")):
        return True
    return path == _CONCENTRATION and is_nothing(entries.get(ADDITIVE_NAME, ""))


def _differing(entered: Entered, order: Order, rulebook: Rulebook) -> Iterator[str]:
    """The settings that differ from the order as first entered."""
    seen = settings_seen(entered._replace(again={}))
    order = filled(order, rulebook.standing_orders)
    for row in compare_settings(order.leaves, seen.leaves, rulebook):
        if row.outcome in DIFFERENCES:
            yield from (ADDITIVE_NAME, _CONCENTRATION) if row.path == ADDITIVE else (row.path,)


def validate(entered: Entered, asked: Question, text: str) -> Fault | None:
    """Why an entry, not an empty one, cannot be taken, whatever is ordered; None if it can."""
    place = Place(ENTRIES, QUESTIONS.index(asked.path) + 1, 1)
    if is_nothing(text):
        return Fault(NOBODY, asked.path, text, place) if asked.path in PEOPLE else None
    fault = judge_entry(asked.path, text, place).fault
    keyed_by = entered.first.get("keyed_by", "")
    if asked.path == "seen_by" and casefold_spaces(text) == casefold_spaces(keyed_by):
        return Fault(INDEPENDENT, asked.path, text, place)
    return fault


def record(entered: Entered, asked: Question, text: str, at: str) -> Entered:
    """The answers with one more entry, made at `at`. INVARIANT: `validate` accepted it."""
    times = {**entered.times, asked: at}
    if asked.again:
        return entered._replace(again={**entered.again, asked.path: text}, times=times)
    first = {**entered.first, asked.path: text}
    there = {path: entry for path, entry in first.items() if not _is_left_out(path, first)}
    return entered._replace(first=there, times=times)


def undo(entered: Entered, asked: Question) -> Entered | None:
    """The answers without the entry before `asked`; None if there is none.

    A second look cannot go back to a first one: that was made without knowing of a difference, and
    counts.
    """
    entries = entered.again if asked.again else entered.first
    before = [p for p in QUESTIONS[: QUESTIONS.index(asked.path)] if p in entries]
    if not before:
        return None
    left = {path: text for path, text in entries.items() if path != before[-1]}
    return entered._replace(again=left) if asked.again else entered._replace(first=left)


def settings_seen(entered: Entered) -> Order:
    """What was entered, as settings seen."""
    seen = nothing_seen(ENTRIES)
    last = entered.last
    # What was entered first of an additive is no more there where a second look finds none.
    there = {path: text for path, text in last.items() if not _is_left_out(path, last)}
    entries = {"seen_at": entered.seen_at, **there}
    if is_nothing(entries.get(_FLUID, "")):
        entries |= dict.fromkeys(_IN_BAG, "none")
    for path in ("seen_at", *QUESTIONS):
        if path in entries:
            seen = _with_entry_at(seen, path, entries[path])
    return seen


def _with_entry_at(seen: Order, path: str, text: str) -> Order:
    place = Place(ENTRIES, QUESTIONS.index(path) + 1 if path in QUESTIONS else 1, 1)
    nothing = path in SETTINGS and is_nothing(text)
    leaf = None if nothing else judge_entry(path, text, place).leaf
    assert leaf is None or leaf.state is State.KNOWN  # INVARIANT: an entry was taken
    return with_entry(seen, path, leaf)


def first_of_two_looks(entered: Entered) -> Mapping[str, str]:
    """What was first entered for each setting that was looked at twice."""
    return {path: entered.first.get(path, "") for path in entered.again}
