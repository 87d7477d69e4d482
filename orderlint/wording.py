"""Fills the names in a rule's words with what is written, and computes their figures.

Our own filling, never str.format. Never a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.fields import in_sentence
from orderlint.language.figures import figure, figure_words
from orderlint.language.types import Choice, Listed, Quantity, Scope
from orderlint.reading.quantity_text import split_quantity
from orderlint.rulebook.proofread import PLACEHOLDER
from orderlint.units import quantity_words, written_number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.surface import Surface
    from orderlint.order import Leaf

LONGEST_QUOTE = 80
"""Characters of a free text that a finding quotes."""


@dataclass(frozen=True, slots=True)
class Words:
    """What one finding's words may name: the order's leaves, the rule's scope, figures, details."""

    leaves: Mapping[str, Leaf]
    scope: Scope
    figures: Mapping[str, Surface]
    details: Mapping[str, str]

    def fill(self, text: str) -> str:
        """The text with each {name} replaced. Raises LanguageError for a name it cannot have."""
        return PLACEHOLDER.sub(lambda match: self._named(match[1], match[2]), text)

    def _named(self, name: str, aspect: str | None) -> str:
        if name in self.details:
            return " ".join(self.details[name].split())
        if name in self.figures:
            found = figure(self.figures[name], self.scope, self.leaves)
            return figure_words(found, self._display_unit()) if found else "not to be had"
        constant = self.scope.constant(name, 0)
        if isinstance(constant, Listed):
            return ", ".join(item.text for item in constant.items)
        if isinstance(constant, Quantity):
            shown = self._shown(constant.dimension, constant.ticks, constant.text.split(" ")[1])
            return f"{constant.text} ({shown})" if shown else constant.text
        if isinstance(constant, Choice):
            return constant.text
        return self._field(name, aspect)

    def _field(self, name: str, aspect: str | None) -> str:
        path = self.scope.full(name)
        if aspect == "name":
            return in_sentence(self.scope.table.trade_name(path))
        leaf = self.leaves[self.scope.field(name, 0)[0]]
        if aspect == "unit":
            return leaf.unit or "no unit"
        if aspect == "number":
            return _number(leaf)
        dimension = self.scope.table.fields[path].dimension
        shown = self._shown(dimension, leaf.value, leaf.unit)
        if aspect == "shown":
            return shown or quoted(leaf.text)
        return f"{quoted(leaf.text)} ({shown})" if shown else quoted(leaf.text)

    def _display_unit(self) -> str | None:
        unit = self.leaves["display_unit"].value
        return unit if isinstance(unit, str) else None

    def _shown(self, dimension: str | None, ticks: object, unit: str | None) -> str:
        """A pressure in the unit displayed, where that is another than the one written."""
        shown = self._display_unit()
        if dimension != "pressure" or shown in {None, unit} or not isinstance(ticks, int):
            return ""
        return quantity_words(ticks, str(shown))


def _number(leaf: Leaf) -> str:
    """The number of a quantity without its unit, readable or not; any other text as it is."""
    split = split_quantity(leaf.text)
    return written_number(split.number) if split and split.number else quoted(leaf.text)


def quoted(text: str) -> str:
    """A text as written, on one line and not too long; `nothing` where there is none."""
    line = " ".join(text.split())
    if not line:
        return "nothing"
    return line if len(line) <= LONGEST_QUOTE else f"{line[: LONGEST_QUOTE - 1]}…"
