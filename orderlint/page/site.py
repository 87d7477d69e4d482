"""What the local page answers: a form with its result, a file, a sheet, a read-back.

A request's path and texts in, an answer out. Nothing of the network, and nothing on disk.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import parse_qsl

import orderlint
from orderlint.fields import field_table
from orderlint.finding import Refused, Verdict
from orderlint.order_reader import read_order
from orderlint.page.entries import NAME, entered, entries_of, unit_twice
from orderlint.page.readbacks import Readbacks
from orderlint.reading import read
from orderlint.report.form import pages
from orderlint.report.form.model import groups
from orderlint.report.order.as_yaml import order_yaml

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from orderlint import SitePolicy
    from orderlint.verification import Verified

_MOST_FIELDS = 400
_FIRST = "Nothing is entered yet."
_ACTS = {"order.yaml": "", "sheet": "Sheet to sign", "readback": "Check at the bedside"}
"""What can be done with an order, with the title of the tab that it opens."""
_ASK = "This order is not to be started as it is. Is it to be checked at the bedside all the same?"
_GO_ON = "Check it all the same"
_STAYS = "What was entered and what was pasted stand where they did."
PASTED_TEXT = "file"
"""The name under which a pasted text is sent, beside the entries."""
PASTED = "pasted"
"""What a pasted order is called in places."""


class Answer(NamedTuple):
    """A status, what kind of text it is, and the text; `name` where it is a file to be saved."""

    text: str
    kind: str = "text/html"
    status: int = 200
    name: str = ""
    goes_to: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """The page under one key and one policy. `now` gives the instant of checking."""

    base: str
    policy: SitePolicy | None
    now: Callable[[], int]
    readbacks: Readbacks = field(default_factory=Readbacks)

    def answer(self, method: str, path: str, body: bytes) -> Answer:
        """The answer to a request for `path`, which stands below `base`. Never raises Refused."""
        if path.startswith("readback/"):
            return self._read_back(method, path.removeprefix("readback/"), body)
        if method == "GET":
            return self._form({}) if path == "" else Answer("", status=404)
        sent = _texts(body)
        if path == "open":
            return self._opened(sent)
        made = {"": self._form, "check": self._check}.get(path)
        if made:
            return made(sent)
        return self._act(path, sent) if path in _ACTS else Answer("", status=404)

    def _act(self, path: str, sent: Mapping[str, str]) -> Answer:
        """An act on the order that was sent; why not, where there is none to act on.

        That is said where the answer stands: with the form, or alone in a tab of its own.
        """
        title = _ACTS[path]
        try:
            values = entered(sent.items())
            if title and not values:
                return _told(pages.ToldPage(title, _FIRST))
            text = order_yaml(values)
        except (Refused, ValueError) as reason:
            why = str(reason)
            return _told(pages.ToldPage(title, why)) if title else self._form(sent, why)
        if path == "readback":
            return self._begin(text, values, is_confirmed=sent.get("confirmed") == "yes")
        return self._sheet(text) if path == "sheet" else self._file(text)

    def _form(self, sent: Mapping[str, str], message: str = "", replaced: str = "") -> Answer:
        """The page with what was sent, and what is said of it.

        `replaced` is the file of the order that stood there before.
        """
        text, result = self._checked(sent)
        try:
            values = entered(sent.items())
        except Refused:
            values = dict(sent)
        shown = pages.FormPage(
            base=self.base,
            groups=groups(values, _needed(), unit_twice(sent.items())),
            needed=json.dumps({key: sorted(each) for key, each in _needed().items()}),
            result=result,
            yaml=text,
            policy=f"Checked under: {self.policy.title if self.policy else 'built-in policy'}.",
            message=message,
            pasted=sent.get(PASTED_TEXT, ""),
            replaced=replaced,
        )
        return Answer(pages.form_page(shown))

    def _check(self, sent: Mapping[str, str]) -> Answer:
        text, result = self._checked(sent)
        troubles = {path: each.words for path, each in unit_twice(sent.items()).items()}
        shown = {
            "result": result.markup,
            "verdict": result.verdict,
            "yaml": text,
            "troubles": troubles,
        }
        return Answer(json.dumps(shown), "application/json")

    def _checked(self, sent: Mapping[str, str]) -> tuple[str, pages.Shown]:
        """The file that was entered, and what `verify` says of that file."""
        try:
            values = entered(sent.items())
            text = order_yaml(values)
            if not values:
                return text, pages.not_checked(_FIRST)
            return text, pages.result_of(self._verified(text).found)
        except (Refused, ValueError) as reason:
            return "", pages.not_checked(f"{reason}")

    def _verified(self, text: str) -> orderlint.Result[Verified]:
        return orderlint.verify(text, name=NAME, at=_datetime(self.now()), policy=self.policy)

    def _file(self, text: str) -> Answer:
        return Answer(text, "application/yaml", name="order.yaml")

    def _sheet(self, text: str) -> Answer:
        result = self._verified(text)
        return Answer(pages.sheet_page(result.found, result.contents[0].digest, result.at))

    def _opened(self, sent: Mapping[str, str]) -> Answer:
        """The form with an order from elsewhere, and the file of the one whose place it takes.

        Where there is none to open, or what is entered makes no file, all stays as it was sent.
        """
        text = sent.get(PASTED_TEXT, "")
        try:
            document = read(text.encode(), PASTED, "order", json=text.lstrip().startswith("{"))
            values, before = entries_of(document), entered(sent.items())
            replaced = order_yaml(before) if before and before != values else ""
        except (Refused, ValueError) as reason:
            return self._form(sent, f"Not opened: {reason} {_STAYS}")
        return self._form(values, replaced=replaced)

    def _begin(self, text: str, values: Mapping[str, str], *, is_confirmed: bool) -> Answer:
        """A new read-back of the order; of one not to be started, once that is confirmed."""
        verified = self._verified(text)
        if verified.verdict is Verdict.DO_NOT_START and not is_confirmed:
            shown, sent = pages.verdict_of(verified.found), tuple(values.items())
            base = f"{self.base}readback"
            return _told(pages.ToldPage(_ACTS["readback"], _ASK, shown, base, _GO_ON, sent))
        order = read_order(read(text.encode(), NAME, "order", json=False))
        name = self.readbacks.begin(order, text, self.now())
        return Answer("", status=303, goes_to=f"{self.base}readback/{name}")

    def _read_back(self, method: str, name: str, body: bytes) -> Answer:
        if method == "GET" and name.endswith("/order"):
            return self._order_of(name.removesuffix("/order"))
        sent = _texts(body) if method == "POST" else {}
        text = self.readbacks.page(
            name, f"{self.base}readback/{name}", sent, self.now(), self.policy
        )
        return Answer(text) if text else Answer("", status=404)

    def _order_of(self, name: str) -> Answer:
        """The form with the order of a read-back."""
        text = self.readbacks.text_of(name)
        if not text:
            return Answer("", status=404)
        return self._form(entries_of(read(text.encode(), NAME, "order", json=False)))


def _told(page: pages.ToldPage) -> Answer:
    return Answer(pages.told_page(page))


def _texts(body: bytes) -> dict[str, str]:
    """The texts of a form by name. An unreadable form has none."""
    try:
        pairs = parse_qsl(
            body.decode("ascii"),
            keep_blank_values=True,
            encoding="utf-8",
            errors="strict",
            max_num_fields=_MOST_FIELDS,
        )
    except ValueError:
        return {}
    return dict(pairs)


@functools.cache
def _needed() -> Mapping[str, frozenset[str]]:
    """For each therapy the sections in which something is missing if nothing else is written."""
    return {
        choice: frozenset(_missing(choice)) for choice in field_table().fields["therapy"].choices
    }


def _missing(therapy: str) -> set[str]:
    found = orderlint.verify(f"document: order\nformat: 1\ntherapy: {therapy}\n").findings
    return {each.path.partition(".")[0] for each in found if each.rule.startswith("missing-")}


def _datetime(instant: int) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=instant)
