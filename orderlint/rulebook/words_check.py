"""Checks that a rule's words and figures can be filled in on every order that breaks it.

This is done when the rules are tested or a policy is checked, not when an order is.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.fields import BEFORE
from orderlint.language.figures import check_figure
from orderlint.language.surface import LanguageError, Surface
from orderlint.rulebook.parsed_text import pinpointing
from orderlint.rulebook.yaml_fields import optional, pairs

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.types import Scope
    from orderlint.reading.node import Section
    from orderlint.rulebook.rule import ConditionRule

PLACEHOLDER = re.compile(r"\{([A-Za-z_][\w.]*)(?: (name|unit|number|plain|shown))?\}")
"""A name in a rule's words, and which aspect of it is shown."""
BRACKETS = re.compile(r"\s?\[[^\[\]]*\]")
"""What is left out of a rule's words where something named in it cannot be had."""
_BRACED = r"\{[^{}]*\}?|\}"
_WORDS = ("says", "expected", "why", "ask")


def proofread(record: Section, rule: ConditionRule) -> None:
    """Raise Refused at a name or figure in a rule's words that could not be filled in."""
    texts = [text for key in _WORDS if (text := optional(record, key))]
    for instance in rule.instances:
        for key, text in pairs(record, "figures"):
            with pinpointing(text):
                check_figure(rule.figures[key.text], instance.scope)
        for text in texts:
            with pinpointing(text):
                for braced in re.finditer(_BRACED, text.text):
                    _check_placeholder(braced, instance.scope, rule.figures)


def _check_placeholder(braced: re.Match[str], scope: Scope, figures: Mapping[str, Surface]) -> None:
    at = braced.start()
    found = PLACEHOLDER.fullmatch(braced[0])
    if found is None:
        raise LanguageError(
            "in braces stands a name, then name, unit, number, shown or nothing", at
        )
    name, aspect = found.groups()
    if name in figures or scope.constant(name, at) is not None:
        if aspect:
            raise LanguageError(f"{name} is no setting, so it has no {aspect}", at)
    elif aspect != "name" or scope.full(name) not in scope.table.sections:
        path = scope.field(name, at)[0]
        if path.removeprefix(BEFORE) not in scope.table.fields:
            raise LanguageError(f"{path} is nothing that an order holds", at)
