"""Free texts that name settings or do not, as many distinct ones as there are rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from random import Random

PLACES = ("drain", "EVD", "chamber", "irrigation", "pump", "output", "ICP", "CPP", "MAP", "pause")
ACTS = (
    "clamp the drain", "clamp for transport", "do not clamp the drain", "open the drain",
    "unclamp after transport", "flush the catheter", "raise the drain", "titrate the rate",
    "leave the drain wide open", "close the drain when turning", "never raise the chamber",
    "wean the rate", "call before clamping", "double the rate", "turn off the EVD",
    "this order is void", "plain saline only, no drugs in the bag",
)  # fmt: skip
OFTEN = ("every", "each", "until", "if", "before", "after", "while", "unless", "at")
OTHERS = (
    "new headache", "leak at the site", "night shift", "CT", "family meeting", "dressing change",
    "neurological change", "new colour", "lost waveform", "HOB 30", "urine output 30 mL/h",
    "SBP 140",
)  # fmt: skip
UNITS = ("mmHg", "cmH2O", "cm", "mL/h", "mL", "ml/hr", "cc/h", "", "min", "h", "kPa", "mL/day")
AMOUNTS = (0, 2, 5, 8, 10, 15, 20, 22, 25, 60, 90, 120)
MARKS = (
    "QD", "U", "@", "> 5", "< 3", "1000000 units", "5.0 mg", ".5 mg", "µg", "cc", "–5 mmHg",
    "10000 mL", "MgSO4", "dеvice", "q.d.", "AD", "tbd", "n/a", "…",
)  # fmt: skip
ODD = ("Ringer’s", "grün", "ｗｉｄｅ", "日本", "e\u0301", "½", "✓", "😀", "İ", "ß", "ﬁ")


def note(chance: Random, number: int) -> str:
    """A free text of a row; with `number`, no other row has the same."""
    parts = [chance.choice(_PARTS)(chance) for _ in range(chance.choice((1, 1, 2, 2, 3, 4, 6)))]
    said = chance.choice((", ", ". ", "; ", " ", "\n")).join(parts)
    return f"{said} (sheet {number:x})" if number >= 0 else said


def _level(chance: Random) -> str:
    unit, amount = (
        chance.choice(UNITS),
        chance.choice(AMOUNTS),
    )
    joint = chance.choice((" at ", " above ", " below ", " to ", " ", " = ", " no more than "))
    return f"{chance.choice(PLACES)}{joint}{amount} {unit}".rstrip()


def _act(chance: Random) -> str:
    return chance.choice(ACTS)


def _when(chance: Random) -> str:
    return f"{chance.choice(ACTS)} {chance.choice(OFTEN)} {chance.choice(OTHERS)}"


def _other(chance: Random) -> str:
    return chance.choice(OTHERS)


def _marked(chance: Random) -> str:
    return chance.choice((*MARKS, *ODD))


_PARTS = (_level, _level, _act, _when, _other, _other, _marked)
