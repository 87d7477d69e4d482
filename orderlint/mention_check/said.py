"""What a free text mentions or states of the settings, and whether that is all that it says.

Never whether the settings say the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.mentions import Mention
from orderlint.mentions.order_state import NOT_TO_RUN
from orderlint.mentions.patient_words import names_settings
from orderlint.mentions.plain_texts import says_known_acts, says_what_is_seen
from orderlint.order import Leaf, LocatedMention

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.sentences.clauses import Clause
    from orderlint.sentences.patterns import Value
    from orderlint.sentences.text_reading import TextReading


def is_understood(leaf: Leaf) -> bool:
    """True if all that a text says is known, and so is found among its mentions."""
    if leaf.path == "indication":  # a diagnosis is no setting, and has no list
        return not names_settings(leaf.text)
    if says_known_acts(leaf.text):
        return True
    if leaf.path == "instructions":
        return not _reading(leaf.text).not_understood
    return says_what_is_seen(leaf.text)


def _reading(text: str) -> TextReading:
    from orderlint.sentences.text_reading import read_text  # noqa: PLC0415 - cold start

    return read_text(text)


def mentions_of(leaf: Leaf) -> Sequence[LocatedMention]:
    """What a text mentions. Where a clause is understood whole, what it states of a setting stands
    in place of its numbers.
    """
    if leaf.path != "instructions":  # a goal, an event and a criterion say what may be
        return [item for item in leaf.mentions if item.mention.act != NOT_TO_RUN]
    if says_known_acts(leaf.text):
        return leaf.mentions
    understood = _reading(leaf.text).understood
    stated = [(clause, value) for clause, values in understood for value in values]
    return (
        (*_not_stated(leaf.mentions, stated), *_stated(leaf, stated)) if stated else leaf.mentions
    )


def _not_stated(
    mentions: Iterable[LocatedMention], stated: Sequence[tuple[Clause, Value]]
) -> Iterator[LocatedMention]:
    for item in mentions:
        if item.mention.act or not any(_overlaps(item.mention, value) for _, value in stated):
            yield item


def _stated(leaf: Leaf, stated: Iterable[tuple[Clause, Value]]) -> Iterator[LocatedMention]:
    """What the clauses of a text state, but for what is an act there."""
    for clause, value in stated:
        within = [item for item in leaf.mentions if _overlaps(item.mention, value)]
        if leaf.place is None or any(item.mention.act for item in within):
            continue
        length, span, paths = value.end - value.start, (clause.start, clause.end), (value.path,)
        sets = any(item.mention.sets for item in within)
        found = Mention(value.start, length, span, paths, sets=sets, stated=value.text)
        yield LocatedMention(found, within[0].place if within else leaf.place)


def _overlaps(mention: Mention, value: Value) -> bool:
    return mention.offset < value.end and value.start < mention.offset + mention.length
