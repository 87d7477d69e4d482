"""What a rule can answer of an order, and truths of which one may not be known (None)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from oracle.reading import Order

Truth = bool | None
Value = Fraction | None


class Answer(IntEnum):
    """From the lightest to the gravest; UNKNOWN is what a report says could not be checked."""

    NOT_ASKED = 0
    KEPT = 1
    UNKNOWN = 2
    BROKEN = 3


def answer(asked: Truth, kept: Truth) -> Answer:
    """“Asked where” and “Kept where” of a rule's page: broken only where both are known."""
    if asked is False:
        return Answer.NOT_ASKED
    if kept is True:
        return Answer.KEPT
    if asked is True and kept is False:
        return Answer.BROKEN
    return Answer.UNKNOWN


def both(*parts: Truth) -> Truth:
    if False in parts:
        return False
    return None if None in parts else True


def either(*parts: Truth) -> Truth:
    if True in parts:
        return True
    return None if None in parts else False


def opposite(part: Truth) -> Truth:
    return None if part is None else not part


def below(left: Value, right: Value) -> Truth:
    if left is None or right is None:
        return None
    return left < right


def at_most(left: Value, right: Value) -> Truth:
    return opposite(below(right, left))


def one_of(value: Value, *values: Fraction) -> Truth:
    return None if value is None else value in values


def multiple(value: Value, step: Fraction) -> Truth:
    return None if value is None else (value / step).denominator == 1


def plus(left: Value, right: Value) -> Value:
    return None if left is None or right is None else left + right


def minus(left: Value, right: Value) -> Value:
    return None if left is None or right is None else left - right


def times(left: Value, right: Value) -> Value:
    return None if left is None or right is None else left * right


def choice(order: Order, path: str, *names: str) -> Truth:
    """Whether a choice is one of these; not known where it is left out or cannot be read."""
    written = order[path].choice
    return written in names if written else None


def irrigates(order: Order) -> Truth:
    return choice(order, "therapy", "irrigation")


def drains(order: Order) -> Truth:
    return choice(order, "therapy", "drainage")


def treats(order: Order) -> Truth:
    return choice(order, "therapy", "irrigation", "drainage")


def adult(order: Order) -> Truth:
    return choice(order, "patient.group", "adult")


def by_display(order: Order, asked: Truth, on_mmhg: Truth, on_cmh2o: Truth) -> Answer:
    """A limit that differs by display: one question for each unit that the display may show."""
    return max(
        answer(both(asked, choice(order, "display_unit", "mmHg")), on_mmhg),
        answer(both(asked, choice(order, "display_unit", "cmH2O")), on_cmh2o),
    )


@dataclass(frozen=True)
class Rule:
    """A rule by its id, the settings it is about, and how it answers at each of its places.

    `places` is empty but where the rule is asked for each of several settings.
    """

    id: str
    ask: Callable[[Order, str], Answer]
    about: tuple[str, ...]
    places: tuple[str, ...] = ()


RULES: dict[str, Rule] = {}


def rule(*about: str) -> Callable[[Callable[[Order], Answer]], Callable[[Order], Answer]]:
    """The function below is the rule of its name, and is about these settings."""

    def keep(function: Callable[[Order], Answer]) -> Callable[[Order], Answer]:
        name = function.__name__.replace("_", "-")
        RULES[name] = Rule(name, lambda order, _: function(order), about)
        return function

    return keep


def rule_for_each(
    *places: str,
) -> Callable[[Callable[[Order, str], Answer]], Callable[[Order, str], Answer]]:
    """The function below is the rule of its name, asked for each of these settings."""

    def keep(function: Callable[[Order, str], Answer]) -> Callable[[Order, str], Answer]:
        name = function.__name__.replace("_", "-")
        RULES[name] = Rule(name, function, (), places)
        return function

    return keep
