"""Ticks and words of quantities, against pint, published equivalents and plain fractions."""

from __future__ import annotations

import functools
import itertools
import re
from datetime import datetime, timedelta, timezone
from fractions import Fraction
from unittest import mock

import pint
import pytest
from each_case import of_each
from facts import fact
from hypothesis import example, given
from hypothesis import strategies as st

from orderlint import quantity_words
from orderlint.quantity_words import (
    display_number,
    display_quantity,
    explain_unknown_unit,
    format_duration,
    format_number,
    format_quantity,
    format_written_number,
)
from orderlint.reading.quantity_text import NumberText
from orderlint.unit_spellings import HINTS, NO_OTHER_UNITS, OTHER_UNITS, SPELLINGS
from orderlint.units import (
    TICKS,
    Unit,
    find_unit,
    has_instant_form,
    in_unit,
    normalise_unit,
    parse_instant,
    read_constant,
    to_ticks,
)

SYMBOLS = [(dimension, symbol) for dimension, units in TICKS.items() for symbol in units]
ALL_SYMBOLS = {symbol for _, symbol in SYMBOLS}

numbers = st.builds(
    NumberText,
    st.booleans(),
    st.text("0123456789", min_size=1, max_size=20),
    st.integers(min_value=0, max_value=12),
)
units = st.sampled_from([find_unit(symbol) for _, symbol in SYMBOLS])


def worth(number: NumberText) -> Fraction:
    return Fraction(int(number.digits), 10**number.decimals) * (-1 if number.negative else 1)


def converted(number: str, unit: str, to: str) -> Fraction:
    digits, _, decimals = number.partition(".")
    ticks = to_ticks(NumberText(False, digits + decimals, len(decimals)), find_unit(unit))
    return in_unit(ticks, to)


@functools.cache
def registry():
    """Made when first asked for: it takes most of a second."""
    made = pint.UnitRegistry(non_int_type=Fraction)
    made.define("units = [activity]")
    made.define("million_units = 1_000_000 units")
    return made


@of_each(
    ("dimension", "one", "other"),
    [(d, a, b) for d, units in TICKS.items() for a, b in itertools.permutations(units, 2)],
)
def test_factors_are_those_of_pint(dimension, one, other):
    one_, other_ = (symbol.replace("million units", "million_units") for symbol in (one, other))
    by_pint = registry().Quantity(Fraction(1), one_).to(other_).magnitude
    assert Fraction(TICKS[dimension][one], TICKS[dimension][other]) == by_pint


@of_each("text", [*OTHER_UNITS, *sorted(NO_OTHER_UNITS)])
def test_a_unit_that_is_likely_to_be_written_is_explained_as_by_pint(text):
    assert find_unit(text) is None
    assert normalise_unit(text) not in HINTS
    said = explain_unknown_unit(Fraction(60), text)
    with mock.patch.multiple(quantity_words, OTHER_UNITS={}, NO_OTHER_UNITS=()):
        assert explain_unknown_unit(Fraction(60), text) == said
    assert bool(said) == (text in OTHER_UNITS)


def test_a_unit_that_is_likely_to_be_written_needs_no_library(monkeypatch):
    monkeypatch.setattr(quantity_words, "_registry", lambda: pytest.fail("asked"))
    said = explain_unknown_unit(Fraction(60), "kPa")
    assert said.startswith("kPa is a unit of pressure: 60 kPa would be about 450.04 mmHg or ")
    assert explain_unknown_unit(Fraction(60), "mmol") == ""


def test_each_dimension_and_its_tick():
    ticks = {
        "pressure": ("0.0000001", "cmH2O"),
        "flow": ("0.001", "mL/h"),
        "volume": ("0.001", "mL"),
        "duration": ("0.001", "s"),
        "mass": ("0.001", "g"),
        "angle": ("0.1", "deg"),
        "mass concentration": ("0.01", "mcg/L"),
        "activity concentration": ("0.01", "units/L"),
        "mass rate": ("0.00000001", "mcg/day"),
        "activity rate": ("0.00000001", "units/day"),
    }
    assert TICKS.keys() == ticks.keys()
    for dimension, (size, symbol) in ticks.items():
        assert in_unit(1, symbol) == Fraction(size)
        assert find_unit(symbol).dimension == dimension


