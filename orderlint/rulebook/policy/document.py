"""A site policy's own file: its keys, its sources, and what its own rules may not have.

What stands in the file. Never what a value, a level or a suppression means.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.finding import Place, Refused
from orderlint.reading.node import Section
from orderlint.rulebook.covers import covers_of
from orderlint.rulebook.policy.values import value_entries
from orderlint.rulebook.rule import POLICY_FAMILY
from orderlint.rulebook.rule_reader import rules_of
from orderlint.rulebook.yaml_fields import known_keys, optional, pairs, refuse, scalar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.reading.node import KeyValue
    from orderlint.rulebook.covers import Cover
    from orderlint.rulebook.instantiate import Environment
    from orderlint.rulebook.rule import Rule

KEYS = (
    *("document", "format", "title", "sources"),
    *("values", "levels", "completeness", "rules", "suppressions"),
)
"""What may stand at the top of a site policy."""
_NOT_VALUES = frozenset({"levels", "completeness", "rules", "suppressions"})


def checked_sources(document: Document, catalogue: Mapping[str, str]) -> Mapping[str, str]:
    """The catalogue of sources with the policy's own. Refused at a key that it cannot have."""
    known_keys(document.root, KEYS, "a site policy")
    scalar(document.root, "title")
    own: dict[str, str] = {}
    for key, text in pairs(document.root, "sources"):
        if key.text in catalogue:
            refuse(key, f"there is a source {key.text} already")
        own[key.text] = text.text
    return {**catalogue, **own}


def own_rules(
    records: Iterable[Section],
    environment: Environment,
    catalogue: Mapping[str, str],
    rules: Mapping[str, Rule],
) -> Iterator[tuple[Section, Rule]]:
    """The policy's own rules with their records; refused is what only a built-in rule may have.

    `rules` are those before them.
    """
    for record in records:
        found_by = optional(record, "found_by")
        if found_by is not None:
            refuse(found_by, "a rule of a policy has a condition; nothing else would find it")
        for rule in rules_of(record, POLICY_FAMILY, environment, catalogue):
            for cover in covers_of(record, rule.id):
                _own_cover(cover, rules)
            yield record, rule


def _own_cover(cover: Cover, rules: Mapping[str, Rule]) -> None:
    lower = rules.get(cover.lower)
    if lower is not None and lower.family != POLICY_FAMILY:
        refuse(cover.written, f"{cover.lower} is built in; a rule of a policy cannot cover it")


def locate_cause(
    reason: Refused, document: Document, build: Callable[[Document], object]
) -> Refused:
    """The refusal of a built-in rule, at the value of the policy that leads to it.

    `build` makes the rulebook under a part of the policy; here, under each of its values alone.
    """
    if not isinstance(reason.place, Place) or reason.place.file == document.file:
        return reason
    for entry in value_entries(document):
        try:
            build(_with_one_value(document, entry))
        except Refused as again:
            also = again.place if isinstance(again.place, Place) else None
            return Refused(f"{entry.key.text}: {again.message}", entry.value.place, also)
    return reason


def _with_one_value(document: Document, value: KeyValue) -> Document:
    """A site policy with its title, its sources and one of its values, and nothing else."""
    root = document.root
    kept = [entry for entry in root.entries if entry.key.text not in _NOT_VALUES]
    entries = tuple(
        entry._replace(value=Section((value,), entry.value.place))
        if entry.key.text == "values"
        else entry
        for entry in kept
    )
    return replace(document, root=root._replace(entries=entries))
