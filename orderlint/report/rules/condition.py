"""Puts a rule's condition into plain words, with the display names of settings and policy values.

Never an order, and never an outcome.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, assert_never

from orderlint.fields import BEFORE, CHECKED_AT, field_table
from orderlint.language.figures import row_names
from orderlint.language.surface import (
    Arithmetic,
    Call,
    Comparison,
    Group,
    Junction,
    Minus,
    Name,
    Negation,
    Number,
    Text,
)
from orderlint.language.tree import Member, Subject, atoms
from orderlint.quantity_words import format_number
from orderlint.report.words import name_of
from orderlint.rulebook.citation import cited
from orderlint.rulebook.instantiate import names_in
from orderlint.rulebook.policy.policy_values import DISPLAY_UNIT, UNITS, PolicyValue
from orderlint.rulebook.policy.replaced_values import format_constants

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.surface import ArithmeticSign, Sign, Surface
    from orderlint.language.types import Constant
    from orderlint.rulebook.rule import ConditionRule, Rulebook

_SIGNS: Mapping[Sign, str] = {
    "<": "is below",
    "<=": "is at or below",
    ">": "is above",
    ">=": "is at or above",
    "==": "is",
    "!=": "is not",
    "in": "is one of",
    "not in": "is none of",
}
_OF_TIMES: Mapping[Sign, str] = {
    **_SIGNS,
    "<": "is before",
    "<=": "is not after",
    ">": "is after",
    ">=": "is not before",
}
_OF_SIGN: Mapping[ArithmeticSign, str] = {
    "+": " plus ",
    "-": " minus ",
    "*": " times ",
    "/": " divided by ",
}
_PRODUCTS = {"*", "/"}


def condition_words(rule: ConditionRule, rulebook: Rulebook) -> tuple[str, str]:
    """Where a rule is asked ('' for always), and where it is kept."""
    speaker = _Speaker(rule, rulebook)
    return speaker.say(rule.when) if rule.when else "", speaker.say(rule.require)


def differs_by_display(rule: ConditionRule) -> bool:
    """Whether a rule has a condition for each unit of the display."""
    asked = {atom for item in rule.instances for atom in atoms(item.condition)}
    return all(Member(Subject(DISPLAY_UNIT), (unit,)) in asked for unit in UNITS)


@dataclass(frozen=True, slots=True)
class _Speaker:
    """The names that one rule's condition may use."""

    rule: ConditionRule
    rulebook: Rulebook

    def say(self, node: Surface) -> str:
        match node:
            case Name(path):
                return self.name(path)
            case Number(value):
                return format_number(value)
            case Text(value):
                return f"“{value}”"
            case Group(items):
                return ", ".join(map(self.say, items))
            case Call(function, arguments):
                return self.call(function, arguments)
            case Arithmetic(sign, left, right):
                return self.operand(left, sign) + _OF_SIGN[sign] + self.operand(right, sign, True)
            case Minus(item):
                return f"minus {self.operand(item, '-', True)}"
            case Comparison(first, rest):
                return self.comparison(node, first, rest)
            case Junction(word, items):
                return f", {word} ".join(map(self.part, items))
            case Negation(item):
                return self.negation(item)
            case _:
                assert_never(node)

    def part(self, node: Surface) -> str:
        """A part of a larger expression, in brackets if it could be misread."""
        inner = node
        while isinstance(inner, Name) and inner.path in self.rulebook.derived:
            inner = self.rulebook.derived[inner.path]
        is_joined = isinstance(inner, Junction)
        if isinstance(inner, Negation):
            is_joined = isinstance(inner.item, Junction) and inner.item.word == "or"
        return f"({self.say(node)})" if is_joined else self.say(node)

    def operand(self, node: Surface, sign: ArithmeticSign, is_last: bool = False) -> str:
        """A side of a sum or product, in brackets if it is one itself and could be misread."""
        inner = _sign_of(node)
        mixed = inner is not None and (inner in _PRODUCTS) != (sign in _PRODUCTS)
        taken = inner is not None and is_last and sign in {"-", "/"}
        return f"({self.say(node)})" if mixed or taken else self.part(node)

    def negation(self, item: Surface) -> str:
        match item:
            case Call("given", (Name(path),)):
                part = "nothing of " if self.is_section(path) else ""
                return f"{part}{self.name(path)} is {'' if part else 'not '}written"
            case Call("written", (name, flag)):
                return f"reading does not mark {self.part(name)} as {self.say(flag)}"
            case Call("names", (name, listed)):
                return f"{self.part(name)} names none of: {self.part(listed)}"
            case Junction("or", items):
                return f"neither {', nor '.join(map(self.part, items))}"
            case _:
                return f"it is not so that {self.part(item)}"

    def call(self, function: str, arguments: tuple[Surface, ...]) -> str:
        words = [self.part(item) for item in arguments]
        if function == "written":
            return f"reading marks {words[0]} as {words[1]}"
        if function == "names":
            return f"{words[0]} names one of: {words[1]}"
        if function == "given":
            part = "something of " if self.is_section(_path(arguments[0])) else ""
            return f"{part}{words[0]} is written"
        if function in {"mass_of", "activity_of"}:
            return f"{words[0]} as {'a mass' if function == 'mass_of' else 'units of activity'}"
        if function == "unit_of":
            return f"the unit of {words[0]}"
        if function == "multiple":
            return f"{words[0]} is a whole multiple of {words[1]}"
        return _OF_SIGN["*"].join(words)

    def comparison(
        self, node: Surface, first: Surface, rest: tuple[tuple[Sign, Surface], ...]
    ) -> str:
        signs = _OF_TIMES if any(map(_is_time, names_in(node, {}))) else _SIGNS
        said = [f"{signs[sign]} {self.part(item)}" for sign, item in rest]
        return f"{self.part(first)} {', which '.join(said)}"

    def name(self, path: str) -> str:
        if path.removeprefix(BEFORE) == "it":
            before = path.removesuffix("it")
            if len(self.rule.over) > 1:
                return "its former value" if before else "it"
            return self.name(f"{before}{self.rule.over[0]}")
        if path == CHECKED_AT:
            return "the time of checking"
        if path.startswith("site."):
            return self.site(path[5:])
        if path in self.rule.limits:
            return self.rule.limits[path].text
        if path in self.rulebook.derived:
            return self.say(self.rulebook.derived[path])
        return f"the {name_of(path)}"

    def is_section(self, path: str) -> bool:
        """Whether a name means a section, of which any part may be written."""
        plain = path.removeprefix(BEFORE)
        return plain in field_table().section_names and plain not in field_table().fields

    def site(self, path: str) -> str:
        """A value of the policy with where it comes from: `5 mmHg (window_min, local policy)`."""
        name, _, part = path.partition(".")
        value = self.rulebook.values[name]
        said = _table(value, part) if value.by else _one(value.parts, part)
        return f"{said} ({path}, {cited(value.sources)})"


def _one(parts: Mapping[str, Constant], part: str) -> str:
    """A value, or the part of it that is named."""
    chosen = parts.get(f".{part}") if part else None
    return format_constants({"": chosen} if chosen else parts)


def _table(value: PolicyValue, part: str) -> str:
    key, _, end = part.partition(".")
    if key in value.keyed:
        return _one(value.keyed[key], end)
    named = {" or ".join(row_names(each)): parts for each, parts in value.keyed.items()}
    return ", ".join(f"{_one(parts, part)} for {each}" for each, parts in named.items())


def _sign_of(node: Surface) -> ArithmeticSign | None:
    """The sign between the parts of a sum or product; None for what is neither."""
    match node:
        case Arithmetic(sign):
            return sign
        case Call("product"):
            return "*"
        case Minus():
            return "-"
        case _:
            return None


def _path(node: Surface) -> str:
    return node.path if isinstance(node, Name) else ""


def _is_time(name: Name) -> bool:
    field = field_table().fields.get(name.path.removeprefix(BEFORE))
    return name.path == CHECKED_AT or (field is not None and field.kind == "instant")
