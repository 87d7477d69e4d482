"""One field of a document: its kind, range and choices, and how a written text compares with it.

Says what may be written in a leaf. Never reads a document.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

from orderlint.units import dimension_of_unit

if TYPE_CHECKING:
    from collections.abc import Mapping

    Kind: TypeAlias = Literal["quantity", "choice", "text", "label", "zone", "instant", "count"]


_NONE: Mapping[str, str] = {}


class Field(NamedTuple):
    """One leaf of an order. `name` is its display name, `example` one valid value as text.

    Kinds: a text is read by people, a label identifies something, a zone names a time zone.

    `dimension` and `decimals` (unit symbol → most decimals) are set for a quantity; otherwise None
    and empty. A concentration is of mass or of activity, as its unit says; the numbers of the two
    are never compared. `lowest` and `highest` bound the conceivable values of a quantity (ticks),
    an instant (milliseconds since 1970 UTC) and a count; otherwise 0. `choices` and `spellings`
    (spelling → choice, including each choice itself) are set for a choice. `otherwise` is the
    choice that any other text stands for; the keys of `spellings` are then passed through
    `casefold_spaces`. `abbreviations` are spellings, passed through it too, that should be written
    out; `qualifiers` are words, so too, that may stand beside a spelling and leave the choice as it
    is.
    `section_keys` are the keys of the section that may be written instead of the leaf.
    `meanings` has the words by which a choice can be written freely.
    `is_interval` is true of a duration that may be written as in `q4h` or `hourly`, `is_care` of
    what nobody keys in: how often something is looked at, how the patient lies, a target;
    `is_a_day` of an amount in a day, which may be written so: `2200 mL/day`.
    """

    path: str
    name: str
    description: str
    kind: Kind
    dimension: str | None
    lowest: int
    highest: int
    decimals: Mapping[str, int]
    choices: tuple[str, ...]
    spellings: Mapping[str, str]
    abbreviations: frozenset[str]
    otherwise: str | None
    example: str
    section_keys: tuple[str, ...] = ()
    meanings: Mapping[str, str] = _NONE
    is_interval: bool = False
    is_care: bool = False
    is_a_day: bool = False
    qualifiers: tuple[str, ...] = ()

    def choice_of(self, text: str) -> str | None:
        """Return the choice that `text` stands for, or None."""
        found = self.spellings.get(text.strip())
        if self.otherwise is None:
            found = found or self.in_other_case.get(casefold_spaces(text))
            return found or (
                _choice_in_words(text, self.meanings, self.spellings) if self.meanings else None
            )
        return self.spellings.get(self._spelling(text), self.otherwise)

    def _spelling(self, text: str) -> str:
        """The text as it may stand among the spellings: without qualifiers, if it has any."""
        whole = casefold_spaces(text)
        if whole in self.spellings:
            return whole
        plain = f" {casefold_spaces(_JOINING.sub(' ', _HYPHEN.sub('-', whole)))} "
        for qualifier in self.qualifiers:
            plain = plain.replace(f" {qualifier} ", "  ")
        return casefold_spaces(plain) if "  " in plain else whole

    @property
    def in_other_case(self) -> Mapping[str, str]:
        """Spelling without regard to case → choice, so that `Irrigation` is accepted."""
        return {casefold_spaces(spelling): choice for spelling, choice in self.spellings.items()}

    @property
    def is_administrative(self) -> bool:
        """True for administrative fields (id, dates, free text, weight): findings sort last."""
        record = self.kind not in ("quantity", "choice") and "." not in self.path
        return record or self.dimension == "mass"

    @property
    def units_by_dimension(self) -> Mapping[str, tuple[str, ...]]:
        """The units of a quantity by what they measure: more than one entry for a concentration."""
        found: dict[str, tuple[str, ...]] = {}
        for unit in self.decimals:
            dimension = dimension_of_unit(unit)
            found[dimension] = (*found.get(dimension, ()), unit)
        return found

    def comparison_key(
        self, value: int | str | None, text: str, unit: str | None = None
    ) -> int | str:
        """Key by which two leaves of this field are compared: the value, or the normalised text.

        The text is used for a text field, for an unreadable leaf and for the `otherwise` choice.
        The value of a quantity of several dimensions stands beside the dimension of its unit.
        """
        is_text = self.kind == "text" or (self.otherwise is not None and value == self.otherwise)
        if value is None or is_text:
            return normalise_text(text)
        several = unit is not None and len(self.units_by_dimension) > 1
        return f"{value} of {dimension_of_unit(str(unit))}" if several else value

    def nearest_choice(self, text: str) -> str | None:
        """Return the choice with the spelling closest to `text`, or None if none is close."""
        nearest = nearest_of(
            casefold_spaces(text), {casefold_spaces(key): key for key in self.spellings}
        )
        return self.spellings[nearest] if nearest else None

    def is_abbreviation(self, text: str) -> bool:
        """True if `text` is a spelling that should be written out in full."""
        return bool(self.abbreviations) and self._spelling(text) in self.abbreviations


_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*|[^\w\s]|_")
_BETWEEN = frozenset(",;.&+/-()")
"""Marks that part words and say nothing of a choice."""


def _choice_in_words(
    text: str, meanings: Mapping[str, str], spellings: Mapping[str, str]
) -> str | None:
    """Return the choice whose spelling has the words that `text` means, or None.

    In any order: `EVD, R frontal` is a ventricle. A text with any other word, such as one that
    denies, is not read.

    `meanings` is word in lower case → word of a spelling, empty for one that says nothing of the
    choice. A word of a spelling means itself. Each counts once.
    """
    known, by_words = _listed(tuple(meanings.items()), tuple(spellings.items()))
    words = _words_of(text)
    return by_words.get(_meant(words, known)) if words <= known.keys() else None


@functools.lru_cache(maxsize=8)  # few fields have meanings
def _listed(
    meanings: tuple[tuple[str, str], ...], spellings: tuple[tuple[str, str], ...]
) -> tuple[dict[str, str], dict[frozenset[str], str]]:
    """What each word means, and the choice by the words that its spelling means."""
    known = {word: word for spelling, _ in spellings for word in _words_of(spelling)}
    known |= dict(meanings)
    return known, {_meant(_words_of(spelling), known): choice for spelling, choice in spellings}


def _meant(words: frozenset[str], known: Mapping[str, str]) -> frozenset[str]:
    return frozenset(known.get(word, word) for word in words) - {""}


def _words_of(text: str) -> frozenset[str]:
    words = (word.replace("’", "'") for word in _WORD.findall(text.casefold()))
    return frozenset(words) - _BETWEEN


def casefold_spaces(text: str) -> str:
    """Convert to lower case with single spaces, the form in which spellings are compared."""
    return " ".join(text.split()).casefold()


# What stands between a name and its qualifiers, and what a hyphen may be written as.
_JOINING, _HYPHEN = re.compile(r"[,;:()\[\]]"), re.compile("[\u2010\u2011\u2013]")


_UNIT_LIKE = re.compile(r"((?:(?<=\d)|(?<=\d )|(?<=/))[^\W\d_]{1,3}(?![^\W\d_]))")


def normalise_text(text: str) -> str:
    """Convert to lower case with single spaces, except units: the form in which texts are compared.

    After a number or a slash, case matters: MU is a million units, mU a thousandth of one.
    """
    parts = _UNIT_LIKE.split(" ".join(text.split()))
    return "".join(part if at % 2 else part.casefold() for at, part in enumerate(parts))


def in_sentence(name: str) -> str:
    """Return a field name for use within a sentence: lower-case initial unless an acronym."""
    first = name.replace("-", " ").partition(" ")[0]
    return name if len(first) > 1 and first.isupper() else name[:1].lower() + name[1:]


def nearest_of(text: str, named: Mapping[str, str]) -> str | None:
    """Return the value under the key closest to `text`, or None if no key is close."""
    from difflib import get_close_matches  # noqa: PLC0415 - only where something is misspelt

    close = get_close_matches(text, named, n=1, cutoff=0.7)
    return named[close[0]] if close else None
