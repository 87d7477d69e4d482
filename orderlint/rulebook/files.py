"""The files of the rules folder, read. The only reader of that folder.

Documents and their digest. Never what is written in a rule.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.reading import read
from orderlint.rulebook.yaml_fields import scalar

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document

_FOLDER = Path(__file__).parent.parent / "rules"


@dataclass(frozen=True, slots=True)
class Files:
    """The documents that make a rulebook; those with `rules:` by the name of their family.

    `policy` is a site policy that changes the built-in one.
    """

    sources: Document
    built_in_policy: Document
    derived: Document
    families: Mapping[str, Document]
    policy: Document | None = None


@functools.cache
def shipped_files(*, examples: bool = True, without: frozenset[str] = frozenset()) -> Files:
    """The files that ship with the tool; the families in the order of their `rank:`.

    `without` names families that are not read, such as the rules that only a site policy can break.
    """
    names = {path.stem for path in _FOLDER.glob("*.yaml")} - {"sources", "policy", "derived"}
    names -= without
    families = {name: _document(name, examples=examples) for name in sorted(names)}
    ranked = sorted(families.items(), key=lambda named: int(scalar(named[1].root, "rank").text))
    return Files(_document("sources"), _document("policy"), _document("derived"), dict(ranked))


def digest() -> str:
    """The SHA-256 of all files that ship with the rulebook, as hex, by which a proof is bound."""
    import hashlib  # noqa: PLC0415 - cold start

    total = hashlib.sha256()
    for path in sorted(_FOLDER.glob("*.yaml")):
        data = path.read_bytes()
        total.update(f"{path.name} {len(data)}\n".encode() + data)
    return total.hexdigest()


def _document(name: str, *, examples: bool = True) -> Document:
    path = _FOLDER / f"{name}.yaml"
    skip = frozenset[str]() if examples else frozenset({"examples"})
    return read(path.read_bytes(), f"rules/{path.name}", skip=skip)
