"""Reads the text of one cell as the setting of one order, by the tool's own reader.

The only place that reads a cell. Never two cells, and never a rule.
"""

from __future__ import annotations

import functools
import json
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Fault, Place, Refused
from orderlint.language.naming import naming
from orderlint.leaf_reader import read_leaf
from orderlint.mention_check.faults import ordered_with
from orderlint.mention_check.said import mentions_of
from orderlint.order import Leaf
from orderlint.order_reader import read_order
from orderlint.reading import Document
from orderlint.reading.limits import make_scalar
from orderlint.reading.node import Form, Node, Scalar, nest_paths
from orderlint.schema_check import is_empty
from orderlint.tables.row_document import is_count
from orderlint.tables.table_map import HEAD_PATHS

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from orderlint.field import Field
    from orderlint.mentions import Mention
    from orderlint.mentions.tokens import Token

Lists = tuple[tuple[str, ...], ...]
"""The lists of names that conditions look for in a text."""

PLACE = Place("", 1, 1)
_HEAD: dict[str, Node] = {
    "document": Scalar("order", "order", "text", PLACE),
    "format": Scalar("1", "1", "number", PLACE),
}
"""What every order begins with; no column says it."""


class TextMentions(NamedTuple):
    """What a text mentions, without where it does, and the settings that its clause orders."""

    mention: Mention
    ordered: tuple[str, ...]


class CellReading(NamedTuple):
    """What one cell comes to in its order.

    `leaf` is the setting at its path, absent where the cell is of a section; it does not tell
    where something stands in the text. `faults` are of this cell alone, and `spoilt` are the other
    leaves that cannot be read because of it. `refused` says why no order can hold the text; ''
    where one can. `says` is what a text mentions that may be asked about.
    """

    leaf: Leaf
    faults: tuple[Fault, ...] = ()
    spoilt: tuple[Leaf, ...] = ()
    refused: str = ""
    says: frozenset[TextMentions] = frozenset()


def read_cell(path: str, text: str) -> CellReading:
    """Read the text of a cell as the leaf or section at `path`. An empty text is nothing written.

    A count is read as the number that a document has there, as far as it is one.
    """
    field = field_table().fields.get(path)
    try:
        scalar = _scalar(field, text)
    except Refused as reason:
        return CellReading(Leaf(path), refused=reason.message)
    if is_empty(scalar):
        return CellReading(Leaf(path))
    # One leaf is read without its order where nothing else in an order depends on it.
    if field is None or field.kind == "count" or path in _READ_IN_ORDER:
        return _read_in_order(path, scalar)
    leaf, fault = read_leaf(field, scalar)
    faults = (fault._replace(spoils=(path,)),) if fault else ()
    says = said_in(leaf)
    if leaf.mentions or leaf.unsafe_notation:
        leaf = replace(leaf, mentions=(), unsafe_notation=())
    return CellReading(leaf, faults, says=says)


_READ_IN_ORDER = frozenset({"drainage.height", *field_table().sections})


def _scalar(field: Field | None, text: str) -> Scalar:
    """The text as JSON has it. Raises Refused."""
    form: Form = "number" if is_count(field, text) else "text"
    is_located = field is not None and field.kind == "text"
    raw = json.dumps(text, ensure_ascii=False) if is_located else text
    return make_scalar(text, raw, form, PLACE)


def _read_in_order(path: str, scalar: Scalar) -> CellReading:
    order = read_order(Document("", "order", nest_paths({**_HEAD, path: scalar}, PLACE)))
    beside = (leaf for each, leaf in order.leaves.items() if each not in {path, *HEAD_PATHS})
    spoilt = tuple(leaf for leaf in beside if leaf.given)
    return CellReading(order.leaves.get(path, Leaf(path)), order.faults, spoilt)


def reading_key(reading: CellReading, lists: Lists) -> Hashable:
    """A key that two readings share only if no condition and no check can tell them apart.

    Left out are places, the instant of a time, and the text where all that is asked of it is in the
    key: its flags, what it mentions of the settings, and which of `lists` it names.
    """
    leaf = reading.leaf
    return (
        leaf.state,
        leaf.value if _has_value(leaf.path) else None,
        leaf.unit,
        leaf.flags,
        leaf.has_words,
        _naming(lists)(leaf.text) if leaf.has_words else None,
        reading.says,
        tuple((fault.rule, fault.path, fault.spoils) for fault in reading.faults),
        tuple((other.path, other.text) for other in reading.spoilt),
        reading.refused,
    )


_naming: Callable[[Lists], Callable[[str], frozenset[int]]] = functools.cache(naming)


def said_in(leaf: Leaf) -> frozenset[TextMentions]:
    """What a text says: what mentions neither an act nor a setting is asked about in no order."""
    return frozenset(
        TextMentions(_meant(item.mention), tuple(ordered_with(item.mention, leaf)))
        for item in mentions_of(leaf)
        if item.mention.act or item.mention.paths
    )


def _meant(mention: Mention) -> Mention:
    """What a text mentions, without where it does."""
    return mention._replace(
        offset=0,
        length=0,
        sentence=(0, 0),
        number=mention.number and _without_place(mention.number),
        durations=tuple(map(_without_place, mention.durations)),
    )


def _without_place(token: Token) -> Token:
    return token._replace(text="", start=0, end=0)


def _has_value(path: str) -> bool:
    """Whether the value of a leaf tells classes apart: text is compared with nothing, and the
    instant of a time is kept row by row.
    """
    field = field_table().fields.get(path)
    return field is not None and field.kind not in {"text", "label", "instant"}


def head_leaves() -> dict[str, Leaf]:
    """The leaves that every row has, whatever its columns."""
    order = read_order(Document("", "order", nest_paths(_HEAD, PLACE)))
    return {path: order.leaves[path] for path in HEAD_PATHS}
