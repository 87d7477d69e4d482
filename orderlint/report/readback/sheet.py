"""The check sheet of a read-back: what was entered, and blanks where a person must look.

Its lines, for text and JSON. Never an ordered value: every value was seen.
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


IDENTIFIERS = (
    "First identifier, against the wristband",
    "Second identifier, against the wristband",
)
"""What tells whose order it is: on paper alone, by hand."""
# Labels by group, each with the name of the value that was entered or is known; "" for a blank.
_LINES = {
    "Patient and order": {
        **dict.fromkeys(IDENTIFIERS, ""),
        "Order": "id",
        "Revision": "revision",
        "SHA-256": "digest",
    },
    "Bag and line": {
        "Fluid, as entered": "irrigation.fluid",
        "Additive, as entered": ADDITIVE,
        "Expiry of bag and additive": "",
        "Line traced from bag to controller to ventricle": "",
        "Side": "",
        "Clamps": "",
    },
    "Controller": {
        "Waveform": "",
        "Alarm limits": "",
        "Alarms on, looked at again": "",
        "Alarms, as entered": "monitoring.alarms",
        "Totals cleared": "",
    },
    "Drain and patient": {
        "Drip chamber height, as entered": "drainage.height",
        "Landmark, as entered": "drainage.landmark",
        "Head-up angle": "",
        "Last levelled at": "",
        "Last zeroed at": "",
        "Outflow seen": "",
        "Neurological baseline": "",
    },
    "Check": {
        "Keyed in by": "keyed_by",
        "Checked by": "seen_by",
        "Settings seen at": "seen_at",
        "Compared at": "compared",
        "A difference was settled with": "",
        "At": "",
    },
}


def sheet_of(result: ReadBack, digest: str, at: int) -> tuple[Item, ...]:
    """The sheet. `digest` is that of the order's bytes; `at` when the settings were compared."""
    seen, order = result.seen.leaves, result.ordered.order.leaves
    values = {path: _shown(leaf) for path, leaf in seen.items()}
    values |= {path: _shown(order[path]) for path in ("id", "revision")}
    values |= {ADDITIVE: _additive(seen), "digest": digest, "compared": compared_words(result, at)}
    return tuple(
        Item(group, label, values.get(name, ""))
        for group, lines in _LINES.items()
        for label, name in lines.items()
    )


def _shown(leaf: Leaf) -> str:
    return quote(leaf.text) if leaf.given and leaf.text else ""


def _additive(seen: Mapping[str, Leaf]) -> str:
    parts = [leaf.text for path, leaf in seen.items() if path.startswith(ADDITIVE) and leaf.given]
    return quote(", ".join(parts)) if any(parts) else ""
