"""Fills the placeholders in a rule's wording, and computes its figures.

Our own substitution, never str.format. Never a verdict.
"""

from __future__ import annotations

import functools
import itertools
import re
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.field import in_sentence
from orderlint.quantity_words import display_quantity, format_written_number
from orderlint.reading.quantity_text import split_quantity
from orderlint.reading.unsafe_notation import UnsafeNotation, quote_around
from orderlint.units import dimension_of_unit

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator, Mapping

    from orderlint.language.figures import FigureValue
    from orderlint.language.surface import Surface
    from orderlint.language.types import Scope
    from orderlint.order import Leaf, LocatedNotation

LONGEST_QUOTE = 80
"""Most characters of a free text that a finding quotes."""
AROUND = 12
"""Most characters quoted on either side of unsafe notation."""
MOST_QUOTED = 3
"""Most places of one text that a sentence quotes."""


class Placeholder(NamedTuple):
    """A name in a rule's words, and which aspect of it is shown."""

    name: str
    aspect: str | None


class Bracketed(NamedTuple):
    """What is left out of a rule's words where something named in it cannot be had."""

    parts: tuple[str | Placeholder, ...]


Part: TypeAlias = str | Placeholder | Bracketed


@functools.lru_cache(maxsize=4_096)
def template_parts(text: str) -> tuple[Part, ...]:
    """Split a rule's words into texts, names and what stands in brackets."""
    from orderlint.rulebook.words_check import BRACKETS  # noqa: PLC0415 - cold start

    parts: list[Part] = []
    end = 0
    for match in BRACKETS.finditer(text):
        parts.extend((*_split(text[end : match.start()]), Bracketed(tuple(_split(match[0])))))
        end = match.end()
    return (*parts, *_split(text[end:]))


def _split(text: str) -> Iterator[str | Placeholder]:
    from orderlint.rulebook.words_check import PLACEHOLDER  # noqa: PLC0415 - cold start

    text = text.replace("[", "").replace("]", "")
    end = 0
    for match in PLACEHOLDER.finditer(text):
        yield from filter(None, (text[end : match.start()],))
        yield Placeholder(match[1], match[2])
        end = match.end()
    yield from filter(None, (text[end:],))


class TemplateValues:
    """What one finding's wording may name: the order's leaves, the rule's scope, figures, details.

    If a free text has any of `flags`, only the places with these flags are quoted. `computed` has
    the figures that were asked for so far.
    """

    def __init__(
        self,
        leaves: Mapping[str, Leaf],
        scope: Scope,
        figures: Mapping[str, Surface],
        details: Mapping[str, str],
        flags: frozenset[str] = frozenset(),
    ) -> None:
        self.leaves, self.scope, self.figures = leaves, scope, figures
        self.details, self.flags = details, flags
        self.computed: dict[str, FigureValue | None] = {}

    def fill(self, text: str) -> str:
        """Replace each {name} in the text. Raises LanguageError for an unknown name.

        What stands in brackets is left out where a figure in it cannot be had, or a setting is not
        written.
        """
        return self.filled(template_parts(text))

    def filled(self, parts: Iterable[Part]) -> str:
        """As `fill`, of a text that is split."""
        return "".join([part if isinstance(part, str) else self._said(part) for part in parts])

    def _said(self, part: Placeholder | Bracketed) -> str:
        if isinstance(part, Placeholder):
            return self._named(*part)
        names = (each.name for each in part.parts if isinstance(each, Placeholder))
        return self.filled(part.parts) if all(map(self._is_there, names)) else ""

    def _is_there(self, name: str) -> bool:
        if name in self.figures:
            return self._figure(name) is not None
        leaf = self.leaves.get(self.scope.full(name))
        return leaf is None or leaf.has_words

    def _named(self, name: str, aspect: str | None) -> str:
        if name in self.details:
            return re.sub(r"\s+", " ", self.details[name])
        if name in self.figures:
            from orderlint.language.figures import format_figure  # noqa: PLC0415 - cold start

            found = self._figure(name)
            others = self._same_dimension(found.dimension) if found else []
            return format_figure(found, self._display_unit(), others) if found else "not to be had"
        from orderlint.language.types import Choice, Listed, Quantity  # noqa: PLC0415 - cold start

        constant = self.scope.constant(name, 0)
        if isinstance(constant, Listed):
            return ", ".join(item.text for item in constant.items)
        if isinstance(constant, Quantity):
            unit = constant.text.rpartition(" ")[2]
            shown = self._shown(constant.dimension, constant.ticks, unit)
            return f"{constant.text} ({shown})" if shown else constant.text
        if isinstance(constant, Choice):
            return constant.text
        return self._field(name, aspect)

    def _figure(self, name: str) -> FigureValue | None:
        if name not in self.computed:
            from orderlint.language.figures import evaluate_figure  # noqa: PLC0415 - cold start

            found = evaluate_figure(self.figures[name], self.scope, self.leaves)
            self.computed[name] = found
        return self.computed[name]

    def _field(self, name: str, aspect: str | None) -> str:
        path = self.scope.full(name)
        if aspect == "name":
            return in_sentence(self.scope.table.display_name(path))
        leaf = self.leaves[self.scope.field(name, 0)[0]]
        if aspect == "unit":
            return leaf.unit or "no unit"
        marks = flagged_places(leaf, self.flags)
        if aspect in {"number", "plain"}:
            texts = [leaf.text[m.offset : m.offset + m.length] for m, _ in marks] or [leaf.text]
            numbers = ", ".join(dict.fromkeys(map(_number, texts)))
            return f"{numbers} {leaf.unit}" if aspect == "plain" and leaf.unit else numbers
        if marks:
            return _quoted_places(leaf.text, marks)
        dimension = self.scope.field(name, 0)[1].dimension
        shown = self._shown(dimension, leaf.value, leaf.unit)
        if aspect == "shown":
            return shown or quote(leaf.text)
        return f"{quote(leaf.text)} ({shown})" if shown else quote_leaf(leaf)

    def _display_unit(self) -> str | None:
        unit = self.leaves["display_unit"].value
        return unit if isinstance(unit, str) else None

    def _shown(self, dimension: str | None, ticks: object, unit: str | None) -> str:
        """Convert a pressure to the unit displayed, if it differs from the unit written."""
        shown = self._display_unit()
        if dimension != "pressure" or shown in {None, unit} or not isinstance(ticks, int):
            return ""
        return display_quantity(ticks, str(shown), self._same_dimension(dimension))

    def _same_dimension(self, dimension: str) -> list[int]:
        """Other values of this dimension; rounding must not make two of them look equal."""
        table = self.scope.table.fields
        known = (leaf for leaf in self.leaves.values() if leaf.path in table)
        values = [x.value for x in known if table[x.path].dimension == dimension]
        return [value for value in values if isinstance(value, int)]


