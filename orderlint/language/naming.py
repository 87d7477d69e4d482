"""Whether a text names an entry of a list: in whole words, and not only to rule it out.

Words and their order. Never a list of drugs, and never what a sentence means.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from typing import TYPE_CHECKING

from orderlint.reading.quantity_text import DASHES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    Words = tuple[str, ...]
    _Entries = Mapping[str, Mapping[int, set[Words]]]

_DENIALS = frozenset(
    {"no", "not", "non", "nor", "never", "without", "avoid", "hold", "omit", "stop", "withhold"}
)
_STOPS = frozenset({"hold", "omit", "stop", "withhold"})
"""Of those, the verbs: what is not stopped is given, and what is held `for` a drug is something
else."""
"""Words that rule out what follows them, as in `no alteplase until secured`."""
_NOT = "not"
_FREE = "free"
"""With `of` or `from`, rules out what stands after it, and else what stands before it."""
_DENIED_BY = frozenset({"contraindicated", "withheld", "forbidden", "prohibited"})
"""Words that rule out what stands before them."""
_DENIED_ALONE = frozenset((word,) for word in _DENIALS)
_ASKED = frozenset({(":",), ("=",), ("?",)})
"""What may stand between a question and its answer."""
_BETWEEN = frozenset(
    {"a", "any", "more", "further", "added", "additional", "all", "the", "or", "/"}
    | {"of", "from", "to", "give", "receive", "use", "add", "start", "contain", "contains", "be"}
    | {"for", "iv"}
)
"""Words that may stand between a word of denial and what it denies."""

# A hyphen within a word joins two; one that stands alone ends what is denied, as a comma does.
_HYPHEN = re.compile(rf"(?<=\w)[-_{DASHES}](?=\w)")
# A number and the unit or drug run together with it are apart: tPA2mg.
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?|\d+(?:\.\d+)?|[^\w\s]")


def names_one(text: str, listed: tuple[str, ...]) -> bool:
    """True if the text names an entry of the list, and does not deny that one.

    Case, spaces, hyphens and compatible Unicode forms do not matter.
    """
    (words, different), entries = _read(text), _entries(listed)
    return not different.isdisjoint(entries) and _has_entry(words, entries)


def naming(lists: Iterable[tuple[str, ...]]) -> Callable[[str], frozenset[int]]:
    """A function of a text: the places, from 0, of the lists of which it names an entry.

    As `names_one` says of each list, but the text is read once, and kept with what it names.
    """
    of_each = [_entries(listed) for listed in lists]
    beginning: dict[str, list[int]] = {}
    for place, entries in enumerate(of_each):
        for word in entries:
            beginning.setdefault(word, []).append(place)

    def named_in(text: str) -> frozenset[int]:
        words = _words(text)
        near = {place for word in beginning.keys() & {*words} for place in beginning[word]}
        return frozenset(place for place in near if _has_entry(words, of_each[place]))

    kept = functools.lru_cache(maxsize=_MOST_KEPT)(named_in)
    return lambda text: kept(text) if len(text) <= _LONG else named_in(text)


def _has_entry(words: Words, entries: _Entries) -> bool:
    at, is_denied = 0, False
    while at < len(words):
        found = _entry_at(words, at, entries)
        end = at + len(found)
        if found and not is_denied and not _is_denied_after(words, end):
            return True
        if found and words[end : end + 1] == (_FREE,) and words[at - 1 : at] == (_NOT,):
            return True  # what is not free of it has it
        if words[at] in _STOPS:
            is_denied = not is_denied
        elif words[at] in {"for", "to"} and words[at - 1 : at] and words[at - 1] in _STOPS:
            is_denied = False
        else:
            is_denied = is_denied and bool(found or words[at] in _BETWEEN)
            is_denied |= words[at] in _DENIALS or _is_free_of(words, at)
        at += len(found) or 1
    return False


def _is_denied_after(words: Words, at: int) -> bool:
    """True if what ends before this word is ruled out by what follows; "free: no" does not."""
    if words[at : at + 1] == (_FREE,):
        answer = words[at + 2 : at + 3] if words[at + 1 : at + 2] in _ASKED else ()
        return not _is_free_of(words, at) and answer not in _DENIED_ALONE
    after = at + 1 if words[at : at + 1] in {("is",), ("are",)} else at
    return not _DENIED_BY.isdisjoint(words[after : after + 1])


def _is_free_of(words: Words, at: int) -> bool:
    return words[at : at + 2] in {(_FREE, "of"), (_FREE, "from")}


def _entry_at(words: Words, at: int, entries: _Entries) -> Words:
    """The longest entry that begins with this word; none if it begins with no entry."""
    for length, alike in entries.get(words[at], {}).items():
        if (found := words[at : at + length]) in alike:
            return found
    return ()


def _read(text: str) -> tuple[Words, frozenset[str]]:
    """The words of a text in turn, and the different ones; kept, as every rule asks for them."""
    return _kept(text) if len(text) <= _LONG else _kept_of_long(text)


def _words(text: str) -> Words:
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text)
    return tuple(_WORD.findall(_HYPHEN.sub(" ", text).casefold().replace("’", "'")))


def _split(text: str) -> tuple[Words, frozenset[str]]:
    words = _words(text)
    return words, frozenset(words)


_LONG = 2_000  # characters; of longer texts few are kept, for the sake of memory
_MOST_KEPT = 256
_kept = functools.lru_cache(maxsize=_MOST_KEPT)(_split)
_kept_of_long = functools.lru_cache(maxsize=2)(_split)


@functools.lru_cache(maxsize=256)
def _entries(listed: tuple[str, ...]) -> _Entries:
    """The entries by their first word and their length in words, longest first."""
    entries: dict[str, dict[int, set[Words]]] = {}
    for entry in sorted(map(_words, listed), key=len, reverse=True):
        entries.setdefault(entry[0], {}).setdefault(len(entry), set()).add(entry)
    return entries
