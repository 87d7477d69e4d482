"""Checks what stands in the form, with what is known of the file that it was opened from.

Joins reading and checking; judges nothing itself.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.order_reader import read_order
from orderlint.page.entries import NAME, in_two_ways_words
from orderlint.reading import Document, read
from orderlint.reading.node import Scalar, Section, nest_paths
from orderlint.report.draft import order_comment
from orderlint.report.order.as_yaml import order_yaml
from orderlint.report.visible_text import safe
from orderlint.schema_check import known_nodes
from orderlint.sentences import draft as drafts
from orderlint.verification import Verified, verify_bundle, verify_order, with_open

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.fhir.bundle.reading import BundleOrder
    from orderlint.finding import NotUnderstood
    from orderlint.page.opening import Opened
    from orderlint.rulebook.rule import Rulebook
    from orderlint.sentences.draft import Draft, DraftLine

CONFIRMED, LEFT_OUT = "confirmed:", "left_out:"
"""What the name of a tick begins with, before the path of a line, or the number of words."""


class FormEntries(NamedTuple):
    """What stands in the form: texts by path, ticks, and what was opened; None where typed."""

    values: Mapping[str, str]
    ticks: frozenset[str] = frozenset()
    opened: Opened | None = None

    @property
    def draft(self) -> Draft | None:
        """The lines of a text that still stand as they were read, with a person's ticks."""
        draft = self.opened.draft if self.opened else None
        if draft is None:
            return None
        lines = tuple(
            line._replace(confirmed=f"{CONFIRMED}{line.path}" in self.ticks)
            for line in draft.lines
            if self._is_as_read(line)
        )
        rest = tuple(
            item._replace(left_out=f"{LEFT_OUT}{number}" in self.ticks)
            for number, item in enumerate(draft.rest)
        )
        return replace(draft, lines=lines, rest=rest)

    def _is_as_read(self, line: DraftLine) -> bool:
        return self.values.get(line.path) == line.value

    @property
    def why_no_file(self) -> str:
        """Why no file is made of it yet; '' if one is."""
        draft, bundle = self.draft, self.opened.bundle if self.opened else None
        if bundle is not None:
            return _held_by(bundle)
        return "" if draft is None or draft.is_confirmed else _TO_CONFIRM

    def text(self) -> str:
        """The order in YAML. ValueError where a section is one value and has parts as well."""
        if said := in_two_ways_words(self.values):
            raise ValueError(said)
        return order_yaml(self.values, self._comment())

    def _comment(self) -> str:
        draft, opened = self.draft, self.opened
        if opened and opened.bundle:
            return "".join(map(_not_understood, opened.bundle.not_understood))
        if draft is None or opened is None or opened.draft is None:
            return ""
        return order_comment(
            draft, (line for line in opened.draft.lines if not self._is_as_read(line))
        )


def _held_by(bundle: BundleOrder) -> str:
    """What no file of an order could say of a Bundle; '' if it could say all."""
    places = [f"{each.rule} at {each.place.element}" for each in bundle.faults]
    hidden = [each.element for each in bundle.not_understood if each.may_hold_setting]
    held = ", ".join((*places, *(f"{each} is not understood" for each in hidden)))
    return f"No file is made of it, as it could not say of the Bundle: {held}." if held else ""


def _not_understood(item: NotUnderstood) -> str:
    return f"# Not understood in the Bundle: {safe(item.element)} {safe(item.written)}\n"


_TO_CONFIRM = (
    "No file is made of it before a person has compared each line with the text, and has said of "
    "all that was not understood that the order goes without it."
)


def first_ticks(opened: Opened) -> frozenset[str]:
    """The ticks that a draft came with."""
    draft = opened.draft
    if draft is None:
        return frozenset()
    lines = (f"{CONFIRMED}{line.path}" for line in draft.lines if line.confirmed)
    rest = (f"{LEFT_OUT}{n}" for n, item in enumerate(draft.rest) if item.left_out)
    return frozenset((*lines, *rest))


def verify_entered(entered: FormEntries, at: int, book: Rulebook) -> Verified:
    """What `verify` says of the order, as of `at`; never more than of the file it came from.

    A setting that is as it was opened has the place that it has there. Raises Refused, and
    ValueError where the entries make no order.
    """
    document = _document(entered)
    bundle, draft = entered.opened.bundle if entered.opened else None, entered.draft
    if bundle is not None:
        return verify_bundle(replace(bundle, document=document), at, book)
    order = read_order(document)
    if draft is None:
        return verify_order(order, at, book)
    if drafts.may_hold_more(draft):
        order = drafts.absent_as_unreadable(order)
    found = verify_order(order, at, book)
    if draft.is_confirmed:
        return found
    texts = drafts.not_checked_of(draft, order.place_of(""))
    return replace(with_open(found, drafts.unchecked_of(draft), texts), is_draft=True)


def _document(entered: FormEntries) -> Document:
    document = read(entered.text().encode(), NAME, "order", json=False)
    if entered.opened is None:
        return document
    nodes = dict(_scalars(document.root))
    for path, node in _scalars(entered.opened.document.root):
        if path in nodes and nodes[path].text == node.text:
            nodes[path] = node
    return Document(NAME, "order", nest_paths(nodes, document.root.place))


def _scalars(root: Section) -> Iterator[tuple[str, Scalar]]:
    nodes, _ = known_nodes(root, field_table())
    return ((path, node) for path, node in nodes if isinstance(node, Scalar))
