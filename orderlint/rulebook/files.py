"""Reads the files of the rules folder. Nothing else reads them."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.reading import read
from orderlint.rulebook.kept_rules import KeptRules
from orderlint.rulebook.yaml_fields import scalar

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document

_FOLDER = Path(__file__).parent.parent / "rules"


@dataclass(frozen=True, slots=True)
class Files:
    """The documents of a rulebook. `families` have the rules, by name; `policy` is a site's.

    `kept` has the rules that were made of records of `families`.
    """

    sources: Document
    built_in_policy: Document
    derived: Document
    families: Mapping[str, Document]
    policy: Document | None = None
    kept: KeptRules = field(default_factory=KeptRules)


@functools.cache
def shipped_files(*, examples: bool = True, without: frozenset[str] = frozenset()) -> Files:
    """The built-in files, without some families; the others in the order of their `rank:`."""
    names = {path.stem for path in _FOLDER.glob("*.yaml")} - {"sources", "policy", "derived"}
    names -= without
    families = {name: _document(name, examples=examples) for name in sorted(names)}
    ranked = sorted(families.items(), key=lambda named: int(scalar(named[1].root, "rank").text))
    return Files(_document("sources"), _document("policy"), _document("derived"), dict(ranked))


def digest() -> str:
    """The SHA-256 of all built-in files, as hex; a certificate holds for these files only."""
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