def test_conventional_mercury_and_water_in_pascal():
    """NIST SP 811, Appendix B (cmH2O), and 13.5951 g/mL x 9.80665 m/s2 x 1 mm (mmHg)."""
    mercury = Fraction(fact("pressure", "1 mmHg (conventional)")["value"].removesuffix(" Pa"))
    water = Fraction(fact("pressure", "1 cmH2O (conventional)")["value"].removesuffix(" Pa"))
    assert mercury == Fraction("13.5951") * Fraction("9.80665")
    assert in_unit(TICKS["pressure"]["mmHg"], "cmH2O") == mercury / water


@pytest.mark.parametrize(
    ("row", "source"), [("1 mmHg", "NIST SP 811, Appendix B"), ("1 mm[Hg]", "UCUM 2.2")]
)
def test_rounded_handbook_values_of_a_millimetre_of_mercury(row, source):
    assert fact("pressure", row)["source"] == source
    printed = fact("pressure", row)["value"].removesuffix(" Pa")
    pascal = converted("1", "mmHg", "cmH2O") * Fraction("98.0665")
    assert round(pascal, len(printed.partition(".")[2])) == Fraction(printed)


def test_usual_levels_in_water():
    """Computed from 13.5951 g/mL."""
    row = fact("pressure", "10 / 15 / 20 / 22")
    levels = row["what"].removesuffix(" mmHg").split(" / ")
    in_water = row["value"].removesuffix(" cmH2O").split(" / ")
    assert [format_number(converted(level, "mmHg", "cmH2O")) for level in levels] == in_water


@pytest.mark.parametrize(
    ("mercury", "water"), [("11.6", "15.8"), ("7.8", "10.6"), ("14.3", "19.4")]
)
def test_published_pairs(mercury, water):
    """Neurology 2011;76:903, doi 10.1212/WNL.0b013e31820f2dd0."""
    row = fact("pressure", "published pair")
    assert "10.1212/WNL.0b013e31820f2dd0" in row["source"]
    assert mercury in row["what"]
    assert water in row["what"]
    assert round(converted(mercury, "mmHg", "cmH2O"), 1) == Fraction(water)


def test_ucum_codes_are_understood():
    """UCUM 2.2."""
    codes = fact("pressure", "UCUM codes")["value"].split(", ")
    symbols = [find_unit(code).symbol for code in codes]
    assert symbols == ["mmHg", "cmH2O", "mL", "mL/h", "mL/min", "h", "min"]


@given(number=numbers, unit=units)
def test_ticks_are_exact_or_refused(number, unit):
    ticks = to_ticks(number, unit)
    exact = worth(number) * TICKS[unit.dimension][unit.symbol]
    assert ticks == (exact if exact.denominator == 1 else None)
    if ticks is not None:
        assert in_unit(ticks, unit.symbol) == worth(number)


@given(ticks=st.integers(), unit=units)
def test_any_count_of_ticks_comes_back(ticks, unit):
    assert in_unit(ticks, unit.symbol) * TICKS[unit.dimension][unit.symbol] == ticks


# Names of units and forms of symbols that nobody reads as another: common practice.
WRITTEN_OUT = {
    *("mL/hr", "mL/hour", "mL/minute", "mL per hour", "mL per minute"),
    *("hr", "hour", "hours", "minute", "minutes", "second", "seconds"),
    *("millilitre", "millilitres", "milliliter", "milliliters"),
    *("litre", "litres", "liter", "liters"),
    *("gram", "grams", "kilogram", "kilograms", "degree", "degrees", "°"),
    *("mL/hrs", "mL/mins", "mLs", "hrs", "mins", "sec", "secs", "kgs", "degs"),
    *("mm Hg", "cm H2O", "cmH₂O", "cm H₂O", "mmhg", "cmh2o"),
}


@of_each("text", sorted(WRITTEN_OUT))
def test_a_name_that_is_written_out_is_no_fault_of_spelling(text):
    assert find_unit(text).flag is None


@of_each(("dimension", "symbol"), SYMBOLS)
def test_a_symbol_is_standard(dimension, symbol):
    assert find_unit(symbol) == Unit(symbol, dimension, flag=None)


@of_each("spelling", SPELLINGS)
def test_a_spelling_is_understood_in_any_case(spelling):
    for text in (spelling, spelling.upper(), spelling.replace("/", " / ")):
        assert find_unit(text).symbol == SPELLINGS[spelling]
        assert (find_unit(text).flag is None) == (text in ALL_SYMBOLS | WRITTEN_OUT)
        assert find_unit(text).dimension == find_unit(SPELLINGS[spelling]).dimension


