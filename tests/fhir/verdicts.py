"""All that `verify` says of an order, for two to be compared."""

from __future__ import annotations

import json
from typing import Any

from running import AT, run

PLACES = {"file", "place", "checked"}
"""Where things stand, and the digest of what was read."""


def said(text: bytes) -> dict[str, Any]:
    """All that `verify` says of an order but where it stands."""
    report = json.loads(run("verify", "--format", "json", *AT, "-", stdin=text).out)
    (document,) = report["documents"]
    return _without_places(document)


def _without_places(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _without_places(each) for key, each in data.items() if key not in PLACES}
    return [_without_places(each) for each in data] if isinstance(data, list) else data
