"""Reads each distinct text of a setting once, into a row of the table of read texts.

The reading is the tool's own. Never SQL, and never a rule.
"""

from __future__ import annotations

import json
import re
from datetime import timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table, schema_text
from orderlint.finding import Place, Refused
from orderlint.language.naming import names_one
from orderlint.language.to_sql import digest_of_list
from orderlint.language.types import CHECKED_AT
from orderlint.local_time import wall_time, zone_clock
from orderlint.order import Leaf, State
from orderlint.order_reader import nest_paths, read_order
from orderlint.reading import Document
from orderlint.reading.limits import make_scalar

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.audit.sql.outcomes import Tests
    from orderlint.order import Order

    Cell = bool | int | str | None

OFFSETS = {"starts": "offset of starts", "review_by": "offset of review_by"}
"""By a time, the name under which its offset from UTC in its zone stands, in seconds."""
_TOP = Place("text", 1, 1)


class TextKey(NamedTuple):
    """What a row of the table is found by.

    `path` is the setting that is read from the text, `written_at` the setting or the section at
    which the text stands, the same but for a section written as one text. `unit_text` is what a
    unit's own column says, or the zone of an offset; else ''.
    """

    path: str
    written_at: str
    text: str
    unit_text: str = ""


class TextTable(NamedTuple):
    """The table of read texts that the conditions of a rulebook need.

    `made_for` is a digest of all on which the reading of a text depends, in hexadecimal digits.
    `flags` and `lists` have a column each; `tests` are what is looked for in the text of a leaf.
    """

    made_for: str
    flags: tuple[str, ...]
    lists: tuple[tuple[str, ...], ...]
    tests: Mapping[str, Tests]

    @property
    def columns(self) -> Mapping[str, str]:
        """Column → type in SQL; all that identify a row stand first."""
        return {
            **dict.fromkeys(("path", "written_at", "text", "unit_text", "made_for"), "VARCHAR"),
            "refused": "BOOLEAN",
            "given": "BOOLEAN",
            "number": "BIGINT",
            **dict.fromkeys(("choice", "unit", "fault"), "VARCHAR"),
            **{flag_column(flag): "BOOLEAN" for flag in self.flags},
            **{list_column(listed): "BOOLEAN" for listed in self.lists},
        }

    def row(self, key: TextKey) -> tuple[Cell, ...]:
        """The row of a text, in the order of `columns`."""
        head = (*key, self.made_for)
        try:
            return (*head, False, *self._read(key))
        except Refused:
            return (*head, True, False, *[None] * (len(self.columns) - len(head) - 2))

    def _read(self, key: TextKey) -> tuple[Cell, ...]:
        if key.path in OFFSETS.values():
            leaf, fault = _offset(key), None
        else:
            leaf, fault = _leaf(key)
        field = field_table().fields.get(key.path)
        is_choice = field is not None and field.kind == "choice"
        named = self.tests[key.path].lists if key.path in self.tests and leaf.has_words else ()
        flags = (flag in leaf.flags if leaf.given else None for flag in self.flags)
        names = (names_one(leaf.text, each) if each in named else None for each in self.lists)
        return (
            leaf.given,
            leaf.value if isinstance(leaf.value, int) else None,
            leaf.value if is_choice else None,
            leaf.unit if leaf.known else None,
            fault,
            *flags,
            *names,
        )


def text_table(tests: Mapping[str, Tests], version: str) -> TextTable:
    """The table for conditions that look for these things in the texts of leaves."""
    flags = sorted({flag for each in tests.values() for flag in each.flags})
    lists = sorted({listed for each in tests.values() for listed in each.lists})
    told = json.dumps([version, schema_text("order"), flags, lists])
    made_for = sha256(told.encode()).hexdigest()[:16]
    return TextTable(made_for, tuple(flags), tuple(lists), tests)


def flag_column(flag: str) -> str:
    """The column of a notation flag."""
    return f"written_{re.sub('[^a-z]', '_', flag)}"


def list_column(listed: tuple[str, ...]) -> str:
    """The column of a list of names."""
    return f"names_{digest_of_list(listed)}"


def order_of(texts: Mapping[str, str]) -> Order:
    """The order that has these texts by path, and nothing else.

    Raises Refused where `verify` refuses the document.
    """
    nodes = {path: make_scalar(text, text, "text", _TOP) for path, text in texts.items()}
    head = {
        "document": make_scalar("order", "order", "text", _TOP),
        "format": make_scalar("1", "1", "number", _TOP),
    }
    return read_order(Document("text", "order", nest_paths({**head, **nodes}, _TOP)))


def _leaf(key: TextKey) -> tuple[Leaf, str | None]:
    """The leaf that a text makes, and the rule that it breaks in being read."""
    path = "written" if key.path == CHECKED_AT else key.path
    at = "written" if key.path == CHECKED_AT else key.written_at
    text = f"{key.text} {key.unit_text}" if key.unit_text else key.text
    order = order_of({at: text})
    rules = [fault.rule for fault in order.faults]
    return order.leaves[path], rules[0] if rules and path == at else None


def _offset(key: TextKey) -> Leaf:
    """A leaf with the offset of a time in a zone, in seconds; without a value if it has none."""
    order = order_of({key.written_at: key.text, "zone": key.unit_text})
    at, zone = order.leaves[key.written_at].value, order.leaves["zone"]
    clock = zone_clock(str(zone.value)) if zone.known else None
    if clock is None or not isinstance(at, int):
        return Leaf(key.path)
    ahead = wall_time(clock, at).utcoffset() or timedelta()
    return Leaf(key.path, State.KNOWN, round(ahead.total_seconds()))
