"""The check sheet of a read-back: what was entered, and blanks where a person must look.

Its lines, for text and JSON. Never a value of the order: what stands here was seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.readback.checklist import ADDITIVE
from orderlint.report.ask.words import BLANK
from orderlint.report.readback.words import compared_words
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.order import Leaf
    from orderlint.readback import ReadBack

VOID = (
    "This check is void after any change of a setting, bag, line or drain height, after a "
    "handover, and after a transport: then check anew."
)


class Item(NamedTuple):
    """One line of the sheet; `value` is empty where a person must look and write."""

    group: str
    label: str
    value: str = ""

    @property
    def words(self) -> str:
        """The line as it is read."""
        return f"{self.label}: {self.value or BLANK}"


def sheet_of(result: ReadBack, digest: str, at: int) -> tuple[Item, ...]:
    """The sheet. `digest` is that of the order's bytes; `at` when the settings were compared."""
    seen = result.seen.leaves
    order = result.ordered.order.leaves
    shown = {path: _shown(leaf) for path, leaf in seen.items()}
    shown[ADDITIVE] = _additive(seen)
    return tuple(
        Item(group, label, value)
        for group, lines in (
            ("Patient and order", _order(_shown(order["id"]), _shown(order["revision"]), digest)),
            ("Bag and line", _line(shown)),
            ("Controller", _controller(shown)),
            ("Drain and patient", _drain(shown)),
            ("Check", _check(shown, compared_words(result, at))),
        )
        for label, value in lines
    )


def _shown(leaf: Leaf) -> str:
    return quote(leaf.text) if leaf.given and leaf.text else ""


def _additive(seen: Mapping[str, Leaf]) -> str:
    parts = [leaf.text for path, leaf in seen.items() if path.startswith(ADDITIVE) and leaf.given]
    return quote(", ".join(parts)) if any(parts) else ""


def _order(identifier: str, revision: str, digest: str) -> list[tuple[str, str]]:
    return [
        ("First identifier, against the wristband", ""),
        ("Second identifier, against the wristband", ""),
        ("Order", identifier),
        ("Revision", revision),
        ("SHA-256", digest),
    ]


def _line(shown: dict[str, str]) -> list[tuple[str, str]]:
    return [
        ("Fluid, as entered", shown["irrigation.fluid"]),
        ("Additive, as entered", shown[ADDITIVE]),
        ("Expiry of bag and additive", ""),
        ("Line traced from bag to controller to ventricle", ""),
        ("Side", ""),
        ("Clamps", ""),
    ]


def _controller(shown: dict[str, str]) -> list[tuple[str, str]]:
    return [
        ("Waveform", ""),
        ("Alarm limits", ""),
        ("Alarms on, looked at again", ""),
        ("Alarms, as entered", shown["monitoring.alarms"]),
        ("Totals cleared", ""),
    ]


def _drain(shown: dict[str, str]) -> list[tuple[str, str]]:
    return [
        ("Drip chamber height, as entered", shown["drainage.height"]),
        ("Landmark, as entered", shown["drainage.landmark"]),
        ("Head-up angle", ""),
        ("Last levelled at", ""),
        ("Last zeroed at", ""),
        ("Outflow seen", ""),
        ("Neurological baseline", ""),
    ]


def _check(shown: dict[str, str], compared: str) -> list[tuple[str, str]]:
    return [
        ("Keyed in by", shown["keyed_by"]),
        ("Checked by", shown["seen_by"]),
        ("Settings seen at", shown["seen_at"]),
        ("Compared at", compared),
        ("A difference was settled with", ""),
        ("At", ""),
    ]
