"""Read-backs on the page, question by question; kept in memory alone, and only while it runs.

INVARIANT: as on the terminal, nothing of the order is shown before all is entered.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

from orderlint.api.policies import rulebook_for
from orderlint.api.sources import Content
from orderlint.page.entries import NAME, with_unit
from orderlint.page.kept import NewestKept
from orderlint.readback import dialogue as d
from orderlint.readback import read_back
from orderlint.readback.observed import seen_table
from orderlint.reading.limits import LONG_DIGITS
from orderlint.reading.unicode_checks import first_refused_offset
from orderlint.report.form import pages
from orderlint.report.readback import prompts as words
from orderlint.report.words import instant_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint import SitePolicy
    from orderlint.order import Order
    from orderlint.rulebook.rule import Rulebook

MOST = 16
"""Read-backs that are kept at a time; the oldest makes room."""
REPORT = "/report"
"""What follows the address of a read-back in that of its comparison."""
LONGEST = 200
"""Characters in one answer."""


class _Begun(NamedTuple):
    """A read-back so far; `trouble` is why the last answer, `typed`, was not taken."""

    order: Order
    text: str
    sent: Mapping[str, str]
    entered: d.Entered
    trouble: str = ""
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Readbacks:
    """The read-backs of one page."""

    begun: NewestKept[_Begun] = field(default_factory=lambda: NewestKept(MOST))

    def begin(self, order: Order, text: str, sent: Mapping[str, str], at: int) -> str:
        """Begin one at `at`, milliseconds since 1970 UTC.

        `text` is the file of the order, `sent` what the form with it sent.
        """
        entered = d.Entered(_clock(order, at), {}, {})
        return self.begun.keep(_Begun(order, text, sent, entered))

    def take(
        self, name: str, sent: Mapping[str, str], at: int, policy: SitePolicy | None
    ) -> str | None:
        """Take what was sent; the address below `name` to go on at, None if none is kept.

        A browser is sent there, so that going back sends no answer anew.
        """
        with self.begun.lock:
            begun, book = self.begun.get(name), rulebook_for("read-back", policy)
            if begun is None:
                return None
            asked = d.next_question(begun.entered, begun.order, book)
            if asked and sent:
                entered, trouble = _taken(begun, asked, sent, at, book)
                typed = sent.get("answer", "") if trouble else ""
                begun = begun._replace(entered=entered, trouble=trouble, typed=typed)
                self.begun.change(name, begun)
                asked = d.next_question(entered, begun.order, book)
            return REPORT if asked is None else ""

    def page(self, name: str, base: str, at: int, policy: SitePolicy | None) -> str:
        """The next question, or the comparison once all is entered; '' if none is kept."""
        begun, book = self.begun.get(name), rulebook_for("read-back", policy)
        if begun is None:
            return ""
        asked = d.next_question(begun.entered, begun.order, book)
        if asked is None:
            return _compared(begun, at, book, base)
        return _question(begun.entered, asked, base, begun.trouble, begun.typed)

    def sent_for(self, name: str) -> Mapping[str, str]:
        """What the form with the order of a read-back sent; empty if none is kept."""
        begun = self.begun.get(name)
        return begun.sent if begun else {}


def _taken(
    begun: _Begun, asked: d.Question, sent: Mapping[str, str], at: int, book: Rulebook
) -> tuple[d.Entered, str]:
    """What is entered after an answer, and why it is not taken; '' if it is.

    One to an earlier question changes nothing.
    """
    entered = begun.entered
    if sent.get("number") != str(_count(entered)):
        return entered, ""
    if sent.get("do") == "back":
        before = d.undo(entered, asked)
        return (entered, words.NOT_BACK) if before is None else (before, "")
    text = _answer(sent)
    if trouble := _trouble(entered, asked, text, book):
        return entered, trouble
    return d.record(entered, asked, text, _clock(begun.order, at)), ""


def _answer(sent: Mapping[str, str]) -> str:
    """The answer as one text: what is typed, with the unit that is pressed, or what is chosen."""
    if sent.get("do") == "not set":
        return "not set"
    text, unit = sent.get("answer", "").strip(), sent.get("unit", "")
    return sent.get("choice", "") or (with_unit(text, unit) if text and unit else text)


def _clock(order: Order, at: int) -> str:
    """An instant on the clock by which the order is written; in UTC if it has no time."""
    times = (order.leaves[path] for path in ("starts", "written", "review_by"))
    zones = (datetime.fromisoformat(leaf.text).tzinfo for leaf in times if leaf.known)
    zone = next(zones, None)
    if zone is None:
        return instant_words(at)
    instant = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at)
    return instant.astimezone(zone).isoformat(timespec="seconds")


def _trouble(entered: d.Entered, asked: d.Question, text: str, book: Rulebook) -> str:
    if not text:
        return words.nothing_entered(asked)
    if len(text) > LONGEST or LONG_DIGITS.search(text):
        return words.TOO_LONG
    if first_refused_offset(text) is not None:
        return words.HIDDEN
    fault = d.validate(entered, asked, text)
    return "" if fault is None else words.objection_words(fault, book)


def _count(entered: d.Entered) -> int:
    """How many answers there are: by it an answer is known to be to the question shown."""
    return len(entered.first) + len(entered.again)


def _question(entered: d.Entered, asked: d.Question, base: str, trouble: str, typed: str) -> str:
    field = None if asked.path in d.PEOPLE else seen_table().fields[asked.path]
    # INVARIANT: every choice and every unit of the field, whatever is ordered.
    choices = [each for each in field.choices if each != field.otherwise] if field else []
    # What does not show is not shown again.
    typed = typed if first_refused_offset(typed) is None else ""
    station = words.AGAIN if asked.again else words.station_words(asked)
    number = _count(entered)
    return pages.asked_page(
        pages.AskedPage(
            *(base, station, words.prompt(asked), trouble, number, number > 0),
            answer=typed,
            choices=choices,
            units=[*field.decimals] if field else [],
        )
    )


def _compared(begun: _Begun, at: int, book: Rulebook, base: str) -> str:
    looks = d.first_of_two_looks(begun.entered)
    found = read_back(begun.order, d.settings_seen(begun.entered), at, book, looks)
    content = Content(NAME, begun.text.encode())
    return pages.compared_page(found, content.digest, at, base)
