"""orderlint checks a written order for ventricular irrigation and drainage before it is keyed in.

The public names, each imported when it is first asked for. No logic stands here.

>>> import orderlint
>>> orderlint.verify({"document": "order", "format": 1}).verdict == "do-not-start"
True
"""

from __future__ import annotations

import importlib
from time import time_ns

TYPE_CHECKING = False  # as of typing, which takes longer to import than all else here
if TYPE_CHECKING:
    from orderlint.api.policies import SitePolicy as SitePolicy
    from orderlint.api.policies import load_policy as load_policy
    from orderlint.api.results import Result as Result
    from orderlint.api.sources import load_concept_map as load_concept_map
    from orderlint.api.verbs import ask as ask
    from orderlint.api.verbs import compare as compare
    from orderlint.api.verbs import plan as plan
    from orderlint.api.verbs import read_back as read_back
    from orderlint.api.verbs import review as review
    from orderlint.api.verbs import verify as verify
    from orderlint.finding import Finding as Finding
    from orderlint.finding import Level as Level
    from orderlint.finding import Place as Place
    from orderlint.finding import Refused as Refused
    from orderlint.finding import Verdict as Verdict

__version__ = "0.1.0"
_BEGAN = time_ns()  # before any other module is read; by it code that changed since is known
_MODULES = {
    **dict.fromkeys(("Finding", "Level", "Place", "Refused", "Verdict"), "finding"),
    **dict.fromkeys(("ask", "compare", "plan", "read_back", "review", "verify"), "api.verbs"),
    **dict.fromkeys(("SitePolicy", "load_policy"), "api.policies"),
    "Result": "api.results",
    "load_concept_map": "api.sources",
}
__all__ = [
    "Finding",
    "Level",
    "Place",
    "Refused",
    "Result",
    "SitePolicy",
    "Verdict",
    "__version__",
    "ask",
    "compare",
    "load_concept_map",
    "load_policy",
    "plan",
    "read_back",
    "review",
    "verify",
]


def __getattr__(name: str) -> object:
    if name not in _MODULES:
        raise AttributeError(f"module 'orderlint' has no attribute {name!r}")
    return getattr(importlib.import_module(f"orderlint.{_MODULES[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