@of_each("hint", HINTS)
def test_what_has_a_hint_is_not_understood(hint):
    assert find_unit(hint) is None
    assert explain_unknown_unit(Fraction(5), hint) == HINTS[hint]
    assert explain_unknown_unit(Fraction(5), hint.upper()) == HINTS[hint]


@pytest.mark.parametrize(
    ("hints", "symbol"),
    [
        ("cm, cms, cmh20, cm h20, cm/h2o, cm water, cm of water, h2o, mmh2o", "cmH2O"),
        ("mm, mm/hg, hg, torr", "mmHg"),
        ("gtt, gtts, gtt/min, gtts/min, drops, drops/min", "mL/h"),
        ("ml/24h, ml/24 h, ml/24hr, l/24h, l/24 h, ml/kg/h, ml/kg/hr", "mL/h"),
        ("m", "min"),
    ],
)
def test_a_hint_names_the_unit_to_write(hints, symbol):
    for hint in hints.split(", "):
        assert f"write {symbol}" in HINTS[hint]
        assert "None" not in HINTS[hint]


@pytest.mark.parametrize(("row", "texts"), [("cc", ["cc"]), ("ml, l", ["ml", "l"])])
def test_spellings_to_avoid_are_told_apart(row, texts):
    """ISMP, error-prone abbreviations."""
    better = fact("notation", row)["write"].split(", ")
    assert [find_unit(text).symbol for text in texts] == better
    assert all(find_unit(text).flag for text in texts)


@pytest.mark.parametrize(
    ("texts", "flag"),
    [
        (["ml", "mls", "ml/h", "ml/hrs", "ml/min", "ml / h", "ml per hour"], "unit small l"),
        (["ML", "Ml/h", "cc", "cc/h", "l"], "unit spelling"),
    ],
)
def test_only_ml_that_is_otherwise_as_it_should_be_is_apart(texts, flag):
    """The Joint Commission, further abbreviations (2009; a copy): mL or ml, mL preferred."""
    assert {find_unit(text).flag for text in texts} == {flag}


def test_u_and_iu_are_no_units():
    """The Joint Commission, Do Not Use list."""
    for text in fact("notation", "U, u, IU")["flag"].split(", "):
        assert find_unit(text) is None
        assert "write the unit out" in explain_unknown_unit(Fraction(5), text)


@pytest.mark.parametrize("text", ["", " ", "kPa", "mL/day", "cmH20", "mg", "mmHg.", "mmHg mmHg"])
def test_no_unit_is_guessed(text):
    assert find_unit(text) is None


@pytest.mark.parametrize(
    ("number", "text", "said"),
    [
        # 1 kPa = 7.50062 mmHg = 10.1972 cmH2O: NIST SP 811, Appendix B (from memory).
        ("2", "kPa", "pressure: 2 kPa would be about 15.001 mmHg or about 20.39 cmH2O"),
        ("2.4", "L/day", "flow: 2.4 L/day would be 100 mL/h"),
        ("2400", "ML/day", "flow: 2400 ML/day would be 100 mL/h"),
        ("2", "d", "duration: 2 d would be 2880 min or 48 h"),
        # The pound is 0.45359237 kg by definition.
        ("150", "lb", "mass: 150 lb would be about 68.04 kg"),
        ("0.7", "dL", "volume: 0.7 dL would be 70 mL"),
    ],
)
def test_a_unit_of_elsewhere_is_explained(number, text, said):
    assert explain_unknown_unit(Fraction(number), text) == f"{text} is a unit of {said}"


@of_each(
    "text",
    [
        *("", "%", "/", "kPa/", "kPa kPa", "percent", "rad", "degC", "mol", "nonsense", "None"),
        *("m/s/s", "m^m^m", "m**9999999", "9**9**9**9", "((((m", "lambda x", "__class__"),
        "a" * 10_000,
    ],
)
def test_nothing_is_said_of_what_is_no_unit_of_ours(text):
    assert explain_unknown_unit(Fraction(2), text) in {"", HINTS.get(text, "")}


@given(text=st.text("kPamMLlhHgGdyinrtsuµ/", max_size=14))
def test_no_unit_text_is_too_strange(text):
    assert isinstance(explain_unknown_unit(Fraction(7, 3), text), str)


