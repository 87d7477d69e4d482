"""The form as it is answered: filled, checked, and filled anew with an order from elsewhere.

Nothing that was entered is lost: what takes its place leaves a way back to it.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import orderlint
from orderlint.api.policies import rulebook_for
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.page.entries import NAME, as_typed, entered, in_two_ways, unit_twice
from orderlint.page.guards import MOST_BYTES
from orderlint.page.kept import NewestKept
from orderlint.page.opening import OWN, Opened, OpenedTable, SiteNames, open_file
from orderlint.page.origin import FormEntries, verify_entered
from orderlint.page.sent import PageResponse, Sent
from orderlint.page.shown import (
    PASTED,
    PASTED_TEXT,
    form_texts,
    is_not_opened,
    name_without_folders,
    opened_shown,
    opened_title,
    origins_of,
    table_shown,
    ticks_in,
    unread_words,
    waiting,
    why_not_checked,
)
from orderlint.report.form import pages
from orderlint.report.form.model import groups

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from orderlint import SitePolicy
    from orderlint.verification import Verified

MOST_OPENED = 128
"""Opened files, tables and replaced entries that are kept at a time."""
NOTHING_ENTERED = "Nothing is entered yet."
_STAYS = "What was entered and what was pasted stand where they did."
_GONE = "What was opened is no longer kept, so nothing can be said of the order. Open it once more."
_TOO_LARGE = f"This is longer than {MOST_BYTES // 1000} kB, the most that is read here."
_NO_ROW = "No row was picked."
_NOTHING = "What was to be opened"
OPENED = "opened"
"""The name of what the form was filled from, beside the entries."""


class Stood(NamedTuple):
    """What stood in the form, by name as it was sent, and what was said of it.

    `replaced` is the name under which is kept what stood there before, `table` that of a table of
    which a row is to be picked. `unopened` says that something was to be opened and was not.
    """

    sent: Mapping[str, str]
    replaced: str = ""
    table: str = ""
    unopened: str = ""


class _CheckedForm(NamedTuple):
    """What is said of the entries, and the file of them; `no_file` is why there is none."""

    shown: pages.ShownResult
    yaml: str = ""
    no_file: str = ""


@dataclass(frozen=True, slots=True)
class SiteForm:
    """The form under one key, one policy and one site's names; `now` gives the instant."""

    base: str
    policy: SitePolicy | None
    now: Callable[[], int]
    names: SiteNames = OWN
    kept: NewestKept[Opened | OpenedTable | Stood] = field(
        default_factory=lambda: NewestKept(MOST_OPENED)
    )

    def entered(self, sent: Mapping[str, str]) -> FormEntries:
        """What stands in the form. Raises Refused where that cannot be told."""
        values, opened = entered(sent), self._opened_in(sent)
        if not sent.get(OPENED):
            return FormEntries(values)
        if opened is None:
            raise Refused(_GONE, NAME)
        return FormEntries(values, ticks_in(sent), opened)

    def _opened_in(self, sent: Mapping[str, str]) -> Opened | None:
        """What the form was filled from; None if it was not, or that is no longer kept."""
        opened = self.kept.get(sent.get(OPENED, ""))
        return opened if isinstance(opened, Opened) else None

    def verified(self, order: FormEntries) -> Verified:
        """What `verify` says of it now. Raises Refused, and ValueError where it makes no order."""
        return verify_entered(order, self.now(), rulebook_for("order", self.policy))

    def page(self, sent: Mapping[str, str], message: str = "", unopened: str = "") -> PageResponse:
        """The page with what was sent, and what is said of it: nothing, if `unopened` says why."""
        stood = Stood(sent, sent.get("replaced", ""), sent.get("table", ""), unopened)
        return self._page(stood, message)

    def check_or_open(self, sent: Sent) -> PageResponse:
        """The page with what was sent; with what waits to be opened, where something does."""
        if waiting(sent):
            return self.open(sent)
        is_picked = bool(sent.texts.get("row"))
        return self.row(sent.texts) if is_picked else self.page(sent.texts)

    def at(self, name: str) -> PageResponse:
        """The page with what is kept under a name: an address for it, so that none is sent anew."""
        stood = self.kept.get(name)
        return self._page(stood) if isinstance(stood, Stood) else self.page({}, _GONE)

    def _page(self, stood: Stood, message: str = "") -> PageResponse:
        sent = stood.sent
        result, ticks, key = self._standing(stood), ticks_in(sent), sent.get(OPENED, "")
        opened, rows = self._opened_in(sent), self.kept.get(stood.table)
        values, twice = as_typed(sent), unit_twice(sent)
        shown = pages.FormPage(
            base=self.base,
            groups=groups(values, needed(), twice, origins_of(opened, ticks)),
            needed=json.dumps({key: sorted(each) for key, each in needed().items()}),
            result=result.shown,
            yaml=result.yaml,
            policy=f"Checked under: {self.policy.title if self.policy else 'built-in policy'}.",
            most=MOST_BYTES,
            message=message,
            no_file=result.no_file,
            pasted=sent.get(PASTED_TEXT, ""),
            replaced=stood.replaced,
            is_opening=bool(not values or message or sent.get(PASTED_TEXT)),
            opened=opened_shown(key, opened, ticks, values),
            table=table_shown(stood.table, rows if isinstance(rows, OpenedTable) else None),
        )
        return PageResponse(pages.form_page(shown))

    def check(self, sent: Mapping[str, str]) -> PageResponse:
        """The result alone, for a page that stands."""
        result, opened = self._checked(sent), self._opened_in(sent)
        troubles = {path: each.words for path, each in unit_twice(sent).items()}
        shown = {
            "result": result.shown.markup,
            "verdict": result.shown.verdict,
            "yaml": result.yaml,
            "no_file": result.no_file,
            "troubles": troubles,
            "opened": opened_title(opened, as_typed(sent)) if opened else "",
        }
        return PageResponse(json.dumps(shown), "application/json")

    def _standing(self, stood: Stood) -> _CheckedForm:
        """What is said of the entries, where nothing waits to be opened."""
        sent, what = stood.sent, waiting(Sent(stood.sent))
        said = stood.unopened or (what and is_not_opened(what))
        if not said:
            return self._checked(sent)
        why = why_not_checked(said, sent, has_order=bool(as_typed(sent)))
        return _CheckedForm(pages.not_checked(why))

    def _checked(self, sent: Mapping[str, str]) -> _CheckedForm:
        try:
            order = self.entered(sent)
            text = order.text()
            if not order.values:
                return _CheckedForm(pages.not_checked(NOTHING_ENTERED), text)
            why, unread = order.why_no_file, unread_words(order.opened)
            shown = pages.show_result(self.verified(order), unread)
            return _CheckedForm(shown, "" if why else text, why)
        except Refused as reason:
            return _CheckedForm(pages.not_checked(f"{reason}"))
        except ValueError as reason:
            return _CheckedForm(pages.not_checked(f"{reason}", in_two_ways(as_typed(sent))))

    def open(self, sent: Sent) -> PageResponse:
        """The form with an order from elsewhere: of a file that was chosen, else of what is pasted.

        Where there is none to open, all stays as it was sent.
        """
        pasted = sent.texts.get(PASTED_TEXT, "").replace("\r\n", "\n")
        data, name = pasted.encode(), PASTED
        if sent.file is not None:
            data, name = sent.file.data, name_without_folders(sent.file.name)
        try:
            found = open_file(data, name, self.names)
        except Refused as reason:
            return self._not_opened(sent.texts, reason, waiting(sent))
        texts = {**sent.texts}
        if sent.file is None:
            texts.pop(PASTED_TEXT, None)
        if isinstance(found, OpenedTable):
            unopened = f"No order of {found.name} is opened yet."
            return self._kept(Stood(texts, table=self.kept.keep(found), unopened=unopened))
        return self._opened(found, texts)

    def too_large(self, sent: Sent) -> PageResponse:
        """The form as it was sent with a file that is too large to be read."""
        answer = self._not_opened(sent.texts, _TOO_LARGE, waiting(sent))
        return answer._replace(status=413)

    def row(self, sent: Mapping[str, str]) -> PageResponse:
        """The form with the row of a table that was picked."""
        key, row = sent.get("table", ""), sent.get("row", "")
        table = self.kept.get(key)
        if not isinstance(table, OpenedTable):
            return self._not_opened(sent, _GONE)
        if row not in map(str, range(len(table.read().rows))):
            return self._not_opened(sent, _NO_ROW)
        try:
            return self._opened(table.opened(int(row)), sent)
        except Refused as reason:
            return self._not_opened(sent, reason)

    def before(self, sent: Mapping[str, str]) -> PageResponse:
        """The form as it stood before an order was opened, and a way back to that order."""
        before = self.kept.get(sent.get("before", ""))
        if not isinstance(before, Stood):
            return self._not_opened(sent, _GONE)
        return self._kept(Stood({**before.sent, **_pasted(sent)}, self.kept.keep(Stood(sent))))

    def empty(self, sent: Mapping[str, str]) -> PageResponse:
        """A form with nothing in it, and a way back to what stood there."""
        return self._kept(Stood({}, self.kept.keep(Stood(sent))))

    def _not_opened(
        self, sent: Mapping[str, str], why: Refused | str, what: str = ""
    ) -> PageResponse:
        return self.page(sent, f"Not opened: {why} {_STAYS}", is_not_opened(what or _NOTHING))

    def _opened(self, opened: Opened, sent: Mapping[str, str]) -> PageResponse:
        before = as_typed(sent)
        is_same = before == opened.values and not sent.get(OPENED)
        replaced = "" if is_same or not before else self.kept.keep(Stood(sent))
        texts = form_texts(opened, self.kept.keep(opened))
        return self._kept(Stood({**texts, **_pasted(sent)}, replaced))

    def address_of(self, stood: Stood) -> str:
        """Where a form is read, and what is said of it."""
        return f"{self.base}at/{self.kept.keep(stood)}"

    def _kept(self, stood: Stood) -> PageResponse:
        return PageResponse("", status=303, goes_to=self.address_of(stood))


def _pasted(sent: Mapping[str, str]) -> dict[str, str]:
    return {name: text for name, text in sent.items() if name == PASTED_TEXT}


@functools.cache
def needed() -> Mapping[str, frozenset[str]]:
    """For each therapy the sections in which something is missing if nothing else is written."""
    return {
        choice: frozenset(_missing(choice)) for choice in field_table().fields["therapy"].choices
    }


def _missing(therapy: str) -> set[str]:
    found = orderlint.verify(f"document: order\nformat: 1\ntherapy: {therapy}\n").findings
    return {each.path.partition(".")[0] for each in found if each.rule.startswith("missing-")}
