"""Compares what free texts mention of the settings with the settings themselves.

The only place that does. A text of which a mention does not surely agree is not checked: somebody
must read it, and where the two differ it is asked about as well.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, NotChecked
from orderlint.mentions.words import AGREES, CLAMP, CLOSE, OPEN, TITRATE, TRANSPORT, UNCLAMP
from orderlint.order import INSTRUCTING_TEXTS, State
from orderlint.reading.unsafe_notation import quote_around
from orderlint.units import TICKS, Unit, to_ticks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from typing import TypeAlias

    from orderlint.mentions.reader import Mention
    from orderlint.mentions.tokens import Token
    from orderlint.order import Leaf, LocatedMention, Order

    Readings: TypeAlias = Callable[[str], Sequence[Leaf]]
    """The leaves that can stand at a path: one in an order, each option of an order set."""

AROUND = 32
MOST_QUOTED = 3
_OF_THE_VALVE = (OPEN, UNCLAMP, CLAMP, CLOSE)
NUMBER_RULE, ACT_RULE = "text-number-differs", "text-asks-for-act"
ORDER_RULE = "text-orders-otherwise"


class Weight(enum.IntEnum):
    """What becomes of a mention: the settings say the same, or its text is not checked, or it is
    asked about as well.
    """

    AGREED = 0
    NOT_CHECKED = 1
    ASKED = 2


def texts_not_checked(order: Order) -> tuple[NotChecked, ...]:
    """The free texts of an order that somebody must read, in the order of its fields.

    What is not understood of a resource of FHIR follows: nobody sees it elsewhere.
    """
    leaves = order.leaves
    return (
        *(
            item
            for leaf in _instructing(leaves)
            for item in text_not_checked(leaf, lambda path: (leaves[path],))
        ),
        *(
            NotChecked("", item.name, f"{item.written} ({item.why})", item.place)
            for item in order.not_understood
        ),
    )


def _instructing(leaves: Mapping[str, Leaf]) -> list[Leaf]:
    """The free texts that mention anything of the settings."""
    found = map(leaves.get, INSTRUCTING_TEXTS)
    return [leaf for leaf in found if leaf is not None and leaf.mentions]


def text_not_checked(leaf: Leaf, readings: Readings) -> Iterator[NotChecked]:
    """The text of one leaf, if somebody must read it."""
    if leaf.place and any(_weigh(item.mention, readings) > Weight.AGREED for item in leaf.mentions):
        yield NotChecked(leaf.path, field_table().display_name(leaf.path), leaf.text, leaf.place)


def text_faults(order: Order) -> Iterator[Fault]:
    """Yield what is to be asked about the free texts of an order."""
    leaves = order.leaves
    for leaf in _instructing(leaves):
        yield from faults_of_leaf(leaf, lambda path: (leaves[path],))
    for note in order.notes:
        yield from faults_of_leaf(note.leaf, lambda path: (leaves[path],), note.name)


def faults_of_leaf(leaf: Leaf, readings: Readings, name: str = "") -> Iterator[Fault]:
    """Yield a fault for all numbers of one text that are asked about, and one for all acts.

    What its clause orders as a whole, otherwise than the settings, has a fault of its own. `name`
    is what the text is called, that of its field if it is empty.
    """
    name = name or in_sentence(field_table().display_name(leaf.path))
    found: dict[str, list[tuple[LocatedMention, Sequence[str]]]] = {}
    for item in leaf.mentions:
        rule, asked = asked_about(item.mention, ordered_with(item.mention, leaf), readings)
        if rule:
            found.setdefault(rule, []).append((item, asked))
    for rule in (ORDER_RULE, NUMBER_RULE, ACT_RULE):
        if rule in found:
            items = [item for item, _ in found[rule]]
            paths = dict.fromkeys(path for _, paths in found[rule] for path in paths)
            details = {
                "name": name,
                "quote": _quotes(leaf.text, items),
                "settings": _settings(paths, readings),
            }
            yield Fault(rule, leaf.path, leaf.text, items[0].place, details)


def asked_about(
    mention: Mention, ordered: Iterable[str], readings: Readings
) -> tuple[str, Sequence[str]]:
    """The rule by which a number or act is asked about, and the settings beside which it stands;
    '' if it is not. `ordered` are the settings that its clause orders, as of `ordered_with`.
    """
    if _weigh(mention, readings) is not Weight.ASKED:
        return "", ()
    # Only a setting that is known can be ordered otherwise.
    otherwise = [path for path in ordered if all(each.known for each in readings(path))]
    if otherwise:
        return ORDER_RULE, otherwise
    return ACT_RULE if mention.act else NUMBER_RULE, mention.paths


def ordered_with(mention: Mention, leaf: Leaf) -> Iterator[str]:
    """Those of RUNNING that are ordered by the clause of a number or act, understood whole."""
    if leaf.path != "instructions":
        return  # a goal, an event and a criterion say what may be, and order nothing
    from orderlint.sentences.text_reading import values_at  # noqa: PLC0415 - few orders need it

    yield from (value.path for value in values_at(leaf.text, mention.offset, RUNNING))


RUNNING = frozenset(
    {"pause.lower", "pause.upper", "treat_above", "irrigation.rate", "drainage.height"}
    | {"transport.drain"}
)
"""The settings by which fluid runs in or is held back."""


def _quotes(text: str, found: Sequence[LocatedMention]) -> str:
    shown = list(dict.fromkeys(_quote(text, item.mention) for item in found))
    more = len(shown) - MOST_QUOTED
    return ", ".join(shown[:MOST_QUOTED]) + (f" and {more} more" if more > 0 else "")


def _quote(text: str, mention: Mention) -> str:
    """Quote what is named, with as much of its sentence on either side as is soon read."""
    # One character more than is shown on either side tells whether there is more.
    begin = max(mention.sentence[0], mention.offset - AROUND - 1)
    end = min(mention.sentence[1], mention.offset + mention.length + AROUND + 1)
    start = mention.offset - begin
    return quote_around(text[begin:end], start, start + mention.length, AROUND)


def _settings(paths: Iterable[str], readings: Readings) -> str:
    """The settings that a number can mean, each as it is written."""
    said = []
    for path in paths:
        texts = [leaf.text for leaf in readings(path) if leaf.given]
        name = in_sentence(field_table().display_name(path))
        said.append(f"{name} {' or '.join(texts[:MOST_QUOTED])}" if texts else f"no {name}")
    return ", ".join(said)


def _weigh(mention: Mention, readings: Readings) -> Weight:
    return _weigh_act(mention, readings) if mention.act else _weigh_number(mention, readings)


def _weigh_act(mention: Mention, readings: Readings) -> Weight:
    if mention.act in _OF_THE_VALVE and any(x.value == "monitoring" for x in readings("therapy")):
        return _weigh_while_monitoring(mention)
    agreeing = AGREES.get((mention.context, mention.act))
    if agreeing is not None:
        path, choice = agreeing
        if any(leaf.state is State.UNREADABLE for leaf in readings(path)):
            return Weight.NOT_CHECKED
        agrees = all(leaf.value == choice for leaf in readings(path))
        in_time = mention.context != TRANSPORT or _in_time(mention.durations, readings)
        return Weight.AGREED if agrees and in_time else Weight.ASKED
    if mention.act == TITRATE and all(leaf.given for leaf in readings("titration.step")):
        return Weight.NOT_CHECKED  # the titration is ordered; its numbers are compared
    return Weight.ASKED if mention.asks else Weight.NOT_CHECKED


def _weigh_while_monitoring(mention: Mention) -> Weight:
    """Weigh what a text has opened or closed where the drain is ordered to stay closed."""
    is_to_open = mention.act in (OPEN, UNCLAMP) and not mention.asks  # it asks where it is negated
    return Weight.ASKED if is_to_open else Weight.AGREED


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
    """True if a number is that of a setting, in the unit written or, without one, in either.

    A pressure in another unit than the setting's may be rounded to its own last digit.
    """
    if token.number is None or not isinstance(leaf.value, int):
        return False
    for symbol, size in TICKS[token.dimension].items():
        if symbol != (token.unit or symbol):
            continue
        ticks = to_ticks(token.number, Unit(symbol, token.dimension))
        is_rounded = token.dimension == "pressure" and symbol != leaf.unit
        step = size // 10**token.number.decimals if is_rounded else 0
        if ticks is not None and 2 * abs(ticks - leaf.value) <= step:
            return True
    return False
