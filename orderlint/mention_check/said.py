"""What a free text mentions or states of the settings, and whether that is all that it says.

Never whether the settings say the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.mentions.order_state import NOT_TO_RUN
from orderlint.mentions.patient_words import names_settings
from orderlint.mentions.plain_texts import says_known_acts, says_what_is_seen
from orderlint.mentions.reader import Mention
from orderlint.order import LocatedMention

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.order import Leaf
    from orderlint.sentences.stated_values import StatedValue, Statements


def is_understood(leaf: Leaf) -> bool:
    """True if all that a text says is known, and so is found among its mentions."""
    if leaf.path == "indication":  # a diagnosis is no setting, and has no list
        return not names_settings(leaf.text)
    if says_known_acts(leaf.text):
        return True
    if leaf.path == "instructions":
        return _statements(leaf.text).is_whole
    return says_what_is_seen(leaf.text)


def _statements(text: str) -> Statements:
    from orderlint.sentences.stated_values import statements_in  # noqa: PLC0415 - cold start

    return statements_in(text)


def mentions_of(leaf: Leaf) -> Sequence[LocatedMention]:
    """What a text mentions. Where a clause is understood whole, what it states of a setting stands
    in place of its numbers.
    """
    if leaf.path != "instructions":  # a goal, an event and a criterion say what may be
        return [item for item in leaf.mentions if item.mention.act != NOT_TO_RUN]
    if says_known_acts(leaf.text):
        return leaf.mentions
    values = _statements(leaf.text).values
    return (
        (*_not_stated(leaf.mentions, values), *_stated(leaf, values)) if values else leaf.mentions
    )


def _not_stated(
    mentions: Iterable[LocatedMention], values: Sequence[StatedValue]
) -> Iterator[LocatedMention]:
    for item in mentions:
        if item.mention.act or not any(_overlaps(item.mention, value) for value in values):
            yield item


def _stated(leaf: Leaf, values: Iterable[StatedValue]) -> Iterator[LocatedMention]:
    """What the clauses of a text state, but for what is an act there."""
    for value in values:
        within = [item for item in leaf.mentions if _overlaps(item.mention, value)]
        if leaf.place is None or any(item.mention.act for item in within):
            continue
        length, paths = value.end - value.start, (value.path,)
        sets = any(item.mention.sets for item in within)
        found = Mention(value.start, length, value.clause, paths, sets=sets, stated=value.text)
        yield LocatedMention(found, within[0].place if within else leaf.place)


def _overlaps(mention: Mention, value: StatedValue) -> bool:
    return mention.offset < value.end and value.start < mention.offset + mention.length
