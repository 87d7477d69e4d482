"""orderlint checks a written order for ventricular irrigation and drainage before it is keyed in.

The short public list; each name is imported when it is first asked for. No logic stands here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from orderlint.finding import Finding as Finding
    from orderlint.finding import Level as Level
    from orderlint.finding import Refused as Refused
    from orderlint.finding import Verdict as Verdict
    from orderlint.verify import Verified as Verified
    from orderlint.verify import verify as verify

__version__ = "0.1.0"

_ROOMS = {
    "Finding": "finding",
    "Level": "finding",
    "Refused": "finding",
    "Verdict": "finding",
    "Verified": "verify",
    "verify": "verify",
}

__all__ = ["Finding", "Level", "Refused", "Verdict", "Verified", "__version__", "verify"]


def __getattr__(name: str) -> object:
    if name not in _ROOMS:
        raise AttributeError(f"module 'orderlint' has no attribute {name!r}")
    import importlib  # noqa: PLC0415 - a cold start pays only for what it asks for

    return getattr(importlib.import_module(f"orderlint.{_ROOMS[name]}"), name)