@given(value=st.fractions())
@example(value=Fraction(1, 250_000))
def test_format_number_shows_the_value(value):
    words = format_number(value)
    about, digits = words.startswith("about "), words.removeprefix("about ")
    assert re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]*[1-9])?", digits)
    assert not about or (value * 10**5).denominator != 1
    assert (Fraction(digits) != value) == about
    assert abs(Fraction(digits) - value) <= Fraction(1, 200)
    assert digits != "-0"
    # What is rounded ends in no zero, so that it is not taken for a rounder number.
    assert not about or len(digits.partition(".")[2]) >= 2


@given(st.fractions(-100, 100), st.lists(st.fractions(-100, 100), max_size=3))
def test_a_displayed_number_has_one_decimal_unless_it_would_look_like_another(value, others):
    shown = Fraction(display_number(value, others))
    if (value * 100).denominator == 1:
        assert shown == value
        return
    assert abs(shown - value) <= Fraction(1, 20)
    assert shown.denominator != 1  # it is not taken for a whole number, as a limit is
    for other in others:
        assert other == value or display_number(other, [value]) != display_number(value, [other])


@given(st.integers(-(10**10), 10**10), st.sampled_from(["mmHg", "cmH2O"]))
def test_a_displayed_quantity_is_rounded_as_a_fraction_is(ticks, unit):
    """The reference is Python's own `Fraction`, which rounds half to even."""
    value = Fraction(ticks, TICKS["pressure"][unit])
    shown = display_quantity(ticks, unit)
    number = shown.removeprefix("about ").removesuffix(f" {unit}")
    assert Fraction(number) == round(value, len(number.partition(".")[2]))
    assert shown.startswith("about ") == ((value * 100).denominator != 1)


@pytest.mark.parametrize(
    ("ticks", "unit", "words"),
    [
        # 22 mmHg x 1.35951 = 29.90922 cmH2O; 20 cmH2O / 1.35951 = 14.7112 mmHg.
        (22 * TICKS["pressure"]["mmHg"], "cmH2O", "about 29.9 cmH2O"),
        (22 * TICKS["pressure"]["mmHg"], "mmHg", "22 mmHg"),
        (20 * TICKS["pressure"]["cmH2O"], "mmHg", "about 14.7 mmHg"),
        (299_100_000, "mmHg", "about 22.001 mmHg"),
    ],
)
def test_a_displayed_quantity(ticks, unit, words):
    assert display_quantity(ticks, unit) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (Fraction(0), "0"),
        (Fraction("29.90922"), "29.90922"),
        (Fraction(-1, 2), "-0.5"),
        (1000, "1000"),
        (Fraction("0.125001"), "about 0.13"),
        (Fraction("0.00500000001"), "about 0.01"),
        (Fraction("0.000001"), "0.000001"),
        (Fraction("0.0000003"), "0.0000003"),
        (Fraction(20) / Fraction("1.35951"), "about 14.71"),
    ],
)
def test_format_number(value, words):
    assert format_number(value) == words


def test_a_half_goes_to_the_even_side():
    assert format_number(Fraction("0.1250000")) == "0.125"
    assert format_number(Fraction("0.00000016")) == "about 0.0000002"
    assert format_number(Fraction("0.0000025")) == "about 0.000002"
    assert format_number(Fraction("0.0000035")) == "about 0.000004"


@given(number=numbers)
def test_a_written_number_is_said_exactly_and_plainly(number):
    words = format_written_number(number)
    assert Fraction(words) == worth(number)
    assert re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]*[1-9])?", words)


def test_format_quantity():
    assert format_quantity(22 * TICKS["pressure"]["mmHg"], "cmH2O") == "29.90922 cmH2O"
    assert format_quantity(20 * TICKS["pressure"]["cmH2O"], "mmHg") == "about 14.71 mmHg"
    # 29.91 / 1.35951 is 22.000573…, by the definition of conventional mercury.
    assert format_quantity(299_100_000, "mmHg") == "about 22.001 mmHg"


def test_read_constant():
    assert read_constant("5 mmHg") == (67_975_500, Unit("mmHg", "pressure"))
    assert read_constant("-0.5 cmH2O") == (-5_000_000, Unit("cmH2O", "pressure"))


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "not a plain number"),
        ("mmHg", "not a plain number"),
        ("5e1 mmHg", "not a plain number"),
        ("5", "has no unit; known are mmHg"),
        ("5.0 mmHg", "trailing zero"),
        ("5mmHg", "unit run together"),
        ("5 mmhg", "write mmHg"),
        ("5 kPa", "kPa is not a standard unit; known are mmHg, cmH2O, mL/h"),
        ("5.001 mmHg", "more decimals"),
    ],
)
def test_read_constant_refuses(text, complaint):
    with pytest.raises(ValueError, match=complaint):
        read_constant(text)


