"""An order from a seed: mostly sound, with some settings left out, misread, or moved to an edge.

An edge is a value at which some rule turns: another setting of the order, or a number that the
rulebook names, and beside it one step or one least digit.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import TYPE_CHECKING

from oracle.pools import (
    ADDITIVE,
    MISREAD,
    NOTATIONS,
    SOUND,
    SOUND_FOR_ALL,
    SOUND_IN_IRRIGATION,
    TURNS,
    UNSAFE,
)
from oracle.reading import CHOICES, KINDS, MMHG, UNITS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

Leaves = dict[str, object]

EDGES = [(path, text, side) for path in TURNS for text in TURNS[path] for side in (-1, 0, 1)]
STEPS: Mapping[str, Fraction] = {
    "pressure": MMHG,
    "flow": Fraction(1),
    "volume": Fraction(1),
    "duration": Fraction(1, 60),
}
MAIN = ("pause.upper", "treat_above", "drainage.height", "irrigation.rate", "drainage.hourly_max")


def draw(seed: int) -> dict[str, object]:
    """The order of this seed, as the mapping that verify takes.

    Of every four, two have many changes, one a setting at a turn, one at what others reckon to.
    """
    chance = Random(seed)
    leaves = sound(chance)
    if seed % 4 == 1:
        path, text, side = EDGES[seed // 4 % len(EDGES)]
        _stand_at(leaves, path, value_of(text), text.split()[1], side)
    if seed % 4 == 3:
        options = reckoned(leaves)
        path, value = options[seed // 4 % len(options)]
        side = chance.choice((-1, 0, 0, 1))
        _stand_at(leaves, path, value, _first_unit(path), side)
    if chance.random() < (0.5 if seed % 4 == 1 and path == "pause.upper" else 0.1):
        leaves["display_unit"] = chance.choice(("mmHg", "cmH2O"))
    for _ in range(chance.choice((0, 0, 1) if seed % 2 else (0, 1, 2, 2, 3, 4, 4, 6, 8, 12))):
        chance.choice(CHANGES)(chance, leaves)
    return nested(leaves)


def _stand_at(leaves: Leaves, path: str, value: Fraction, unit: str, side: int) -> None:
    """A setting at a value, or one least digit to the side of it, on a display of its unit."""
    if KINDS[path] == "pressure":
        leaves["display_unit"] = unit
    leaves[path] = in_digits(value, unit, UNITS[unit][2], side)


def sound(chance: Random) -> Leaves:
    """An order in which little is found; a setting in ten is left out of some."""
    therapy = chance.choice(("irrigation", "irrigation", "irrigation", "drainage", "monitoring"))
    unit = chance.choice(("mmHg", "cmH2O"))
    kept = chance.choice((1.0, 1.0, 0.9, 0.5))
    settings = {**SOUND[unit], **SOUND_FOR_ALL}
    if therapy == "irrigation":
        settings |= SOUND_IN_IRRIGATION
    if therapy == "drainage":
        settings["drainage.hourly_max"] = ("20 mL/h", "30 mL/h")
    if therapy == "monitoring":
        for path in ("treat_above", "drainage.at_hourly_max"):
            del settings[path]
    leaves: Leaves = {"therapy": therapy, "display_unit": unit, "drainage.scale": unit}
    for path, options in settings.items():
        if chance.random() < kept:
            leaves[path] = chance.choice(options)
    return leaves


def _leave_out(chance: Random, leaves: Leaves) -> None:
    path = chance.choice((*leaves, *("display_unit",) * 5))
    if chance.random() < 0.8:
        leaves.pop(path, None)
    else:
        leaves[path] = None


def _of_kind(chance: Random, leaves: Leaves) -> str:
    """A setting with a unit, mostly one that is written."""
    written = [path for path in leaves if path in KINDS]
    return chance.choice(written if written and chance.random() < 0.8 else list(KINDS))


def _misread(chance: Random, leaves: Leaves) -> None:
    path = _of_kind(chance, leaves)
    unit = _unit_of(chance, path)
    unsafe = tuple(form.format(unit) for form in UNSAFE)
    leaves[path] = chance.choice(MISREAD[KINDS[path]] + chance.choice(((), unsafe)))


def _other_notation(chance: Random, leaves: Leaves) -> None:
    path = _of_kind(chance, leaves)
    leaves[path] = chance.choice(NOTATIONS[KINDS[path]])


def _choose(chance: Random, leaves: Leaves) -> None:
    path = chance.choice((*CHOICES, "therapy", "display_unit", "display_unit"))
    leaves[path] = chance.choice((*CHOICES[path], "neither"))


def _hang_in_cm(chance: Random, leaves: Leaves) -> None:
    leaves["drainage.height"] = chance.choice(("10 cm", "5 cm", "12 cm", "10cm"))


def _add_drug(chance: Random, leaves: Leaves) -> None:
    for path in chance.sample(list(ADDITIVE), chance.randint(1, 3)):
        leaves[path] = ADDITIVE[path]
    leaves["irrigation.bag_change_every"] = chance.choice(("48 h", "24 h", "24.001 h", "q4h"))


def _exchange(chance: Random, leaves: Leaves) -> None:
    """Two settings of one kind take each other's place."""
    path = _of_kind(chance, leaves)
    other = chance.choice([one for one in KINDS if KINDS[one] == KINDS[path]])
    here, there = leaves.pop(path, None), leaves.pop(other, None)
    if here is not None:
        leaves[other] = here
    if there is not None:
        leaves[path] = there


