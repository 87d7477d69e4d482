"""The documents of which a rulebook is built: the built-in ones, and a site policy."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.rulebook import rules_folder
from orderlint.rulebook.kept_rules import KeptRules
from orderlint.rulebook.rules_folder import document
from orderlint.rulebook.yaml_fields import scalar

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading import Document


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
    every = {name.removesuffix(".yaml") for name in rules_folder.files()}
    names = every - {"sources", "policy", "derived"} - without
    families = {name: document(name, examples=examples) for name in sorted(names)}
    ranked = sorted(families.items(), key=lambda named: int(scalar(named[1].root, "rank").text))
    return Files(document("sources"), document("policy"), document("derived"), dict(ranked))