def settled(text: str, scope: Scope, figures: Container[str]) -> tuple[Part, ...]:
    """A rule's words, split, with the names of settings filled in, which no order changes."""
    parts = [_settled(part, scope, figures) for part in template_parts(text)]
    joined = (
        ["".join(map(str, group))] if are_text else list(group)
        for are_text, group in itertools.groupby(parts, lambda part: isinstance(part, str))
    )
    return tuple(itertools.chain.from_iterable(joined))


def _settled(part: Part, scope: Scope, figures: Container[str]) -> Part:
    """The name of a setting in place of what asks for it; anything else as it is."""
    if not isinstance(part, Placeholder) or part.aspect != "name" or part.name in figures:
        return part
    if scope.constant(part.name, 0) is not None:
        return part
    return in_sentence(scope.table.display_name(scope.full(part.name)))


def _number(text: str) -> str:
    """Return the number of a quantity without its unit, readable or not; other text as it is."""
    split = split_quantity(text)
    return format_written_number(split.number) if split and split.number else quote(text)


def flagged_places(leaf: Leaf, flags: frozenset[str]) -> list[LocatedNotation]:
    """Return the places of a free text that have any of these flags."""
    marks = leaf.unsafe_notation
    return [found for found in marks if found.notation.flag in flags] if marks else []


def _quoted_places(text: str, marks: list[LocatedNotation]) -> str:
    shown = ", ".join(
        dict.fromkeys(quote_place(text, found.notation) for found in marks[:MOST_QUOTED])
    )
    more = len(marks) - MOST_QUOTED
    return f"{shown} and {more} more" if more > 0 else shown


def quote_place(text: str, mark: UnsafeNotation) -> str:
    """Quote a flagged place with a few characters around it, on one line."""
    return quote_around(text, mark.offset, mark.offset + mark.length, AROUND)


def quote(text: str) -> str:
    """Quote a text on one line, shortened if long; `nothing` if it is empty."""
    line = " ".join(text.split())
    if not line:
        return "nothing"
    return line if len(line) <= LONGEST_QUOTE else f"{line[: LONGEST_QUOTE - 1]}…"


def quote_leaf(leaf: Leaf) -> str:
    """Quote a setting, and say where a policy's standing orders have it."""
    return f"{quote(leaf.text)} (from the policy)" if leaf.from_policy else quote(leaf.text)


def quote_both_units(leaf: Leaf, other: Leaf) -> str:
    """Quote a setting and, if the other is in another unit, in that unit too."""
    if not leaf.given:
        return "none"
    text = quote_leaf(leaf)
    if leaf.unit is None or other.unit in {None, leaf.unit} or not isinstance(leaf.value, int):
        return text
    if dimension_of_unit(leaf.unit) != dimension_of_unit(str(other.unit)):
        return text  # a mass does not convert to units of activity
    near = (other.value,) if isinstance(other.value, int) else ()
    return f"{text} ({display_quantity(leaf.value, str(other.unit), near)})"
