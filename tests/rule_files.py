"""Rulebooks made from texts, and refusals held against the place of a mark in one of the texts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from orderlint.finding import Place, Refused
from orderlint.reading import read
from orderlint.rulebook.build import build_rulebook
from orderlint.rulebook.source_documents import Files

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.reading.node import Node
    from orderlint.rulebook.rule import Rule, Rulebook

MARK = "§"
"""Stands in a text before the character at which it must be refused."""

_HEAD = "document: rules\nformat: 1\ntitle: Made for a test.\n"
SOURCES = f"{_HEAD}sources:\n  handbook: An invented handbook, 3rd ed.\n"
DERIVED = f"{_HEAD}derived:\n  irrigates: therapy == 'irrigation'\n"
_RECORD = {
    "rule": "demo",
    "level": "clarify",
    "require": "pause.lower < pause.upper",
    "says": "The lower pause limit is {pause.lower}.",
    "why": "There is no band.",
    "ask": "What is meant?",
    "ask_whom": "prescriber",
    "source": "{kind: logic}",
}
_VALUES = {
    "narrowest": "{value: 5 mmHg, source: {kind: local-policy}}",
    "outflow": "{value: gravity, source: {kind: local-policy}}",
    "scale": "{value: left out, source: {kind: local-policy}}",
    "band": "{lowest: 2 mmHg, highest: 30 mmHg, source: {kind: local-policy}}",
    "step": "{by: display_unit, mmHg: 1 mmHg, cmH2O: 2 cmH2O, source: {kind: local-policy}}",
    "threshold": "{by: patient.group, adult: 22 mmHg, child: left out, source: {kind: logic}}",
    "units": "{list: [mmHg, cmH2O], source: {kind: local-policy}}",
    "steps": "{list: [1 mmHg, 2 cmH2O], source: {kind: local-policy}}",
}


def record(**changes: str | None) -> str:
    """A good record of a rule with some keys changed, added, or with None left out; YAML values."""
    keys = {**_RECORD, **changes}
    lines = [f"    {key}: {value}" for key, value in keys.items() if value is not None]
    return "  -" + "\n".join(lines)[3:] + "\n"


def policy(**changes: str | None) -> str:
    """A policy with some values changed, added, or with None left out."""
    values = {**_VALUES, **changes}
    lines = [f"  {name}: {value}\n" for name, value in values.items() if value is not None]
    return f"document: site-policy\nformat: 1\ntitle: demo policy\nvalues:\n{''.join(lines)}"


def family(*records: str) -> str:
    """A file of rules."""
    return f"{_HEAD}rules:\n{''.join(records)}"


def files(rules: str, values: str, derived: str, sources: str) -> Files:
    """The documents in four texts."""
    named = {"sources": sources, "policy": values, "derived": derived, "demo": rules}
    found = {name: read(text.encode(), f"{name}.yaml") for name, text in named.items()}
    return Files(found["sources"], found["policy"], found["derived"], {"demo": found["demo"]})


def rulebook(
    *records: str,
    values: str = "",
    derived: str = DERIVED,
    site: Mapping[str, Node] | None = None,
) -> Rulebook:
    """The rulebook of some records, on the policy above where no other is given."""
    return build_rulebook(files(family(*records), values or policy(), derived, SOURCES), site or {})


def only(*records: str, **texts: str) -> Rule:
    """The one rule of a rulebook."""
    (rule,) = rulebook(*records, **texts).rules.values()
    return rule


def refused(
    *records: str,
    rules: str = "",
    values: str = "",
    derived: str = DERIVED,
    sources: str = SOURCES,
) -> str:
    """The message with which the files are refused, at the very place of the mark in them."""
    texts = {
        "demo": rules or family(*(records or (record(),))),
        "policy": values or policy(),
        "derived": derived,
        "sources": sources,
    }
    (name,) = (name for name, text in texts.items() if MARK in text)
    clean = {key: text.replace(MARK, "", 1) for key, text in texts.items()}
    with pytest.raises(Refused) as caught:
        build_rulebook(
            files(clean["demo"], clean["policy"], clean["derived"], clean["sources"]), {}
        )
    assert caught.value.place == place_of_mark(texts[name], f"{name}.yaml")
    return caught.value.message


def place_of_mark(text: str, file: str) -> Place:
    before = text[: text.index(MARK)]
    return Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))
