"""Compares what free texts mention of the settings with the settings themselves.

The only place that does. A text that is not understood whole, or of which something does not surely
agree, is not checked: somebody must read it, and where the two differ it is asked about as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, NotChecked
from orderlint.mention_check.said import is_understood, mentions_of
from orderlint.mention_check.weighing import Weight, weigh
from orderlint.mentions.order_state import MAY_BE_VOID, NOT_TO_RUN, VOID
from orderlint.order import READ_TEXTS, Leaf, LocatedMention, Order
from orderlint.reading.unsafe_notation import quote_around

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.mention_check.weighing import Readings
    from orderlint.mentions import Mention

AROUND = 32
MOST_QUOTED = 3
NUMBER_RULE, ACT_RULE = "text-number-differs", "text-asks-for-act"
ORDER_RULE = "text-orders-otherwise"
VOID_RULE, MAY_BE_VOID_RULE = "text-voids-order", "text-may-void-order"
_BY_ACT = {VOID: VOID_RULE, MAY_BE_VOID: MAY_BE_VOID_RULE, NOT_TO_RUN: ORDER_RULE}
_BY_WEIGHT = (VOID_RULE, ORDER_RULE, MAY_BE_VOID_RULE, NUMBER_RULE, ACT_RULE)


def texts_not_checked(order: Order) -> tuple[NotChecked, ...]:
    """The free texts of an order that somebody must read, in the order of its fields.

    What is not understood of a resource of FHIR follows: nobody sees it elsewhere.
    """
    leaves = order.leaves
    return (
        *(
            item
            for leaf in _texts(leaves)
            for item in text_not_checked(leaf, lambda path: (leaves[path],))
        ),
        *(
            NotChecked("", item.name, f"{item.written} ({item.why})", item.place)
            for item in order.not_understood
        ),
    )


def _texts(leaves: Mapping[str, Leaf]) -> list[Leaf]:
    """The free texts that may mention anything of the settings."""
    found = map(leaves.get, READ_TEXTS)
    return [leaf for leaf in found if leaf is not None and leaf.has_words]


def text_not_checked(leaf: Leaf, readings: Readings) -> Iterator[NotChecked]:
    """The text of one leaf, if somebody must read it."""
    if not leaf.place or not leaf.has_words:
        return
    agrees = all(weigh(item.mention, readings) is Weight.AGREED for item in mentions_of(leaf))
    if not (agrees and is_understood(leaf)):
        yield NotChecked(leaf.path, field_table().display_name(leaf.path), leaf.text, leaf.place)


def text_faults(order: Order) -> Iterator[Fault]:
    """Yield what is to be asked about the free texts of an order."""
    leaves = order.leaves
    for leaf in _texts(leaves):
        if leaf.mentions or leaf.path == "instructions":  # of other texts nothing else is read
            yield from faults_of_leaf(leaf, lambda path: (leaves[path],))
    for note in order.notes:
        yield from faults_of_leaf(note.leaf, lambda path: (leaves[path],), note.name)


def faults_of_leaf(leaf: Leaf, readings: Readings, name: str = "") -> Iterator[Fault]:
    """Yield a fault for all numbers of one text that are asked about, and one for all acts.

    What its clause orders as a whole, otherwise than the settings, has a fault of its own. `name`
    is what the text is called, that of its field if it is empty.
    """
    found: dict[str, list[tuple[LocatedMention, Sequence[str]]]] = {}
    for item in mentions_of(leaf):
        rule, asked = asked_about(item.mention, ordered_with(item.mention, leaf), readings)
        if rule:
            found.setdefault(rule, []).append((item, asked))
    for rule in _BY_WEIGHT if found else ():
        if rule in found:
            items = [item for item, _ in found[rule]]
            paths = dict.fromkeys(path for _, paths in found[rule] for path in paths)
            details = {
                "name": name or in_sentence(field_table().display_name(leaf.path)),
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
    if weigh(mention, readings) is not Weight.ASKED:
        return "", ()
    if mention.act in _BY_ACT:
        return _BY_ACT[mention.act], mention.paths
    # Only a setting that is known can be ordered otherwise.
    otherwise = [path for path in ordered if all(each.known for each in readings(path))]
    if otherwise:
        return ORDER_RULE, otherwise
    return ACT_RULE if mention.act else NUMBER_RULE, mention.paths


def ordered_with(mention: Mention, leaf: Leaf) -> Iterator[str]:
    """The FLOW_SETTINGS that the clause of a number or act orders, understood whole."""
    if leaf.path != "instructions":
        return  # a goal, an event and a criterion say what may be, and order nothing
    if mention.stated:
        yield from FLOW_SETTINGS.intersection(mention.paths)
        return
    from orderlint.sentences.text_reading import values_at  # noqa: PLC0415 - few orders need it

    yield from (value.path for value in values_at(leaf.text, mention.offset, FLOW_SETTINGS))


FLOW_SETTINGS = frozenset(
    {"pause.lower", "pause.upper", "treat_above", "irrigation.rate", "drainage.height"}
    | {"transport.drain"}
)
"""The settings by which fluid runs in or is held back."""


def _quotes(text: str, found: Sequence[LocatedMention]) -> str:
    shown: dict[str, tuple[int, int]] = {}
    for item in found:
        quote, sentence = _quote(text, item.mention), item.mention.sentence
        last = next(reversed(shown), "")
        if shown.get(last) == sentence and last.strip("“”…") in quote:
            del shown[last]  # of one sentence, the longer quote says both
        shown.setdefault(quote, sentence)
    more = len(shown) - MOST_QUOTED
    return ", ".join([*shown][:MOST_QUOTED]) + (f" and {more} more" if more > 0 else "")


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