def since_the_epoch(moment):
    """POSIX.1, "Seconds Since the Epoch" (from memory), in milliseconds, and less the offset."""
    day = moment.timetuple()
    year = moment.year - 1900
    leaps = (year - 69) // 4 - (year - 1) // 100 + (year + 299) // 400
    days = day.tm_yday - 1 + (year - 70) * 365 + leaps
    clock = day.tm_sec + day.tm_min * 60 + day.tm_hour * 3600
    offset = moment.utcoffset() // timedelta(seconds=1)
    return (days * 86_400 + clock - offset) * 1000 + moment.microsecond // 1000


OFFSETS = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))


@given(
    moment=st.datetimes(datetime(1, 1, 3), datetime(9999, 12, 29), timezones=OFFSETS),
    form=st.sampled_from(["minutes", "seconds", "milliseconds"]),
    joint=st.sampled_from("T "),
)
def test_an_instant_is_counted_from_the_epoch(moment, form, joint):
    units = {"minutes": {"second": 0, "microsecond": 0}, "seconds": {"microsecond": 0}}
    kept = moment.replace(**units.get(form, {"microsecond": moment.microsecond // 1000 * 1000}))
    text = kept.isoformat(joint, form)
    ticks = parse_instant(text)
    assert ticks == since_the_epoch(kept)
    assert isinstance(ticks, int)
    assert has_instant_form(text)
    assert has_instant_form(text[:16])
    assert parse_instant(text[:16]) is None


@pytest.mark.parametrize(
    ("text", "ticks"),
    [
        ("1970-01-01T00:00Z", 0),
        ("1970-01-01 00:00:00.1Z", 100),
        ("1970-01-01T00:00:01.25+00:00", 1_250),
        ("1969-12-31T23:59:59.999Z", -1),
        # RFC 3339, 5.8 (from memory).
        ("1985-04-12T23:20:50.52Z", 482_196_050_520),
        ("1996-12-19T16:39:57-08:00", 851_042_397_000),
    ],
)
def test_instants_by_hand(text, ticks):
    assert parse_instant(text) == ticks


@pytest.mark.parametrize(
    "text",
    [
        *("", "1970-01-01", "1970-01-01T00Z", "19700101T0000Z", "1970-01-01T00:00z"),
        *("1970-01-01t00:00Z", "1970-01-01T00:00:00.0001Z", "1970-01-01T00:00:00,5Z"),
        *("1970-01-01T00:00+0000", "1970-01-01T00:00+00", " 1970-01-01T00:00Z"),
        *("1970-W01-4T00:00Z", "１970-01-01T00:00Z", "1970-01-01T00:00Z\n"),
    ],
)
def test_a_text_of_another_form_is_no_instant(text):
    assert not has_instant_form(text)
    assert parse_instant(text) is None


@pytest.mark.parametrize(
    "text",
    [
        *("2026-02-29T00:00Z", "2026-03-02T24:30Z", "2026-03-02T10:60Z", "2026-13-01T00:00Z"),
        *("0000-01-01T00:00Z", "2026-03-02T10:00+24:00", "2026-03-02T10:00:60Z"),
        # On the calendar where it is written, and off it in UTC.
        *("0001-01-01T00:00+14:00", "9999-12-31T23:59-14:00"),
    ],
)
def test_what_is_on_no_calendar_has_the_form_and_no_ticks(text):
    assert has_instant_form(text)
    assert parse_instant(text) is None


@given(st.integers(-(10**10), 10**10))
def test_a_span_in_words_is_that_span_and_no_other(ticks):
    words = format_duration(ticks)
    sign = -1 if words.startswith("-") else 1
    parts = words.removeprefix("-").split(" ")
    pairs = zip(parts[::2], parts[1::2], strict=True)
    counted = sum(Fraction(number) * TICKS["duration"][unit] for number, unit in pairs)
    assert sign * counted == ticks
    assert "about" not in words


@pytest.mark.parametrize(
    ("ticks", "words"),
    [
        (0, "0 min"),
        (86_370_000, "23 h 59 min 30 s"),
        (86_401_000, "24 h 1 s"),
        (1_820_000, "30 min 20 s"),
        (1_800_001, "30 min 0.001 s"),
        (132_000_000, "36 h 40 min"),
    ],
)
def test_format_duration(ticks, words):
    assert format_duration(ticks) == words
