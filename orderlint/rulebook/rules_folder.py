"""Reads the files of the rules folder. Nothing else reads them."""

from __future__ import annotations

import functools
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from orderlint.reading import Document

FOLDER = os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), "rules")
CHANGED = "the rule files were changed while the program ran"
"""Why the examples of a rule cannot be had."""


def files() -> list[str]:
    """The names of the files in their order."""
    return sorted(name for name in os.listdir(FOLDER) if name.endswith(".yaml"))


def digest() -> str:
    """The SHA-256 of all built-in files, as hex; a certificate holds for these files only."""
    import hashlib  # noqa: PLC0415 - cold start

    total = hashlib.sha256()
    for name in files():
        data = _bytes(name)
        total.update(f"{name} {len(data)}\n".encode() + data)
    return total.hexdigest()


@functools.cache
def document(name: str, *, examples: bool = True) -> Document:
    """The file of a family, or of sources, policy or derived facts.

    Without `examples`, those of its rules are left out.
    """
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    skip = frozenset[str]() if examples else frozenset({"examples"})
    return read(_bytes(f"{name}.yaml"), f"rules/{name}.yaml", skip=skip)


def _bytes(name: str) -> bytes:
    with open(os.path.join(FOLDER, name), "rb") as file:
        return file.read()
