from __future__ import annotations

import re
from fractions import Fraction

import pytest
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st

from orderlint.reading.quantity_text import FLAGS, NumberText, QuantityText, split_quantity

DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d"
UNITS = st.sampled_from(["mmHg", "cmH2O", "mL/h", "mL / h", "deg", "°", "%", "drops per minute"])
GAPS = st.text(" \u00a0\u2009\u202f", min_size=1, max_size=3)


def split(text: str) -> QuantityText:
    found = split_quantity(text)
    assert found is not None
    return found


def value(number: NumberText | None) -> Fraction:
    assert number is not None
    size = Fraction(int(number.digits), 10**number.decimals)
    return -size if number.negative else size


@given(st.booleans(), st.integers(0, 10**20), st.text("0123456789", max_size=9), GAPS, UNITS)
def test_a_number_and_unit_are_exactly_what_was_written(
    negative: bool, whole: int, decimals: str, gap: str, unit: str
) -> None:
    written = f"{'-' if negative else ''}{whole}{'.' if decimals else ''}{decimals}"
    found = split(f"{written}{gap}{unit}")
    assert value(found.number) == Fraction(written)
    assert (found.unit, found.unsafe) == (unit, None)
    assert found.flags == ({"trailing zero"} if decimals.endswith("0") else set())
    assert split(written) == QuantityText(found.number, "", found.flags, None)


@given(st.integers(1000, 10**30), st.booleans())
def test_commas_between_thousands_are_understood_without_a_flag(number: int, tenth: bool) -> None:
    # The ISMP list of error-prone abbreviations advises commas from 1,000 up.
    found = split(f"{number:,}{'.5' if tenth else ''} mL")
    assert value(found.number) == number + Fraction(tenth, 2)
    assert (found.flags, found.unsafe) == (set(), None)


@given(st.text("0123456789", min_size=1, max_size=9), st.sampled_from(["", "-"]))
def test_a_naked_decimal_is_understood_and_flagged(decimals: str, sign: str) -> None:
    found = split(f"{sign}.{decimals} mL")
    assert value(found.number) == Fraction(f"{sign}0.{decimals}")
    assert "naked decimal" in found.flags


@pytest.mark.parametrize("dash", DASHES)
def test_a_dash_is_a_minus_and_flagged(dash: str) -> None:
    found = split(f"{dash}5 mmHg")
    assert found == QuantityText(
        NumberText(True, "5", 0), "mmHg", frozenset({"minus sign ambiguous"}), None
    )


@of_each(
    ("text", "unit", "flags"),
    [
        # The forms of The Joint Commission's Do Not Use list and ISMP's error-prone list.
        ("5.0 mL", "mL", {"trailing zero"}),
        ("5.50 mL", "mL", {"trailing zero"}),
        ("0.05 mL", "mL", set()),
        ("10 mL", "mL", set()),
        (".5 mL", "mL", {"naked decimal"}),
        ("10mL", "mL", {"unit run together"}),
        ("10 mL.", "mL", {"unit period"}),
        ("10mL.", "mL", {"unit run together", "unit period"}),
        ("-.50mL.", "mL", {"trailing zero", "naked decimal", "unit run together", "unit period"}),
        ("-5 mmHg", "mmHg", set()),
        ("30°", "°", set()),
        ("0.9%", "%", set()),
        (" 60  mL  /  h ", "mL  /  h", set()),
        ("0", "", set()),
        ("5 cm H2O", "cm H2O", set()),
        ("5 mL/24 h", "mL/24 h", set()),
        ("5 ex1", "ex1", set()),
        ("5e", "e", {"unit run together"}),
        ("5 to x1", "to x1", set()),
        ("2 checks clear", "checks clear", set()),
    ],
)
def test_flags(text: str, unit: str, flags: set[str]) -> None:
    found = split(text)
    assert (found.unit, found.flags, found.unsafe) == (unit, flags, None)


