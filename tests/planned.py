"""Plans made for tests: of the clean order, changed by hand, from its start on."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from running import CLEAN

from orderlint.rulebook.load import load
from orderlint.shift_plan import plan_of
from orderlint.verification import verify

if TYPE_CHECKING:
    from orderlint.shift_plan import Plan

STARTS = ("starts: 2026-03-02T15:00:00-06:00", "starts: 2026-01-01T00:00:00Z")
"""A start of the order before any plan's."""
START = "2026-03-02T15:00:00-06:00"
AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00


def instant(text: str) -> int:
    return int(datetime.fromisoformat(text).timestamp()) * 1000


def order(*changes: tuple[str, str]) -> bytes:
    """The clean order with each text, that must be there, in place of another."""
    text = CLEAN.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text.encode()


def planned(
    *changes: tuple[str, str], start: str = START, hours: int = 24, data=None, rulebook=None
) -> Plan:
    """The plan of `data`, else of the clean order with these changes."""
    rulebook = rulebook or load("order")
    verified = verify(data or order(*changes), "order.yaml", AT, rulebook)
    offset = datetime.fromisoformat(start).utcoffset()
    seconds = int(offset.total_seconds())
    return plan_of(verified, instant(start), hours, seconds, rulebook.values["csf_rate"])
