"""Splits one written quantity, such as `60 mL/h`, into number, unit and notation flags.

Only how it is written. Never what a unit means, and never a float.
"""

from __future__ import annotations

import re
from itertools import chain
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

_SPACES = " \u00a0\u2009\u202f"  # ordinary, no-break, thin, narrow no-break
DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d"  # look like a minus
_MINUSES = "-" + DASHES
_ABOUT = "~<>≤≥≦≧≈≅≲≳=±"
_SLASHES = ("/", "\u2044", "\u2215", "÷")
_JOINTS = ("to", "through", "or", "…", *_MINUSES)
_LONGEST_UNIT = 40
MOST_DIGITS = 40  # digits in one number

TRAILING_ZERO = "trailing zero"
FLAGS = frozenset(
    {
        TRAILING_ZERO,
        "naked decimal",
        "unit run together",
        "unit period",
        "minus sign ambiguous",
    }
)
"""Every flag that a written quantity can have."""
_NO_FLAGS: frozenset[str] = frozenset()

# As nearly all are written: nothing before it, and nothing in it, that could be unsafe or flagged.
# No digit stands in a unit but that of cmH2O; and so no range, fraction or second number.
_PLAIN = re.compile(
    r"(-?)(0|[1-9][0-9]{0,11})(?:\.([0-9]{0,11}[1-9]))?"
    r"(?: (cmH2O|[A-Za-z]{1,12}(?:/[A-Za-z]{1,12})?))?"
)
# Kept as text: needed, and so compiled, only for other numbers.
_NUMERAL = r"([0-9]+(?:,[0-9]+)*)?(?:\.([0-9]*))?"
_THOUSANDS = r"[1-9][0-9]{0,2}(?:,[0-9]{3})+"
_BASE = r"(?:[xX][0-9a-fA-F]|[oO][0-7]|[bB][01])"


class NumberText(NamedTuple):
    """The number ±int(digits) / 10**decimals, with the digits as written (at most 40)."""

    negative: bool
    digits: str
    decimals: int


class QuantityText(NamedTuple):
    """A number as written and the text that follows it.

    `unit` has at most 40 characters and is empty for a bare number. `flags` are some of FLAGS.
    `unsafe` says, in words that follow "because", why the number can be misread; then `number` is
    None, `unit` and `flags` are empty.
    """

    number: NumberText | None
    unit: str
    flags: frozenset[str]
    unsafe: str | None


def split_quantity(text: str) -> QuantityText | None:
    """Split `text`; None unless it is a number, with or without a unit."""
    plain = _PLAIN.fullmatch(text)
    if plain is None:
        return _split_unusual(text)
    sign, whole, decimals, unit = plain.groups("")
    number = NumberText(sign != "", whole + decimals, len(decimals))
    return QuantityText(number, unit, _NO_FLAGS, None)


def _split_unusual(text: str) -> QuantityText | None:
    """Split `text`, whatever it is."""
    text = text.strip()
    body = text.lstrip(f"{_ABOUT}{_MINUSES}{_SPACES}+.,")
    if not body or not _is_digit(body[0]):
        return None
    before = text[: len(text) - len(body)]
    if before.endswith("."):  # a point before the first digit belongs to the numeral
        before, body = before[:-1], f".{body}"
    numeral = re.match(_NUMERAL, body)
    assert numeral is not None  # every part of it may be empty
    rest = body[numeral.end() :]
    reasons = chain(_unsafe_sign(before), _unsafe_numeral(numeral[0], rest), _unsafe_rest(rest))
    unsafe = next(reasons, None)
    if unsafe is not None:
        return QuantityText(None, "", _NO_FLAGS, unsafe)
    return _flagged(before, numeral, rest)


def _flagged(before: str, numeral: re.Match[str], rest: str) -> QuantityText | None:
    unit = rest.lstrip(_SPACES)
    if len(unit) > _LONGEST_UNIT:
        return None
    whole, decimals = numeral[1] or "", numeral[2] or ""
    flags = {
        "minus sign ambiguous": before != "" and before in DASHES,
        "naked decimal": not whole,
        TRAILING_ZERO: decimals.endswith("0"),
        "unit run together": unit[:1].isalpha() and unit == rest,
        "unit period": unit.endswith("."),
    }
    digits = whole.replace(",", "") + decimals
    return QuantityText(
        number=NumberText(before != "", digits, len(decimals)),
        unit=unit.rstrip("."),
        flags=frozenset(flag for flag, raised in flags.items() if raised),
        unsafe=None,
    )


def _unsafe_sign(before: str) -> Iterator[str]:
    """Yield why the text before the numeral is unsafe; nothing or a minus is safe."""
    if any(character in _ABOUT for character in before):
        yield "a sign for about, over, under or equal stands before it"
    if "+" in before:
        yield "a plus sign stands before it"
    if "," in before:
        yield "a comma stands where a decimal point belongs"
    if before.strip(_SPACES) != before:
        yield "its sign stands apart from it"
    if before and (len(before) > 1 or before not in _MINUSES):
        yield "more than a minus sign stands before it"


def _unsafe_numeral(numeral: str, rest: str) -> Iterator[str]:
    """Yield why the digits, or the characters next to them, are unsafe."""
    whole, point, decimals = numeral.partition(".")
    if numeral in {"", "."} or _is_digit(rest[:1]):
        yield "it has digits other than 0 to 9"
    if numeral == "0" and re.match(_BASE, rest):
        yield "it is written in a base other than ten"
    if rest.startswith(("e", "E")) and _begins_number(rest[1:]):
        yield "it has an exponent"
    if rest.startswith(",") or ("," in whole and not re.fullmatch(_THOUSANDS, whole)):
        yield "its comma is not one between thousands, and can be read as a decimal point"
    if len(whole) > 1 and whole.startswith("0"):
        yield "it begins with a zero too many"
    if point and not decimals:
        yield "it ends in a decimal point"
    if sum(map(str.isdigit, numeral)) > MOST_DIGITS:
        yield f"it has more than {MOST_DIGITS} digits"


def _unsafe_rest(rest: str) -> Iterator[str]:
    """Yield why the text after the digits is unsafe; a unit is safe."""
    after = rest.lstrip()
    if rest.startswith("_"):
        yield "it has an underscore"
    if rest.startswith(":"):
        yield "it has a colon"
    joint = next((joint for joint in _JOINTS if after.startswith(joint)), None)
    if joint and _begins_number(after[len(joint) :].lstrip()):
        yield "it is a range, not one number"
    if after.startswith(_SLASHES) and _begins_number(after[1:].lstrip()):
        yield "it is a fraction"
    if _is_digit(after[:1]):
        yield "a space parts its digits"
    unit = rest.lstrip(_SPACES)
    if unit and not (unit[0].isalpha() or unit[0] in "%‰°"):
        yield "a mark follows it that is neither number nor unit"
    if any(map(_begins_number, unit[: _LONGEST_UNIT + 1].split())):
        yield "a second number follows it"


def _begins_number(text: str) -> bool:
    return text.lstrip(f"{_MINUSES}+.")[:1].isdigit()


def _is_digit(character: str) -> bool:
    """True for digits of any script, fractions, superscripts and number letters, but no words."""
    return character.isnumeric() and not character.isalpha()
