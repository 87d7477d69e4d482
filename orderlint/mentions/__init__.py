"""Mentions of settings and acts in a free text: where, with which number, under what condition.

Listed words and exact numbers, word by word. Never what a whole clause or sentence means, and never
a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from orderlint.mentions.tokens import Token


class Mention(NamedTuple):
    """A number or an act that a text mentions, with the offset and length of its words.

    `sentence` has the offsets of the first character of its sentence and of that after the last.
    Of a number: `paths` are the settings that it can mean, `number` its token, with a dimension,
    and `sets` as in Subject. Of an act: `act` is its name, `context` when it is done, `asks`
    whether it is asked about, and `durations` are the times named in its sentence.
    Of what a clause says of `paths` as a whole: `stated` is the value, as it is written. Of words
    that cannot be beside some choices of `paths`: `against` are these.
    """

    offset: int
    length: int
    sentence: tuple[int, int] = (0, 0)
    paths: tuple[str, ...] = ()
    number: Token | None = None
    sets: bool = False
    act: str = ""
    context: str = ""
    asks: bool = True
    durations: tuple[Token, ...] = ()
    stated: str = ""
    against: tuple[str, ...] = ()
