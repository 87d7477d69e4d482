"""What goes wrong in the cells of a table: each function changes one row."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from audit.bases import CHECKED, Row, laid_over, of_rules
from audit.notes import note
from oracle.pools import ADDITIVE, MISREAD, NOTATIONS, UNSAFE

from orderlint.fields import field_table
from orderlint.order import INSTRUCTING_TEXTS
from orderlint.unit_spellings import HINTS, SPELLINGS

if TYPE_CHECKING:
    from random import Random

    from orderlint.field import Field

FIELDS = {p: f for p, f in field_table().fields.items() if p not in {"document", "format"}}
QUANTITIES = tuple(p for p, f in FIELDS.items() if f.kind == "quantity")
CHOICES = tuple(p for p, f in FIELDS.items() if f.kind == "choice")
TEXTS = tuple(p for p, f in FIELDS.items() if f.kind in {"text", "label"})
INSTANTS = tuple(p for p, f in FIELDS.items() if f.kind == "instant")
SECTIONS = tuple(p for p in field_table().section_names if p not in FIELDS)

BLANKS = ("", " ", "   ", "\t", "\u00a0", "\u2003", "\u202f", "\u3000", "\n", " \r\n ", "\t \u00a0")
WHITE = (" ", "  ", "\t", "\u00a0", "\u2009", "\u202f", "\u3000", "\n", "")
REFUSED = (
    "\0", "\u200e", "\u202e", "\u2066", "\u200b", "\ufeff", "\x07", "\r", "\x85", "\u2028",
    "\ufffe", "\ufe0f", "\x1f", "\x7f", "\u00ad", "\ufdd0", "\u115f",
)  # fmt: skip
LONG = ("9" * 41, "0." + "1" * 60, "x " * 10_001)
OFFSETS = ("-06:00", "-05:00", "+01:00", "+02:00", "Z", "+05:30", "+00:00", "-00:00", "", "+14:00")
ZONES = (
    "America/Chicago", "Europe/Berlin", "Europe/London", "UTC", "Asia/Kolkata", "US/Central",
    "Australia/Lord_Howe", "america/chicago", "Chicago", "CST", "Europe/Berln", "Africa/Casablanca",
)  # fmt: skip
DAYS = (
    "2026-03-02", "2026-03-07", "2026-03-08", "2026-03-29", "2026-10-24", "2026-10-25",
    "2026-11-01", "2025-12-31", "2024-02-29", "2023-02-29", "1899-12-31", "2199-12-31",
    "2200-01-01", "2009-12-31",
)  # fmt: skip
HOURS = ("00:00", "01:30", "02:30", "02:59:59", "14:10:00", "23:59:59.999", "15:00:00.5", "24:00")


def blank(chance: Random, row: Row) -> None:
    row[_written(chance, row)] = chance.choice((None, *BLANKS))


def spaced(chance: Random, row: Row) -> None:
    """Other white space than was meant, between the words or around them."""
    path = _written(chance, row)
    joined = chance.choice(WHITE).join((row[path] or "").split(" "))
    row[path] = f"{chance.choice(WHITE)}{joined}{chance.choice(WHITE)}"


def refused(chance: Random, row: Row) -> None:
    """A character that no order may hold, or more of them than one may."""
    path = _written(chance, row)
    text = row[path] or ""
    at = chance.randint(0, len(text))
    row[path] = f"{text[:at]}{chance.choice((*REFUSED * 3, *LONG))}{text[at:]}"


def misread(chance: Random, row: Row) -> None:
    path, field = _quantity(chance, row)
    unit = chance.choice(tuple(field.decimals))
    misread = MISREAD.get(field.dimension or "", ())
    row[path] = str(chance.choice((*misread, *(form.format(unit) for form in UNSAFE))))


def noted(chance: Random, row: Row) -> None:
    path, field = _quantity(chance, row)
    row[path] = chance.choice(NOTATIONS.get(field.dimension or "", ("5.0", "5 kg", ".5 deg")))


def spelled(chance: Random, row: Row) -> None:
    """Another unit, or the same in another spelling, behind the same number."""
    path, field = _quantity(chance, row)
    number = (row.get(path) or "5").split(" ")[0]
    spelling = chance.choice((*_spellings(field.path), *_units()))
    spelling = chance.choice((spelling, spelling, spelling.upper(), spelling.title()))
    row[path] = f"{number}{chance.choice(WHITE)}{spelling}"


@functools.cache
def _spellings(path: str) -> tuple[str, ...]:
    units = FIELDS[path].decimals
    return (*units, *units, *(spelling for spelling, unit in SPELLINGS.items() if unit in units))


@functools.cache
def _units() -> tuple[str, ...]:
    return (*HINTS, "zz", "")


def mangled(chance: Random, row: Row) -> None:
    """A character of a number or a unit is left out, doubled, or another."""
    path, _ = _quantity(chance, row)
    text = row.get(path) or "5 mmHg"
    at = chance.randrange(len(text))
    instead = chance.choice(("", text[at] * 2, *"0O1l.,-–/ ½²٣５+x%"))
    row[path] = f"{text[:at]}{instead}{text[at + 1 :]}"


def at_the_end(chance: Random, row: Row) -> None:
    """A value at the end of what is conceivable, or beyond it."""
    path, field = _quantity(chance, row)
    unit = chance.choice(tuple(field.decimals))
    row[path] = f"{chance.choice(ENDS)} {unit}"


ENDS = ("0", "-0", "0.01", "-0.01", "200", "200.01", "-200", "2000", "20000", "336")


def in_cm(chance: Random, row: Row) -> None:
    forms = ("10 cm", "5cm", "12 CM", "-3 cms", "7.50 cm", "10 cm H20", "300 cm", "5 cm ", "½ cm")
    row["drainage.height"] = chance.choice(forms)
    row["drainage.scale"] = chance.choice(("mmHg", "cmH2O", "cm", None))


def chosen(chance: Random, row: Row) -> None:
    path = chance.choice(CHOICES)
    field = FIELDS[path]
    words = (*field.choices, *field.choices, *field.spellings, "neither", "Yes", "NONE", "off ")
    text = chance.choice(words)
    row[path] = chance.choice((text, text, text.upper(), f" {text}", text[:-1]))


def timed(chance: Random, row: Row) -> None:
    """A time of several forms, also wrong ones, and at times another zone."""
    form = chance.choice(("{}T{}{}", "{}T{}{}", "{} {}{}", "{}T{} {}", "{}t{}{}", "{}{}{}", "{}"))
    text = form.format(chance.choice(DAYS), chance.choice(HOURS), chance.choice(OFFSETS))
    row[chance.choice(INSTANTS)] = text
    if chance.random() < 0.5:
        row["zone"] = chance.choice(ZONES)


def over_a_clock_change(chance: Random, row: Row) -> None:
    """A day of a clock that is put forward or back, from one wall time to the same."""
    zone, day, following, before, after = chance.choice(CLOCKS)
    hour = chance.choice(("01:30", "02:30", "12:00"))
    row["zone"] = zone
    row["starts"] = f"{day}T{hour}:00{before}"
    row["review_by"] = f"{following}T{hour}:00{chance.choice((before, after))}"
    row["written"] = f"{day}T00:10:00{before}"


CLOCKS = (
    ("America/Chicago", "2026-10-31", "2026-11-01", "-05:00", "-06:00"),
    ("America/Chicago", "2026-03-07", "2026-03-08", "-06:00", "-05:00"),
    ("Europe/Berlin", "2026-10-24", "2026-10-25", "+02:00", "+01:00"),
    ("Europe/Berlin", "2026-03-28", "2026-03-29", "+01:00", "+02:00"),
    ("Australia/Lord_Howe", "2026-04-04", "2026-04-05", "+11:00", "+10:30"),
)


def lapsed(chance: Random, row: Row) -> None:
    """An order in force whose review is over, or which is judged at another time."""
    row["status"] = "active"
    row["review_by"] = chance.choice(("2026-03-02T14:00:00-06:00", "2026-01-02T14:00:00-06:00"))
    row[CHECKED] = chance.choice((*WHENEVER, None))


WHENEVER = (
    "2026-03-02T14:10:00-06:00", "2026-03-03T15:00:00.001-06:00", "2026-04-01T00:00:00Z",
    "2026-03-02T20:04:59.999Z", "2009-12-31T23:59:59.999Z", "tomorrow",
)  # fmt: skip


def told(chance: Random, row: Row) -> None:
    row[chance.choice((*INSTRUCTING_TEXTS * 3, *TEXTS))] = note(chance, -1)


def with_drug(chance: Random, row: Row) -> None:
    """An additive by its parts, by one text, or both ways at once."""
    parts: Row = {path: chance.choice((text, text, None)) for path, text in ADDITIVE.items()}
    parts["irrigation.additive.name"] = chance.choice(DRUGS)
    whole: Row = {"irrigation.additive": chance.choice((*DRUGS, "yes", "NONE", "gentamicin 8 mg"))}
    kind = chance.random()
    over = laid_over(row, parts if kind < 0.6 else whole)
    row.clear()
    row.update(over)
    if kind > 0.95:
        row.update(parts)


DRUGS = ("alteplase", "tPA", "vancomycin 10 mg", "demo antimicrobial", "heparin", "none", "saline")


def as_section(chance: Random, row: Row) -> None:
    """A text where a section is due: alone, or rarely beside the section's own cells."""
    path = chance.choice(SECTIONS)
    if chance.random() < 0.9:
        over = laid_over(row, {path: "as before"})
        row.clear()
        row.update(over)
    row[path] = chance.choice(("as before", "2-22 mmHg", "none", "yes", " "))


