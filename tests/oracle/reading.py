"""A setting as an order writes it → what it says, or the rule of reading that it breaks.

From schemas/order.schema.json (units, decimals, limits, spellings) and the section “Reading, shape
and units” of the rulebook. Pressures are in cmH2O, flows in mL/h, volumes in mL, times in h, exact.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

# schemas/findings.schema.json: one mmHg is 13595100 ten-millionths of a cmH2O.
MMHG = Fraction("1.35951")

PRESSURES = (
    "pause.lower", "pause.upper", "treat_above", "drainage.height", "notify.icp_above",
    "notify.icp_below", "targets.map", "targets.cpp_min",
)  # fmt: skip
FLOWS = ("irrigation.rate", "drainage.hourly_max", "titration.step", "titration.max")
VOLUMES = (
    "irrigation.bag", "irrigation.daily_max", "drainage.bag", "notify.no_output_after",
    "notify.net_in.above", "notify.net_out.above",
)  # fmt: skip
INTERVALS = ("irrigation.bag_change_every", "titration.every", "monitoring.output_every")
PERIODS = ("notify.net_in.within", "notify.net_out.within")
CARE = ("targets.map", "targets.cpp_min", "irrigation.bag_change_every", "monitoring.output_every")
"""What nobody keys into the controller: `care` in the schema."""
_NOT_READ = {"kind-not-expected", "number-form-unsafe", "unit-missing", "unit-not-known"}
KINDS = {
    **dict.fromkeys(PRESSURES, "pressure"),
    **dict.fromkeys(FLOWS, "flow"),
    **dict.fromkeys(VOLUMES, "volume"),
    **dict.fromkeys(INTERVALS + PERIODS, "duration"),
}
TEXTS = (
    "titration.goal", "irrigation.fluid", "irrigation.additive.name",
    "irrigation.additive.concentration", "irrigation.additive.class",
)  # fmt: skip

_PRESSURE_UNITS: dict[object, str] = {"mmHg": "mmHg", "mm Hg": "mmHg", "mmhg": "mmHg"}
_PRESSURE_UNITS |= dict.fromkeys(("cmH2O", "cm H2O", "cmh2o", "cmH₂O"), "cmH2O")
_ON_OFF: dict[object, str] = {"on": "on", "yes": "on", True: "on", "off": "off", "no": "off"}
_ON_OFF[False] = "off"
CHOICES: dict[str, Mapping[object, str]] = {
    "therapy": {name: name for name in ("irrigation", "drainage", "monitoring")},
    "display_unit": {**_PRESSURE_UNITS},
    "drainage.scale": {**_PRESSURE_UNITS, "cm": "cmH2O"},
    "patient.group": {name: name for name in ("adult", "child", "infant")},
    "patient.vascular_lesion": {name: name for name in ("none", "secured", "unsecured", "unknown")},
    "drainage.at_hourly_max": {"tell": "tell", "clamp": "clamp"},
    "transport.irrigation": _ON_OFF,
    "transport.drain": {"open": "open", "clamp": "clamp", "clamped": "clamp"},
}

# unit: its kind, how much it is, and how many decimals can be kept exactly
UNITS = {
    "mmHg": ("pressure", MMHG, 2),
    "cmH2O": ("pressure", Fraction(1), 7),
    "mL/h": ("flow", Fraction(1), 3),
    "mL/min": ("flow", Fraction(60), 4),
    "mL": ("volume", Fraction(1), 3),
    "L": ("volume", Fraction(1000), 6),
    "s": ("duration", Fraction(1, 3600), 3),
    "min": ("duration", Fraction(1, 60), 4),
    "h": ("duration", Fraction(1), 5),
    "kg": ("mass", Fraction(1), 6),
}
# other spellings: the unit, and what reading marks (rows unit-spelling and unit-small-l)
SPELLINGS = {
    **{str(spelling): (unit, "") for spelling, unit in _PRESSURE_UNITS.items()},
    "MMHG": ("mmHg", "unit-spelling"),
    "mL/hr": ("mL/h", ""),
    "ml/h": ("mL/h", "unit-small-l"),
    "ml/hr": ("mL/h", "unit-small-l"),
    "cc/h": ("mL/h", "unit-spelling"),
    "cc/hr": ("mL/h", "unit-spelling"),
    "ML/h": ("mL/h", "unit-spelling"),
    "ml": ("mL", "unit-small-l"),
    "cc": ("mL", "unit-spelling"),
    "l": ("L", "unit-spelling"),
    "hour": ("h", ""),
}
LOWEST = {"pressure": -200 * MMHG, "flow": Fraction(0), "volume": Fraction(0)}
LOWEST["duration"] = Fraction(0)
HIGHEST = {"pressure": 200 * MMHG, "flow": Fraction(2000), "volume": Fraction(20000)}
HIGHEST["duration"] = Fraction(336)
WARD_WORDS = {"hourly": 1, "daily": 24, "q4h": 4, "every 4 h": 4, "4-hourly": 4}

# A digit, and what a hand may write about it: as much as these orders draw.
_WRITTEN = re.compile(r"([-+]?[\d.,:_-]*\d[\d.,:_]*(?:[eE]\d+)?)(\s*)(.*)")
_PLAIN = re.compile(r"-?(?:[0-9]{1,3}(?:,[0-9]{3})+|0|[1-9][0-9]*)?(?:\.[0-9]+)?")


@dataclass(frozen=True)
class Setting:
    """One setting. `value` is None, `unit` and `choice` are empty, where they cannot be read."""

    written: bool = True
    value: Fraction | None = None
    unit: str = ""
    choice: str = ""
    broken: str = ""
    marks: frozenset[str] = field(default_factory=frozenset)


ABSENT = Setting(written=False)


class Order(dict[str, Setting]):
    """Each path with its setting; what is not written is ABSENT."""

    def __missing__(self, path: str) -> Setting:
        return ABSENT


def read_order(document: Mapping[str, object]) -> Order:
    """Each setting that is written; one with nothing beside its name is not."""
    order = Order()
    for path, raw in leaves_of(document):
        if raw is None:
            continue
        if path in KINDS:
            order[path] = read_quantity(path, raw)
        elif path in CHOICES:
            order[path] = read_choice(path, raw)
        elif path in TEXTS:
            order[path] = Setting()
    return order


def leaves_of(section: Mapping[str, object], before: str = "") -> Iterator[tuple[str, object]]:
    for key, raw in section.items():
        if isinstance(raw, Mapping):
            yield from leaves_of(raw, f"{before}{key}.")
        else:
            yield f"{before}{key}", raw


def read_choice(path: str, raw: object) -> Setting:
    if raw not in CHOICES[path]:
        return Setting(broken="choice-not-known")
    marks = frozenset({"abbreviated"} if raw == "cm" else ())
    return Setting(choice=CHOICES[path][raw], marks=marks)


def read_quantity(path: str, raw: object) -> Setting:
    found = _read_number(path, raw)
    if path in CARE and found.broken in _NOT_READ and not isinstance(raw, bool):
        return Setting(broken="care-setting-not-read", marks=found.marks)
    return found


def _read_number(path: str, raw: object) -> Setting:
    if path in INTERVALS and raw in WARD_WORDS:
        return Setting(value=Fraction(WARD_WORDS[str(raw)]), unit="h")
    found = _WRITTEN.fullmatch(str(raw))
    if found is None or isinstance(raw, bool):
        return Setting(broken="kind-not-expected")
    number, space, unit = found.groups()
    if not _PLAIN.fullmatch(number):
        return Setting(broken="number-form-unsafe")
    marks = marks_of_number(number)
    if unit == "":
        return Setting(broken="unit-missing", marks=marks)
    if space == "":
        marks |= {"unit-run-together"}
    return _of_unit(path, number, unit, marks)


def marks_of_number(number: str) -> frozenset[str]:
    marks = set()
    if "." in number and number.endswith("0"):
        marks.add("trailing-zero")
    if number.startswith((".", "-.")):
        marks.add("naked-decimal")
    return frozenset(marks)


def _of_unit(path: str, number: str, unit: str, marks: frozenset[str]) -> Setting:
    if unit == "cm" and path == "drainage.height":
        unit, mark = "cmH2O", "cm alone"
    else:
        unit, mark = SPELLINGS.get(unit, (unit, ""))
    if mark:
        marks |= {mark}
    if unit not in UNITS:
        return Setting(broken="unit-not-known", marks=marks)
    kind, size, decimals = UNITS[unit]
    if kind != KINDS[path]:
        return Setting(broken="unit-of-wrong-kind", marks=marks)
    if "." in number and len(number.split(".")[1].rstrip("0")) > decimals:
        return Setting(broken="number-too-fine", marks=marks)
    value = Fraction(number.replace(",", "")) * size
    if not LOWEST[kind] <= value <= HIGHEST[kind]:
        return Setting(broken="value-not-conceivable", marks=marks)
    return Setting(value=value, unit=unit, marks=marks)
