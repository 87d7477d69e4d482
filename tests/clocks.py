"""The time at which an order of the tests is fairly judged: soon after it was written."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import core_yaml

if TYPE_CHECKING:
    from pathlib import Path

_SOON = timedelta(minutes=20)
_OF_NO_TIME = datetime.fromisoformat("2026-03-02T14:30:00-06:00")


def soon_after_written(order: Path) -> datetime:
    """20 min after the order in a file was written; a time in March 2026 if it does not say."""
    written = core_yaml.load_file(order).get("written")
    return datetime.fromisoformat(written) + _SOON if written else _OF_NO_TIME


def milliseconds(moment: datetime) -> int:
    """Milliseconds since 1970 UTC."""
    return round(moment.timestamp() * 1000)
