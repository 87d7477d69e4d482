"""Saves a read-back that was stopped as text, restores it, and says which answers still count.

Never opens a file, nor says who goes on; of the order it holds only name and digest.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from orderlint.field import casefold_spaces
from orderlint.finding import Refused
from orderlint.readback.checklist import SETTINGS, STATIONS
from orderlint.readback.dialogue import (
    PEOPLE,
    QUESTIONS,
    Entered,
    Question,
    first_question,
    record,
    validate,
)
from orderlint.readback.findings import longest_age
from orderlint.reading.node import KeyValue, Scalar, Section
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.rulebook.rule import Rulebook

T = TypeVar("T", Scalar, Section)

KEPT = "read-back-kept"
"""What `document:` says in such a file."""


class Saved(NamedTuple):
    """A read-back that was stopped: what was entered, and beside which order.

    `order` is the order's file as it was named, `digest` that of its bytes.
    """

    order: str
    digest: str
    entered: Entered


def saved_text(saved: Saved) -> str:
    """The file's text, JSON."""
    entered = saved.entered
    parts = {
        "document": KEPT,
        "format": 2,
        "order": saved.order,
        "order_sha256": saved.digest,
        "seen_at": entered.seen_at,
        "first": _with_times(entered, entered.first, again=False),
        "again": _with_times(entered, entered.again, again=True),
    }
    return json.dumps(parts, ensure_ascii=False, indent=2) + "\n"


def _with_times(
    entered: Entered, entries: Mapping[str, str], *, again: bool
) -> dict[str, dict[str, str]]:
    times = entered.times
    return {p: {"entered": text, "at": times[Question(p, again)]} for p, text in entries.items()}


def saved_from(document: Document) -> Saved:
    """What was saved, each entry judged anew. Raises Refused if it is not as `saved_text` writes.

    INVARIANT: who checks is asked again before any of it counts.
    """
    root = document.root
    entered = Entered(_required_instant(root, "seen_at"), {}, {})
    for entry in _required(root, "first", Section).entries:
        if entry.key.text not in QUESTIONS:
            raise Refused(_NOT_KEPT, entry.key.place)
        entered = _with_saved(entered, Question(entry.key.text, again=False), entry)
    for entry in _required(root, "again", Section).entries:
        if entry.key.text not in SETTINGS or first_question(entered) is not None:
            raise Refused(_NOT_KEPT, entry.key.place)
        entered = _with_saved(entered, Question(entry.key.text, again=True), entry)
    order, digest = (_required(root, key, Scalar).text for key in ("order", "order_sha256"))
    return Saved(order, digest, entered)


_NOT_KEPT = "This is not as a read-back is kept; begin the read-back anew."


def _with_saved(entered: Entered, asked: Question, entry: KeyValue) -> Entered:
    value = entry.value
    if not isinstance(value, Section):
        raise Refused(_NOT_KEPT, value.place)
    answer, at = _required(value, "entered", Scalar), _required_instant(value, "at")
    if not answer.text.strip() or validate(entered, asked, answer.text):
        raise Refused(_NOT_KEPT, answer.place)
    return record(entered, asked, answer.text, at)


def _required(root: Section, key: str, kind: type[T]) -> T:
    node = root.get(key)
    if not isinstance(node, kind):
        raise Refused(_NOT_KEPT, (node or root).place)
    return node


def _required_instant(root: Section, key: str) -> str:
    node = _required(root, key, Scalar)
    if parse_instant(node.text) is None:
        raise Refused(_NOT_KEPT, node.place)
    return node.text


class Resumed(NamedTuple):
    """What still counts, without who checks, and the settings that are to be looked at anew."""

    entered: Entered
    anew: tuple[str, ...]


def resume(saved: Entered, now: str, rulebook: Rulebook) -> Resumed:
    """The answers that still count at `now`, an instant as it is written.

    An answer that is older than the policy lets what was seen be is given anew, with all at its
    station, as one stands there and looks again. So is one that is later than now.
    """
    old = {asked.path for asked in _asked(saved) if _is_old(saved.times[asked], now, rulebook)}
    stations = (station.paths for station in STATIONS if old & {*station.paths})
    anew = tuple(path for paths in stations for path in paths if path in saved.first)
    gone = {*anew, "seen_by", *(old & {"keyed_by"})}
    first = {path: text for path, text in saved.first.items() if path not in gone}
    left = Entered(now, first, {} if anew else saved.again, saved.times)
    looked = [saved.times[asked] for asked in _asked(left) if asked.path not in PEOPLE]
    return Resumed(left._replace(seen_at=min(looked, key=_instant, default=now)), anew)


def _asked(entered: Entered) -> Iterator[Question]:
    """The questions that were answered."""
    for again, entries in ((False, entered.first), (True, entered.again)):
        yield from (Question(path, again) for path in entries)


def _is_old(time: str, now: str, rulebook: Rulebook) -> bool:
    age, longest = _instant(now) - _instant(time), longest_age(rulebook)
    return age < 0 or (longest is not None and age > longest.ticks)


def _instant(text: str) -> int:
    instant = parse_instant(text)
    assert instant is not None  # INVARIANT: our own clock, or judged when it was restored
    return instant


def same_people(entered: Entered, saved: Entered) -> bool:
    """Whether the two who are there now are those who were when the settings saved were entered."""
    if not settings_kept(saved):
        return True
    pairs = ((entered.first.get(person, ""), saved.first.get(person, "")) for person in PEOPLE)
    return all(casefold_spaces(now) == casefold_spaces(then) for now, then in pairs)


def settings_kept(entered: Entered) -> dict[str, str]:
    """When each setting was last entered, in the order of the questions."""
    times = {asked.path: entered.times[asked] for asked in _asked(entered)}
    return {path: times[path] for path in SETTINGS if path in times}
