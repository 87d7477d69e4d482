"""Reads each distinct text of a setting once, into a row of the table of read texts.

The reading is the tool's own. Never SQL, and never a rule.
"""

from __future__ import annotations

import json
import re
from hashlib import sha256
from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit.texts import read_cell
from orderlint.fields import CHECKED_AT, field_table, schema_text
from orderlint.language.naming import names_one
from orderlint.language.to_sql import digest_of_list
from orderlint.local_time import utc_offset, zone_clock
from orderlint.order import Leaf, State

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.audit.sql.outcomes import Tests

    Cell = bool | int | str | None

OFFSETS = {"starts": "offset of starts", "review_by": "offset of review_by"}
"""By a time, the name under which its offset from UTC in its zone stands, in seconds."""


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

    @property
    def whole(self) -> str:
        """The text that is read, as `cells_by_path` joins it."""
        return f"{self.text} {self.unit_text}" if self.unit_text else self.text


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
        if key.path in OFFSETS.values():
            leaf, fault, refused = _offset(key), None, False
        else:
            leaf, fault, refused = _reading(key)
        field = field_table().fields.get(key.path)
        is_choice = field is not None and field.kind == "choice"
        named = self.tests[key.path].lists if key.path in self.tests and leaf.has_words else ()
        return (
            *key,
            self.made_for,
            refused,
            leaf.given,
            leaf.value if isinstance(leaf.value, int) else None,
            leaf.value if is_choice else None,
            leaf.unit if leaf.known else None,
            fault,
            *(flag in leaf.flags if leaf.given else None for flag in self.flags),
            *(names_one(leaf.text, each) if each in named else None for each in self.lists),
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


def _reading(key: TextKey) -> tuple[Leaf, str | None, bool]:
    """The leaf that a text makes, the rule that it breaks in being read, whether it is refused."""
    at = "written" if key.path == CHECKED_AT else key.written_at
    found = read_cell(at, key.whole)
    own = {leaf.path: leaf for leaf in (found.leaf, *found.spoilt)}
    leaf = found.leaf if key.path == CHECKED_AT else own.get(key.path, Leaf(key.path))
    # Of a text that may break two rules no audit knows either; one cell has one fault at most.
    fault = found.faults[0].rule if found.faults and key.path != CHECKED_AT else None
    return leaf, fault, bool(found.refused)


def _offset(key: TextKey) -> Leaf:
    """A leaf with the offset of a time in a zone, in seconds; without a value if it has none."""
    at = read_cell(key.written_at, key.text).leaf.value
    zone = read_cell("zone", key.unit_text).leaf
    clock = zone_clock(str(zone.value)) if zone.known else None
    if clock is None or not isinstance(at, int):
        return Leaf(key.path)
    return Leaf(key.path, State.KNOWN, round(utc_offset(clock, at).total_seconds()))
