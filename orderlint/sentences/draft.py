"""A draft of an order: what was read in a text, line by line, and what a person has confirmed.

Written by `draft`, read by `verify`. Never a value that does not stand in the text.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Level, NotChecked, Place, Refused, Unchecked
from orderlint.order import Leaf, Order, State
from orderlint.order_reader import read_order
from orderlint.reading.document import Document
from orderlint.reading.node import Form, Listing, Node, Scalar, Section, nest_paths
from orderlint.reading.unicode_checks import decode_text, place_at
from orderlint.sentences.text_reading import contradicted, holds_setting, read_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.sentences.clauses import Clause

LARGEST_TEXT = 64 * 1024
"""Bytes of a text: some hundred times an order."""
NOT_CONFIRMED, NOT_UNDERSTOOD = "draft-line-not-confirmed", "draft-text-not-understood"
"""The rules that cannot be checked before a person has looked."""


class SourceWords(NamedTuple):
    """Words of the text: where they begin, line and column from 1, and as they stand there."""

    text: str
    line: int
    column: int


class DraftLine(NamedTuple):
    """One setting: its path, its value as written, the clause it stands in, whether confirmed.

    `place` is where the value stands in the draft; None before it is written.
    """

    path: str
    value: str
    source: SourceWords
    confirmed: bool = False
    place: Place | None = None


class Rest(NamedTuple):
    """Words that are not understood. `left_out` is a person's word that the order goes without.

    `why` they are not; empty in a draft that does not say.
    """

    source: SourceWords
    left_out: bool = False
    place: Place | None = None
    why: str = ""

    @property
    def holds_setting(self) -> bool:
        """Whether they have a number, or name a setting."""
        return holds_setting(self.source.text)


@dataclass(frozen=True, slots=True)
class Draft:
    """What was read in a text of that name and SHA-256: its lines, then what is not understood."""

    name: str
    digest: str
    lines: tuple[DraftLine, ...]
    rest: tuple[Rest, ...]

    @property
    def is_understood(self) -> bool:
        """Whether all of the text was."""
        return not self.rest

    @property
    def is_confirmed(self) -> bool:
        """Whether a person has looked at all of it and found it as it is written."""
        lines = all(line.confirmed for line in self.lines)
        return lines and all(item.left_out for item in self.rest)


def drafted(data: bytes, name: str, digest: str) -> Draft:
    """The draft of an order from a text in UTF-8. Raises Refused where it is no text."""
    if len(data) > LARGEST_TEXT:
        raise Refused(f"The text is longer than {LARGEST_TEXT // 1024} KiB, the most read.", name)
    text = decode_text(data, name)
    if not text.strip():
        raise Refused("The file is empty.", name)
    found = read_text(text)
    return Draft(
        name,
        digest,
        tuple(
            DraftLine(value.path, value.text, _source(text, clause, name))
            for clause, values in found.understood
            for value in values
        ),
        tuple(
            Rest(_source(text, each.clause, name), why=each.why.value)
            for each in found.not_understood
        ),
    )


def _source(text: str, clause: Clause, name: str) -> SourceWords:
    place = place_at(text, clause.start, name)
    return SourceWords(clause.text, place.line, place.column)


def read_draft(document: Document) -> Draft:
    """The draft in a document. Raises Refused, with line and column, where it is not as written."""
    root = document.root
    source = _section(root, "source")
    lines = tuple(_line(record) for record in _records(root, "lines"))
    again = contradicted((line.path, line.value) for line in lines)
    for line in lines:
        if line.path in again:
            raise Refused("This setting has two values.", line.place or root.place)
    return Draft(
        _text(source, "name").text,
        _text(source, "sha256").text,
        lines,
        tuple(map(_rest, _records(root, "not_understood"))),
    )


def _rest(record: Section) -> Rest:
    why = _text(record, "why").text if record.get("why") is not None else ""
    return Rest(_source_of(record), _yes(record, "left_out"), record.place, why)


def _line(record: Section) -> DraftLine:
    path, value = _text(record, "setting"), _text(record, "value")
    if path.text not in field_table().fields:
        _refuse(path, "This is no setting of an order.")
    return DraftLine(
        path.text, value.text, _source_of(record), _yes(record, "confirmed"), value.place
    )


def _source_of(record: Section) -> SourceWords:
    line, column = (_text(record, key) for key in ("line", "column"))
    for node in (line, column):
        if not (node.text.isascii() and node.text.isdigit()):
            _refuse(node, "This is a whole number, counted from 1.")
    return SourceWords(_text(record, "written").text, int(line.text), int(column.text))


def _records(root: Section, key: str) -> tuple[Section, ...]:
    found = root.get(key)
    if not isinstance(found, Listing):
        _refuse(found or root, f"`{key}:` is a list, as `draft` writes it; it may be empty.")
    return tuple(_as_section(item) for item in found.items)


def _section(root: Section, key: str) -> Section:
    found = root.get(key)
    return _as_section(found) if found is not None else _refuse(root, f"`{key}:` is missing.")


def _as_section(node: Node) -> Section:
    return node if isinstance(node, Section) else _refuse(node, "This has keys of its own.")


def _text(record: Section, key: str) -> Scalar:
    found = record.get(key)
    if not isinstance(found, Scalar) or not found.text.strip():
        _refuse(found or record, f"`{key}:` is missing, or is no text.")
    return found


def _yes(record: Section, key: str) -> bool:
    said = _text(record, key)
    if said.text not in {"yes", "no"}:
        _refuse(said, f"`{key}:` is yes or no.")
    return said.text == "yes"


def _refuse(node: Node, message: str) -> NoReturn:
    raise Refused(message, node.place)


def order_of(draft: Draft, document: Document) -> Order:
    """The order that a draft comes to. `document` is the draft's own, for the places.

    Where words with a number or the name of a setting are not understood, a setting without a line
    is unreadable, never absent: it may stand in them.
    """
    first: dict[str, Node] = {}
    start = document.root.place
    for line in draft.lines:
        form: Form = "number" if field_table().fields[line.path].kind == "count" else "text"
        first.setdefault(line.path, Scalar(line.value, line.value, form, line.place or start))
    first.setdefault("document", Scalar("order", "order", "text", start))
    first.setdefault("format", Scalar("1", "1", "number", start))
    order = read_order(Document(document.file, "order", nest_paths(first, start)))
    return absent_as_unreadable(order) if may_hold_more(draft) else order


def may_hold_more(draft: Draft) -> bool:
    """Whether a setting without a line may stand in words that are not understood."""
    return any(item.holds_setting and not item.left_out for item in draft.rest)


def absent_as_unreadable(order: Order) -> Order:
    """An order of which a setting without a value may stand in what is not understood."""
    may_be_there = {*order.leaves} - _finding_if_written(order)
    leaves = {
        path: Leaf(path, State.UNREADABLE)
        if leaf.state is State.ABSENT and path in may_be_there
        else leaf
        for path, leaf in order.leaves.items()
    }
    return replace(order, leaves=leaves)


def _finding_if_written(order: Order) -> set[str]:
    """The settings of which it is a finding that they are written, readable or not.

    That would be said of an order in which they may not be. A name of an additive, readable or not,
    is a drug in the bag; and a therapy has settings that are out of place in it.
    """
    sections = field_table().sections
    found = {*sections[_ADDITIVE]} - {_ADDITIVE}
    therapy = order.leaves["therapy"].value
    if therapy in {"drainage", "monitoring"}:
        found.update(sections["irrigation"], sections["titration"])
    if therapy == "monitoring":
        found.update(("treat_above", "drainage.hourly_max", "drainage.at_hourly_max"))
    return found


_ADDITIVE = "irrigation.additive"


def unchecked_of(draft: Draft) -> Iterator[Unchecked]:
    """What keeps a draft incomplete: lines that nobody confirmed, and words not understood."""
    paths = tuple(dict.fromkeys(line.path for line in draft.lines if not line.confirmed))
    if paths:
        names = ", ".join(in_sentence(field_table().display_name(path)) for path in paths)
        why = f"No person has confirmed {names}"
        yield Unchecked(NOT_CONFIRMED, Level.CLARIFY, paths, why)
    if any(not item.left_out for item in draft.rest):
        why = "Words of the text are not understood"
        yield Unchecked(NOT_UNDERSTOOD, Level.CLARIFY, (), why)


def not_checked_of(draft: Draft, start: Place) -> Iterator[NotChecked]:
    """The words of a text that are not understood and may name a setting.

    `start` is where the draft begins, for words that have no place of their own.
    """
    for item in draft.rest:
        if item.holds_setting and not item.left_out:
            yield NotChecked("", "text", item.source.text, item.place or start)
