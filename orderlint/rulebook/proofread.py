"""Whether a rule's words and figures can be filled on every order that breaks it.

Asked of each rule before it is shipped, not at the bedside. Never the words filled in.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.fields import BEFORE
from orderlint.language.figures import check_figure
from orderlint.language.surface import LanguageError
from orderlint.rulebook.parsed_text import pinpoint
from orderlint.rulebook.yaml_fields import optional, pairs

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.surface import Surface
    from orderlint.language.types import Scope
    from orderlint.reading.node import Scalar, Section
    from orderlint.rulebook.rule import Rule

PLACEHOLDER = re.compile(r"\{([A-Za-z_][\w.]*)(?: (name|unit|number|plain|shown))?\}")
"""A name in a rule's words, and what of it is shown."""
BRACKETS = re.compile(r"\s?\[[^\[\]]*\]")
"""What is left out of a rule's words where something named in it cannot be had."""
_BRACED = r"\{[^{}]*\}?|\}"
_WORDS = ("says", "expected", "why", "ask")


def proofread(record: Section, rule: Rule) -> None:
    """Refuse, at its place, what could not be filled in the words of a rule with a condition."""
    figures = rule.figures or {}
    texts = [text for key in _WORDS if (text := optional(record, key))]
    for instance in rule.conditions:
        for key, text in pairs(record, "figures"):
            _figure(figures[key.text], text, instance.scope)
        for text in texts:
            _words(text, instance.scope, figures)


def _figure(figure: Surface, text: Scalar, scope: Scope) -> None:
    try:
        check_figure(figure, scope)
    except LanguageError as error:
        raise pinpoint(text, error) from None


def _words(text: Scalar, scope: Scope, figures: Mapping[str, Surface]) -> None:
    for braced in re.finditer(_BRACED, text.text):
        try:
            _placeholder(braced, scope, figures)
        except LanguageError as error:
            raise pinpoint(text, error) from None


def _placeholder(braced: re.Match[str], scope: Scope, figures: Mapping[str, Surface]) -> None:
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
