"""The documents of which a rulebook is built, and the rules that were made of them before.

A rulebook is built for each policy, and most rules name no value that a policy changes.
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.rulebook import rules_folder
from orderlint.rulebook.rules_folder import document
from orderlint.rulebook.yaml_fields import scalar

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.rulebook.policy.policy_values import Policy
    from orderlint.rulebook.rule import Rule


_WORD = re.compile(r"\w+")


class _Made(NamedTuple):
    """Rules with the policy that they were made under; `named` are its values that they may name.

    None until it is asked for, since most runs build one rulebook.
    """

    rules: tuple[Rule, ...]
    policy: Policy
    named: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class KeptRules:
    """What was last made of each record, by its identity and whether its words were proofread.

    INVARIANT: who keeps this keeps the records too, so that no other gets the identity of one.
    """

    made: dict[tuple[int, bool], _Made] = field(default_factory=dict)

    def get(self, record: Section, policy: Policy, *, proofread: bool) -> tuple[Rule, ...] | None:
        """The rules of a record, if `policy` has the values under which they were made."""
        key = id(record), proofread
        made = self.made.get(key)
        if made is None:
            return None
        named = _named_in(record, made.policy) if made.named is None else made.named
        self.made[key] = made._replace(named=named)
        before, now = made.policy.values, policy.values
        return made.rules if all(before[name] == now.get(name) for name in named) else None

    def keep(
        self, record: Section, policy: Policy, rules: tuple[Rule, ...], *, proofread: bool
    ) -> None:
        """Keep the rules that were made of a record, in place of those before."""
        self.made[id(record), proofread] = _Made(rules, policy)


def _named_in(record: Section, policy: Policy) -> frozenset[str]:
    """The names of values that stand in a record as a word, whatever it means there."""
    words = (word for text in _texts(record) for word in _WORD.findall(text))
    return frozenset(word for word in words if word in policy.values)


def _texts(node: Node) -> Iterator[str]:
    """Every text in a record but its examples, which are orders."""
    if isinstance(node, Scalar):
        yield node.text
    elif isinstance(node, Listing):
        for item in node.items:
            yield from _texts(item)
    else:
        for entry in node.entries:
            if entry.key.text != "examples":
                yield from _texts(entry.value)


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
