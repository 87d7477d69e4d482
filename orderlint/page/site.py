"""What the local page answers: a form with its result, a file, a sheet, a read-back.

A request's path and texts in, an answer out. Nothing of the network, and nothing on disk.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.api.sources import Content
from orderlint.finding import Refused, Verdict
from orderlint.order_reader import read_order
from orderlint.page.entries import NAME
from orderlint.page.form_answers import NOTHING_ENTERED, SiteForm, Stood
from orderlint.page.readbacks import REPORT, Readbacks
from orderlint.page.sent import NOT_THERE, PageResponse, Sent, read_sent
from orderlint.page.shown import PASTED_TEXT, is_not_opened, not_done, waiting
from orderlint.reading import read
from orderlint.report.form import pages

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.page.origin import FormEntries

_ACTS = {"order.yaml": "", "sheet": "Sheet to sign", "readback": "Check at the bedside"}
"""What can be done with an order, with the title of the tab that it opens."""
_ASK = "This order is not to be started as it is. Is it to be checked at the bedside all the same?"
_GO_ON = "Check it all the same"
_NOT_YET = "As it stands, this is not checked at the bedside."


@dataclass(frozen=True, slots=True)
class Site:
    """The pages beside one form, and the read-backs that were begun."""

    form: SiteForm
    readbacks: Readbacks = field(default_factory=Readbacks)

    def answer(self, method: str, path: str, body: bytes, kind: str = "") -> PageResponse:
        """The answer to a request for `path` below that of the form; `kind` is that of `body`.

        Never raises Refused.
        """
        if path.startswith("readback/"):
            return self._read_back(method, path.removeprefix("readback/"), body)
        if method == "GET" and path.startswith("at/"):
            return self.form.at(path.removeprefix("at/"))
        if method == "GET":
            return self.form.page({}) if path == "" else NOT_THERE
        sent = read_sent(body, kind)
        if path in {"", "open"}:
            return self.form.open(sent) if path else self.form.check_or_open(sent)
        if path in _ACTS:
            return self._act(path, sent)
        made = {"check": self.form.check, "row": self.form.row}
        made |= {"before": self.form.before, "empty": self.form.empty}
        return made[path](sent.texts) if path in made else NOT_THERE

    def _act(self, path: str, sent: Sent) -> PageResponse:
        """An act on the order that was sent; why not, where there is none to act on.

        That is said where the answer stands: with the form, or alone in a tab of its own.
        """
        title, waits, texts = _ACTS[path], waiting(sent), sent.texts
        try:
            if waits:
                raise ValueError(not_done(waits))
            order = self.form.entered(texts)
            if not order.values:
                raise ValueError(NOTHING_ENTERED)
            text = order.text()
            if path == "sheet":
                return self._sheet(order, text)
            if order.why_no_file:
                first = f"{_NOT_YET} " if title else ""
                raise ValueError(f"{first}{order.why_no_file}")
            return self._begin(order, text, texts) if path == "readback" else _file(order, text)
        except (Refused, ValueError) as reason:
            why = str(reason)
            if title:
                return PageResponse(pages.told_page(pages.ToldPage(title, why)))
            return self.form.page(texts, why, is_not_opened(waits) if waits else "")

    def _sheet(self, order: FormEntries, text: str) -> PageResponse:
        # The digest names a file; there may be none yet.
        digest = "" if order.why_no_file else Content(NAME, text.encode()).digest
        return PageResponse(pages.sheet_page(self.form.verified(order), digest, self.form.now()))

    def _begin(self, order: FormEntries, text: str, sent: Mapping[str, str]) -> PageResponse:
        """A new read-back of the order; of one not to be started, once that is confirmed."""
        verified = self.form.verified(order)
        again = {name: said for name, said in sent.items() if said and name not in _NOT_AGAIN}
        is_confirmed = sent.get("confirmed") == "yes"
        if verified.assessment.verdict is Verdict.DO_NOT_START and not is_confirmed:
            shown, base = pages.verdict_markup(verified), f"{self.form.base}readback"
            title = _ACTS["readback"]
            points = f"{self.form.address_of(Stood(again))}#result"
            page = pages.ToldPage(title, _ASK, shown, base, _GO_ON, tuple(again.items()), points)
            return PageResponse(pages.told_page(page))
        read_from = read_order(read(text.encode(), NAME, "order", json=False))
        name = self.readbacks.begin(read_from, text, again, self.form.now())
        return PageResponse("", status=303, goes_to=f"{self.form.base}readback/{name}")

    def _read_back(self, method: str, name: str, body: bytes) -> PageResponse:
        if method == "GET" and name.endswith("/order"):
            sent = self.readbacks.sent_for(name.removesuffix("/order"))
            return self.form.page(sent) if sent else NOT_THERE
        now, policy = self.form.now(), self.form.policy
        if method == "POST":
            below = self.readbacks.take(name, read_sent(body).texts, now, policy)
            goes_to = f"{self.form.base}readback/{name}{below}"
            return NOT_THERE if below is None else PageResponse("", status=303, goes_to=goes_to)
        name = name.removesuffix(REPORT)
        text = self.readbacks.page(name, f"{self.form.base}readback/{name}", now, policy)
        return PageResponse(text) if text else NOT_THERE


_NOT_AGAIN = frozenset({PASTED_TEXT, "confirmed", "row", "table", "replaced"})
"""What is sent beside an order, and is none of it."""


_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,79}")


def _file(order: FormEntries, text: str) -> PageResponse:
    """The file, by the id and the revision of the order if a name can be made of them."""
    revision = order.values.get("revision", "")
    name = order.values.get("id", "") + (revision and f"-revision-{revision}")
    stem = name if order.values.get("id") and _FILE_NAME.fullmatch(name) else "order"
    return PageResponse(text, "application/yaml", name=f"{stem}.yaml")
