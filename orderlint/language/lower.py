"""Lowers a surface tree to a tree of integer comparisons: resolves names and checks types."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.language.amounts import amount, comparison, is_amount
from orderlint.language.surface import (
    UNDER_LIMITS,
    Call,
    Comparison,
    Group,
    Junction,
    LanguageError,
    Name,
    Negation,
    Number,
    Text,
)
from orderlint.language.tree import (
    And,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    Or,
    Same,
    Subject,
    Written,
)
from orderlint.language.types import Choice, Listed, Scope
from orderlint.order import FLAGS

if TYPE_CHECKING:
    from orderlint.language.surface import Sign, Surface
    from orderlint.language.tree import Tree


def lower(node: Surface, scope: Scope) -> Tree:
    """The tree of a condition. Raises LanguageError, with a column, for a wrong name or type."""
    match node:
        case Junction(word, items):
            lowered = tuple(lower(item, scope) for item in items)
            return And(lowered) if word == "and" else Or(lowered)
        case Negation(item):
            return Not(lower(item, scope))
        case Comparison(first, rest):
            return _chain(first, rest, scope)
        case Call("given", (Name(path, at),)):
            return Given(scope.section(path, at))
        case Call("written", (Name(path, at), Text(flag, flag_at))):
            return _flag_test(path, at, flag, flag_at, scope)
        case Call("names", (Name(path, at), Name(listed, listed_at))):
            return _names(path, at, listed, listed_at, scope)
        case Call("multiple", (Name(path, at), step)):
            return _multiple(path, at, step, scope)
        case Name(path) if path in scope.derived:
            return lower(scope.derived[path], scope)
        case _:
            if isinstance(node, Name) and scope.constant(node.path, node.at) is None:
                scope.field(node.path, node.at)  # an unknown name is said to be one
            raise LanguageError("this is neither true nor false; a condition belongs here", node.at)


def _chain(first: Surface, rest: tuple[tuple[Sign, Surface], ...], scope: Scope) -> Tree:
    links = []
    left = first
    for sign, right in rest:
        links.append(_link(left, sign, right, scope))
        left = right
    return links[0] if len(links) == 1 else And(tuple(links))


def _link(left: Surface, sign: Sign, right: Surface, scope: Scope) -> Tree:
    if sign in {"!=", "not in"}:
        return Not(_link(left, "==" if sign == "!=" else "in", right, scope))
    if sign == "in":
        return _membership(left, right, scope)
    if is_amount(left, scope) and is_amount(right, scope):
        return _ordered(left, sign, right, scope)
    for quoted, other in ((left, right), (right, left)):
        if isinstance(quoted, Text) and is_amount(other, scope):
            raise LanguageError(f"what is quoted is a choice; {UNDER_LIMITS}", quoted.at)
    if sign != "==":
        raise LanguageError(f"{sign} compares quantities or instants, not choices", right.at)
    return _same(left, right, scope)


def _ordered(left: Surface, sign: Sign, right: Surface, scope: Scope) -> Tree:
    small, large = amount(left, scope), amount(right, scope)
    if sign in {">", ">="}:
        small, large = large, small
    return comparison(
        small, "<" if sign in {"<", ">"} else "==" if sign == "==" else "<=", large, left.at
    )


def _membership(left: Surface, right: Surface, scope: Scope) -> Tree:
    if is_amount(left, scope):
        items = tuple(_ordered(left, "==", item, scope) for item in _members(right, scope))
        return Or(items)
    subject, choices = _subject(left, scope)
    words = tuple(_word(item, choices, scope) for item in _members(right, scope))
    return Member(subject, words)


def _members(node: Surface, scope: Scope) -> tuple[Surface, ...]:
    match node:
        case Group(items):
            return items
        case Name(path, at):
            listed = scope.constant(path, at)
            if isinstance(listed, Listed):  # each item is a constant of its own in the scope
                return tuple(Name(f"{path}.{index}", at) for index in range(len(listed.items)))
    raise LanguageError("after `in` stands {a, b} or a list of the policy", node.at)


def _same(left: Surface, right: Surface, scope: Scope) -> Tree:
    if isinstance(left, Text):
        left, right = right, left
    subject, choices = _subject(left, scope)
    if _choice_text(right, scope) is not None:
        return Member(subject, (_word(right, choices, scope),))
    other, other_choices = _subject(right, scope)
    if not set(choices) & set(other_choices):
        raise LanguageError("these two choices can never be the same", right.at)
    return Same(subject, other)


def _subject(node: Surface, scope: Scope) -> tuple[Subject, tuple[str, ...]]:
    """The choice that a node compares, and the values that it can have."""
    match node:
        case Name(path, at) if scope.constant(path, at) is None:
            full, field = scope.field(path, at)
            if field.kind == "choice":
                return Subject(full), field.choices
        case Call("unit_of", (Name(path, at),)):
            full, field = scope.field(path, at)
            if field.kind == "quantity":
                return Subject(full, is_unit=True), tuple(field.decimals)
    raise LanguageError("a field with a list of choices, or unit_of(field), belongs here", node.at)


def _choice_text(node: Surface, scope: Scope) -> str | None:
    """The choice that a node quotes or that a constant names; None for any other node."""
    if isinstance(node, Text):
        return node.value
    constant = scope.constant(node.path, node.at) if isinstance(node, Name) else None
    return constant.text if isinstance(constant, Choice) else None


def _word(node: Surface, choices: tuple[str, ...], scope: Scope) -> str:
    word = _choice_text(node, scope)
    if word is None:
        raise LanguageError("a quoted choice belongs here", node.at)
    if word not in choices:
        raise LanguageError(f"'{word}' is not one of: {', '.join(choices)}", node.at)
    return word


def _flag_test(path: str, at: int, flag: str, flag_at: int, scope: Scope) -> Written:
    if flag not in FLAGS:
        raise LanguageError(f"'{flag}' is not one of: {', '.join(sorted(FLAGS))}", flag_at)
    return Written(scope.field(path, at)[0], flag)


def _names(path: str, at: int, listed: str, listed_at: int, scope: Scope) -> Names:
    full, field = scope.field(path, at)
    if field.kind not in {"text", "choice"}:
        raise LanguageError(f"{full} is a {field.kind}, in which nothing is named", at)
    found = scope.constant(listed, listed_at)
    if not isinstance(found, Listed) or not all(isinstance(item, Choice) for item in found.items):
        raise LanguageError("names takes a setting and a list of names of the policy", listed_at)
    return Names(full, tuple(item.text for item in found.items))


def _multiple(path: str, at: int, step: Surface, scope: Scope) -> Multiple:
    full, field = scope.field(path, at)
    if not isinstance(step, Number | Name):
        raise LanguageError("the step is a constant", step.at)
    size = amount(step, scope)
    if size.terms or size.dimension != field.dimension:
        holds = f"; {UNDER_LIMITS}" if size.dimension == "number" else ""
        said = f"multiple takes a quantity and a constant of the same kind{holds}"
        raise LanguageError(said, at)
    if size.constant <= 0:
        raise LanguageError("the step is more than nothing", step.at)
    # INVARIANT: a constant with a dimension is a whole number of ticks.
    return Multiple(full, int(size.constant))