def left_out(chance: Random, row: Row) -> None:
    path = _written(chance, row)
    for other in [each for each in row if each.split(".")[0] == path.split(".")[0]]:
        if other == path or chance.random() < 0.3:
            row[other] = None


def exchanged(chance: Random, row: Row) -> None:
    first, field = _quantity(chance, row)
    second = chance.choice([p for p in QUANTITIES if FIELDS[p].dimension == field.dimension])
    row[first], row[second] = row.get(second), row.get(first)


def numbered(chance: Random, row: Row) -> None:
    row["revision"] = chance.choice(("1", "2", "01", "one", "-1", "1.0"))


def as_an_example(chance: Random, row: Row) -> None:
    """The settings of some rule's example, of which code or a rule is to say something."""
    over = laid_over(row, chance.choice(of_rules()).cells)
    row.clear()
    row.update(over)


def _written(chance: Random, row: Row) -> str:
    written = [path for path, text in row.items() if text]
    return chance.choice(written or ["treat_above"])


def _quantity(chance: Random, row: Row) -> tuple[str, Field]:
    written = [path for path in row if row[path] and path in QUANTITIES]
    path = chance.choice(written if written and chance.random() < 0.8 else QUANTITIES)
    return path, FIELDS[path]


SMALL = (
    *(blank, spaced, misread, noted, spelled, mangled, at_the_end, in_cm, chosen, chosen, timed),
    *(over_a_clock_change, told, told, with_drug, left_out, left_out, exchanged, lapsed),
    *(as_an_example,) * 5,
)
RARE = (refused, as_section, numbered)
