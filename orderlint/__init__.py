"""orderlint checks a written order for ventricular irrigation and drainage before it is keyed in.

The short public list; each name is imported when it is first asked for. The check itself is
`orderlint.verification.verify`. No logic stands here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from orderlint.finding import Finding as Finding
    from orderlint.finding import Level as Level
    from orderlint.finding import Place as Place
    from orderlint.finding import Refused as Refused
    from orderlint.finding import Verdict as Verdict

__version__ = "0.1.0"
__all__ = ["Finding", "Level", "Place", "Refused", "Verdict", "__version__"]


def __getattr__(name: str) -> object:
    if name not in __all__:
        raise AttributeError(f"module 'orderlint' has no attribute {name!r}")
    from orderlint import finding  # noqa: PLC0415 - a cold start pays only for what it asks for

    return getattr(finding, name)
