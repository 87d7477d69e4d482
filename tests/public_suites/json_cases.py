"""The JSON parsing suite: files y_*.json are JSON, n_*.json are none, i_*.json are as one likes.

Our reader refuses some JSON on purpose: what does not show, what stands twice, what is too much.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from public_suites.outcomes import NO_SYNTAX, Suite, outcome_of, reason_of

from orderlint.reading.from_json import read_json
from orderlint.reading.unicode_checks import decode_text

if TYPE_CHECKING:
    from pathlib import Path


def check_json(folder: Path) -> Suite:
    """Read every case below `folder`: none that is no JSON may be read, and no JSON called none."""
    suite = Suite("JSON parsing suite")
    for path in sorted(folder.rglob("[yni]_*.json")):
        data = path.read_bytes()
        _, message = outcome_of(lambda data=data: read_json(decode_text(data, "case"), "case"))
        kind = {"y": "JSON", "n": "no JSON", "i": "either"}[path.name[0]]
        if path.name[0] == "n" and not message:
            suite.fail(path.name, "this is no JSON, and was read")
        if path.name[0] == "y" and message.startswith(NO_SYNTAX):
            suite.fail(path.name, f"this is JSON, and was refused: {message}")
        suite.add(f"{kind}, {_outcome(path.name[0], message)}", path.name.removesuffix(".json"))
    return suite


def _outcome(kind: str, message: str) -> str:
    if not message:
        return "read"
    return "refused" if kind == "n" else f"refused: {reason_of(message)}"
