"""Which answers of a read-back that was stopped still count when somebody goes on with it.

Never who goes on, and never an ordered value.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import casefold_spaces
from orderlint.readback.checklist import STATIONS
from orderlint.readback.dialogue import PEOPLE, SETTINGS, Entered, Question
from orderlint.readback.findings import longest_age
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.rulebook.rule import Rulebook


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