UNSAFE = {
    "it has an exponent": ["1e3", "1E3 mL", "1.5e-3 mL", "1e+3", "1e999", "2e3mL"],
    "it begins with a zero too many": ["010", "010 mL", "-05", "00", "00.5 mL", "0060 mL/h"],
    "it is written in a base other than ten": ["0x1F", "0o7", "0b1", "-0x1F"],
    "it has a colon": ["1:30", "1:30 h"],
    "it has an underscore": ["1_000", "1_000 mL", "5_"],
    "it has digits other than 0 to 9": ["６０ mL/h", "٦٠ mL/h", "6０ mL/h", "½ mL", "1½ mL", "5²"],
    "its comma is not one between thousands, and can be read as a decimal point": [
        "2,5 mL",
        "0,5",
        "0,500 mL",
        "1,00 mL",
        "12,5000",
        "1234,567 mL",
        "1,000,00",
        "1,,000",
        "5, 6",
        "1.5,0",
        "01,000",
    ],
    "a comma stands where a decimal point belongs": [",5 mL"],
    "a plus sign stands before it": ["+5 mmHg", "+ 5", "+-5"],
    "it ends in a decimal point": ["5.", "5. mL", "5.mL", "-5.", "5..6"],
    "it is a fraction": ["1/2", "1 / 2 mL", "1⁄2"],
    "it is a range, not one number": [
        "0-5 mmHg",
        "0 - 5 mmHg",
        "0–5 mmHg",
        "2 to 4 mmHg",
        "2to4",
        "-5-0 mmHg",
        "2 or 3 h",
        "5…6",
        "5--6",
    ],
    "a sign for about, over, under or equal stands before it": [
        "~5",
        "~ 5 mL",
        ">5 mmHg",
        "< 5",
        "≥5",
        "≤5",
        "<=5",
        "≈5",
        "±5",
        "-~5",
    ],
    "its sign stands apart from it": ["- 5 mmHg", "− 5", "- .5"],
    "more than a minus sign stands before it": ["--5", "−-5", "..5", "-..5"],
    "a space parts its digits": ["1 000 mL", "1\u202f000 mL", "5 ６"],
    "a second number follows it": ["2 mmHg to 4 mmHg", "1 h 30 min", "10 mL / 24 h", "5 mL -3"],
    "a mark follows it that is neither number nor unit": [
        "5'000 mL",
        "5+",
        "5-mL",
        "5 × 3",
        "5\tmL",
        "5 (mL)",
        "5 .",
        "5*2",
        "5.5.5",
        "5 -",
    ],
    "it has more than 40 digits": ["1" * 41, "0." + "1" * 40, f"{10**41:,} mL"],
}


@of_each(("text", "reason"), [(text, reason) for reason, texts in UNSAFE.items() for text in texts])
def test_unsafe_forms_say_why_and_give_no_number(text: str, reason: str) -> None:
    assert split(text) == QuantityText(None, "", frozenset(), reason)


@pytest.mark.parametrize(
    "text", ["", " ", "none", "-", ".", "mL 5", "about 5 mL", "五 mL", "[5]", "5 " + "x" * 41]
)
def test_what_is_not_a_quantity(text: str) -> None:
    assert split_quantity(text) is None


@given(st.text("0123456789.,-+−–eExXo_:/ \u00a0~<tmLHg%６½") | st.text())
def test_any_text_is_a_plain_number_or_has_none(text: str) -> None:
    agrees_with_a_plain_reading(text)


@pytest.mark.parametrize(
    "text",
    [
        "1" * 100_000,
        "1," * 100_000,
        f"{' ' * 100_000}1{' ' * 100_000}x",
        "1" + " \u00a0" * 100_000 + "-",
        f"{'-' * 100_000}1",
        f"1 {'a ' * 100_000}",
    ],
    ids=range(6),
)
def test_a_very_long_text_is_no_harder(text: str) -> None:
    agrees_with_a_plain_reading(text)


def agrees_with_a_plain_reading(text: str) -> None:
    found = split_quantity(text)
    if found is None:
        return
    assert (found.number is None) == (found.unsafe is not None)
    if found.number is None:
        return
    # A plain reading of the same text: sign, digits with commas and a point, then the unit.
    numeral = re.match(rf"[-{DASHES}]?[0-9,.]+", text.strip())
    assert numeral is not None
    plain = re.sub(rf"[{DASHES}]", "-", numeral[0]).replace(",", "")
    assert value(found.number) == Fraction(plain)
    assert found.flags <= FLAGS
    assert len(found.number.digits) <= 40
    assert len(found.unit) <= 40
    assert text.strip().rstrip(".").endswith(found.unit)
