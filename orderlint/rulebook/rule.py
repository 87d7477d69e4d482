"""A rule, its instances and its sources, as every later room holds them.

Frozen data only. Never a file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Level, Place
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Tree
    from orderlint.language.types import Scope
    from orderlint.reading.node import Section


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule or a value comes from.

    `kind` is logic, common-practice, local-policy or published; `text` is the citation as shown.
    """

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class SourcedRate:
    """A rate in ticks of flow, and the citation of its source as shown."""

    ticks: int
    source: str


@dataclass(frozen=True, slots=True)
class Instance:
    """A rule's condition for one path of its `over:` and one key of the policy's table.

    `sound` is true where the rule is kept, false where it is broken, unknown where it could not be
    checked. `paths` are the leaves it reads, those of `require` first.
    """

    it: str | None
    sound: Tree
    paths: tuple[str, ...]
    scope: Scope


@dataclass(frozen=True, slots=True)
class Rule:
    """One entry of the rulebook.

    `found_by` names the room that finds it where it has no condition. `inactive` holds reasons why
    the rule, or some key of it, is not asked. `covers` are the rules that it silences beside it,
    straight or through others. `examples` is the record's own section, read by tests and pages.
    """

    id: str
    family: str
    level: Level
    says: str
    expected: str
    why: str
    ask: str
    ask_whom: str
    sources: tuple[Source, ...]
    place: Place
    found_by: str | None = None
    leads: str | None = None
    covers: frozenset[str] = frozenset()
    figures: Mapping[str, Surface] | None = None
    instances: tuple[Instance, ...] = ()
    inactive: tuple[str, ...] = ()
    examples: Section | None = None


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Every rule by id, in the order of the files, with the title of the policy they rest on.

    `csf_rate` is the policy's CSF formation by patient group, in ticks of flow.
    """

    rules: Mapping[str, Rule]
    policy: str
    outflow: str | None
    csf_rate: Mapping[str, SourcedRate]