def _to_an_edge(chance: Random, leaves: Leaves) -> None:
    path = chance.choice([path for path in MAIN if path in leaves] or list(KINDS))
    if chance.random() < 0.5:
        path = _of_kind(chance, leaves)
    value = chance.choice((_of_another, _reckoned))(chance, leaves, path)
    leaves[path] = _beside(chance, value, path, _unit_of(chance, path))


def _to_a_turn(chance: Random, leaves: Leaves) -> None:
    """The same, at a number that the rulebook names, mostly in the unit in which it is named."""
    path = chance.choice((chance.choice(MAIN), chance.choice(list(TURNS))))
    text = chance.choice(TURNS[path])
    unit = text.split()[1]
    if KINDS[path] == "pressure" and chance.random() < 0.5:
        leaves["display_unit"] = unit
    if chance.random() < 0.3:
        unit = _unit_of(chance, path)
    leaves[path] = _beside(chance, value_of(text), path, unit)


def _first_unit(path: str) -> str:
    return next(unit for unit in ("cmH2O", *UNITS) if UNITS[unit][0] == KINDS[path])


def _unit_of(chance: Random, path: str) -> str:
    return chance.choice([unit for unit in UNITS if UNITS[unit][0] == KINDS[path]])


def _beside(chance: Random, value: Fraction, path: str, unit: str) -> str:
    if chance.random() < 0.3:
        value += chance.choice((-1, 1)) * STEPS[KINDS[path]]
    return written(chance, value, unit)


def _of_another(chance: Random, leaves: Leaves, path: str) -> Fraction:
    alike = [one for one in leaves if KINDS.get(one) == KINDS[path]]
    return value_of(leaves[chance.choice(alike)]) if alike else Fraction(0)


def _reckoned(chance: Random, leaves: Leaves, path: str) -> Fraction:
    values = [value for one, value in reckoned(leaves) if one == path]
    return chance.choice(values) if values else _of_another(chance, leaves, path)


def reckoned(leaves: Leaves) -> list[tuple[str, Fraction]]:
    """Settings, each with a value that the rulebook reckons from others of this order."""
    rate, upper, level, height = (
        value_of(leaves.get(path))
        for path in ("irrigation.rate", "pause.upper", "treat_above", "drainage.height")
    )
    highest = value_of(leaves.get("titration.max")) or rate
    margin = 1 + (highest + 20) * Fraction("0.77") / 40
    minimum = value_of(leaves.get("targets.cpp_min"))
    return [
        ("treat_above", upper - 5 * MMHG),
        ("treat_above", height + margin),
        ("treat_above", height + 20),
        ("drainage.height", level - margin),
        ("drainage.height", level - 20),
        ("targets.map", minimum + upper),
        ("targets.map", minimum + value_of(leaves.get("notify.icp_above"))),
        ("drainage.hourly_max", highest + 20),
        ("drainage.hourly_max", 2 * (highest + 20)),
        ("drainage.hourly_max", highest + 80),
        ("irrigation.daily_max", 24 * rate),
        ("irrigation.daily_max", 24 * highest),
        ("irrigation.bag", 4 * rate),
        ("irrigation.bag", 24 * rate),
        ("irrigation.bag", 96 * rate),
        ("drainage.bag", (highest + 20) * value_of(leaves.get("monitoring.output_every"))),
        ("notify.net_in.above", rate * value_of(leaves.get("notify.net_in.within"))),
        ("titration.step", rate / 2),
        ("titration.step", highest - rate),
        ("titration.max", rate),
    ]


def value_of(text: object) -> Fraction:
    """How much a text of this module says, and nothing where it is none of those."""
    number, _, unit = str(text).partition(" ")
    try:
        return Fraction(number) * UNITS[unit][1]
    except (ValueError, KeyError):
        return Fraction(0)


def written(chance: Random, value: Fraction, unit: str) -> str:
    """A value in a unit, to the decimals that it may have, at times a least digit more or less."""
    most = UNITS[unit][2]
    return in_digits(value, unit, chance.choice((0, 1, most, most)), chance.choice((-1, 0, 0, 1)))


def in_digits(value: Fraction, unit: str, decimals: int, side: int) -> str:
    """A value rounded to so many decimals of the unit, so many least digits beside it."""
    digits = round(value / UNITS[unit][1] * 10**decimals) + side
    whole, part = divmod(abs(digits), 10**decimals)
    fraction = f".{part:0{decimals}}".rstrip("0").rstrip(".") if decimals else ""
    return f"{'-' if digits < 0 else ''}{whole}{fraction} {unit}"


CHANGES: tuple[Callable[[Random, Leaves], None], ...] = (
    _hang_in_cm,
    _add_drug,
    _exchange,
    *(_leave_out, _misread, _other_notation) * 2,
    *(_choose, _to_a_turn) * 5,
    *(_to_an_edge,) * 8,
)


def nested(leaves: Mapping[str, object]) -> dict[str, object]:
    """Paths → the sections of an order."""
    document: dict[str, object] = {"document": "order", "format": 1}
    for path, raw in leaves.items():
        *sections, last = path.split(".")
        place = document
        for section in sections:
            inner = place.setdefault(section, {})
            assert isinstance(inner, dict)
            place = inner
        place[last] = raw
    return document
