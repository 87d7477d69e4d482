"""Reads the files of the rules folder. Nothing else reads them."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from orderlint.reading import Document

_FOLDER = Path(__file__).parent.parent / "rules"
CHANGED = "the rule files were changed while the program ran"
"""Why the words or the examples of a rule cannot be had."""


def names() -> set[str]:
    """The names of the files, without `.yaml`."""
    return {path.stem for path in _FOLDER.glob("*.yaml")}


def digest() -> str:
    """The SHA-256 of all built-in files, as hex; a certificate holds for these files only."""
    import hashlib  # noqa: PLC0415 - cold start

    total = hashlib.sha256()
    for path in sorted(_FOLDER.glob("*.yaml")):
        data = path.read_bytes()
        total.update(f"{path.name} {len(data)}\n".encode() + data)
    return total.hexdigest()


@functools.cache
def document(name: str, *, examples: bool = True) -> Document:
    """A file by its name, with the examples of its rules or without."""
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    path = _FOLDER / f"{name}.yaml"
    skip = frozenset[str]() if examples else frozenset({"examples"})
    return read(path.read_bytes(), f"rules/{path.name}", skip=skip)
