"""Weighs one mention of a text with the settings that it names. Never more than one mention."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, TypeAlias

from orderlint.fields import field_table
from orderlint.leaf_reader import leaf_of
from orderlint.mentions.number_words import LENGTH
from orderlint.mentions.order_state import MAY_BE_VOID, NOT_TO_RUN, VOID
from orderlint.mentions.tokens import NUMBER, Token, tokens_of
from orderlint.mentions.words import ADD, AGREES, CLAMP, CLOSE, OPEN, TITRATE, TRANSPORT, UNCLAMP
from orderlint.order import Leaf, State
from orderlint.units import TICKS, Unit, to_ticks

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from orderlint.mentions import Mention

    Readings: TypeAlias = Callable[[str], Sequence[Leaf]]
    """The leaves that can stand at a path: one in an order, each option of an order set."""

_OF_THE_VALVE = (OPEN, UNCLAMP, CLAMP, CLOSE)


class Weight(enum.IntEnum):
    """What becomes of a mention: the settings say the same, or its text is not checked, or it is
    asked about as well.
    """

    AGREED = 0
    NOT_CHECKED = 1
    ASKED = 2


def weigh(mention: Mention, readings: Readings) -> Weight:
    """What becomes of a mention beside the settings."""
    if mention.act == NOT_TO_RUN:
        return _weigh_against(mention.paths, ("irrigation",), readings)
    if mention.act in {VOID, MAY_BE_VOID}:
        return Weight.ASKED
    if mention.act:
        return _weigh_act(mention, readings)
    if mention.against:
        return _weigh_against(mention.paths, mention.against, readings)
    return (_weigh_stated if mention.stated else _weigh_number)(mention, readings)


def _weigh_against(paths: Sequence[str], choices: Sequence[str], readings: Readings) -> Weight:
    """Weigh what cannot be beside some choices of a setting."""
    leaves = [leaf for path in paths for leaf in readings(path)]
    if any(leaf.value in choices for leaf in leaves):
        return Weight.ASKED
    return Weight.AGREED if leaves and all(leaf.known for leaf in leaves) else Weight.NOT_CHECKED


def _weigh_stated(mention: Mention, readings: Readings) -> Weight:
    """Weigh the value that a clause states of one setting: each option of a set must be that."""
    (path,) = mention.paths
    leaves = readings(path)
    if not leaves or any(leaf.state is State.UNREADABLE for leaf in leaves):
        return Weight.NOT_CHECKED
    if not all(leaf.known for leaf in leaves):
        is_left_out = mention.sets and not any(leaf.known for leaf in leaves)
        return Weight.ASKED if is_left_out else Weight.NOT_CHECKED
    if field_table().fields[path].kind not in {"quantity", "choice"}:
        return Weight.NOT_CHECKED
    said, number = leaf_of(path, mention.stated), _number_of(path, mention.stated)
    if not said.known and number is None:
        return Weight.NOT_CHECKED
    fits = all(
        (said.known and said.value == leaf.value)
        or (number is not None and _is_written(number, leaf))
        for leaf in leaves
    )
    return Weight.AGREED if fits else Weight.ASKED


def _number_of(path: str, text: str) -> Token | None:
    """The one number of a value, of the dimension of its setting; None if it is no such value."""
    numbers = [token for token in tokens_of(text) if token.kind == NUMBER]
    dimension = field_table().fields[path].dimension
    measured = {"", dimension, *([LENGTH] if path == "drainage.height" else [])}
    if len(numbers) != 1 or not dimension or numbers[0].dimension not in measured:
        return None
    return numbers[0]._replace(dimension=dimension)


def _weigh_act(mention: Mention, readings: Readings) -> Weight:
    if mention.act in _OF_THE_VALVE and any(x.value == "monitoring" for x in readings("therapy")):
        # The drain is ordered to stay closed; to open it is asked about where it is negated.
        is_to_open = mention.act in (OPEN, UNCLAMP) and not mention.asks
        return Weight.ASKED if is_to_open else Weight.AGREED
    agreeing = AGREES.get((mention.context, mention.act))
    if agreeing is not None:
        path, choice = agreeing
        if any(leaf.state is State.UNREADABLE for leaf in readings(path)):
            return Weight.NOT_CHECKED
        agrees = all(leaf.value == choice for leaf in readings(path))
        in_time = mention.context != TRANSPORT or _in_time(mention.durations, readings)
        return Weight.AGREED if agrees and in_time else Weight.ASKED
    if mention.act == ADD and all(leaf.given for leaf in readings("irrigation.additive.name")):
        return Weight.NOT_CHECKED
    if mention.act == TITRATE and all(leaf.given for leaf in readings("titration.step")):
        return Weight.NOT_CHECKED  # the titration is ordered; its numbers are compared
    return Weight.ASKED if mention.asks else Weight.NOT_CHECKED


def _in_time(durations: Sequence[Token], readings: Readings) -> bool:
    """True if every time that is named beside a clamp is the time limit of clamping."""
    limits = readings("transport.clamp_max")
    return all(_is_written(token, leaf) for token in durations for leaf in limits)


def _weigh_number(mention: Mention, readings: Readings) -> Weight:
    readings_of = [readings(path) for path in mention.paths]
    leaves = [leaf for each in readings_of for leaf in each]
    if not leaves or any(leaf.state is State.UNREADABLE for leaf in leaves):
        return Weight.NOT_CHECKED
    known = [[leaf for leaf in each if leaf.known] for each in readings_of]
    if not any(known):
        return Weight.ASKED if mention.sets else Weight.NOT_CHECKED
    number = mention.number
    assert number is not None
    # Of a set each option of the setting must be that number: an order may have any of them.
    fits = any(each and all(_is_written(number, leaf) for leaf in each) for each in known)
    return Weight.NOT_CHECKED if fits else Weight.ASKED


def _is_written(token: Token, leaf: Leaf) -> bool:
    """True if a number is that of a setting, in the unit written or, without one, in the setting's.

    A pressure in another unit than the setting's may be rounded to its own last digit.
    """
    if token.number is None or not isinstance(leaf.value, int):
        return False
    for symbol, size in TICKS[token.dimension].items():
        if symbol != (token.unit or leaf.unit):
            continue
        ticks = to_ticks(token.number, Unit(symbol, token.dimension))
        is_rounded = token.dimension == "pressure" and symbol != leaf.unit
        step = size // 10**token.number.decimals if is_rounded else 0
        if ticks is not None and 2 * abs(ticks - leaf.value) <= step:
            return True
    return False
