"""UCUM's functional tests: which texts are units, and conversions.

Each of its units that ours know is reckoned by UCUM's own table, and so is what we say that one we
do not read would be. The reckoning is itself tried on the suite's conversions.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from public_suites.outcomes import Suite
from public_suites.ucum import Ucum, UnknownUnitError

from orderlint.quantity_words import explain_unknown_unit
from orderlint.units import dimension_of_unit, find_unit, ticks_of

if TYPE_CHECKING:
    from pathlib import Path

MEANT = {
    "S": "a capital letter is flagged, and is no siemens on an order for drainage",
    "pt": "a pint to whoever writes an order, and a picotonne to UCUM",
}
"""Codes that we read as another unit than UCUM, and why."""
STANDARD = {
    "pressure": ("cmH2O", "cm[H2O]"),
    "flow": ("mL/h", "mL/h"),
    "volume": ("mL", "mL"),
    "duration": ("min", "min"),
    "mass": ("kg", "kg"),
    "angle": ("deg", "deg"),
    "mass concentration": ("mg/L", "mg/L"),
    "activity concentration": ("units/L", "U/L"),
    "mass rate": ("mg/day", "mg/d"),
    "activity rate": ("units/h", "U/h"),
}
"""Of each dimension one unit, and its code."""
MERCURY = Fraction(5, 1_333_220)
"""UCUM rounds its metre of mercury to 133.322 kPa; ours is exact (13.5951 g/mL)."""


class Amount(NamedTuple):
    """What we take one of a unit for: ticks, of which it may be `within` so many, and the unit."""

    ticks: Fraction
    symbol: str
    within: Fraction = Fraction(0)


def check_ucum(folder: Path) -> Suite:
    """Try every case below `folder`: no text that is no unit may be read, nor one as another."""
    suite = Suite("UCUM functional tests")
    essences = sorted(folder.rglob("*ucum-essence.xml"))
    for tests in sorted(folder.rglob("*.xml")):
        root = ET.parse(tests).getroot()
        if root.tag == "ucumTests" and not essences:
            suite.fail(
                tests.name, "the folder has no ucum-essence.xml, by which units are reckoned"
            )
        elif root.tag == "ucumTests":
            ucum = Ucum(essences[0])
            _check_reckoning(suite, ucum, root)
            _check_units(suite, ucum, root)
    return suite


def _check_reckoning(suite: Suite, ucum: Ucum, root: ET.Element) -> None:
    for case in root.iterfind("conversion/case"):
        value, source, target, outcome = (
            case.get(key, "") for key in ("value", "srcUnit", "dstUnit", "outcome")
        )
        try:
            of, to = ucum.measure(source), ucum.measure(target)
        except UnknownUnitError as unit:
            suite.fail(case.get("id", ""), f"our reckoning cannot read {unit}")
            continue
        found = Fraction(value) * of.size / to.size
        # The suite rounds its outcomes, to as many digits as they have.
        digits = len(re.sub(r"e.*|^[0.]+|\.", "", outcome))
        if of.powers != to.powers or not _is_close(found, Fraction(outcome), digits):
            suite.fail(case.get("id", ""), f"{value} {source} is {found} {target}, not {outcome}")
        suite.add("conversion, by which the reckoning is tried", case.get("id", ""))


def _is_close(found: Fraction, said: Fraction, digits: int) -> bool:
    return abs(found - said) <= abs(said) * 5 / 10**digits


def _check_units(suite: Suite, ucum: Ucum, root: ET.Element) -> None:
    for case in root.iterfind("validation/case"):
        code, is_unit = case.get("unit", ""), case.get("valid") == "true"
        unit = find_unit(code)
        said = "" if unit else explain_unknown_unit(Fraction(1), code)
        amounts = [Amount(Fraction(ticks_of(unit.symbol)), unit.symbol)] if unit else _amounts(said)
        outcome = "read" if unit else "explained" if amounts else "refused"
        if amounts and not is_unit:
            suite.fail(code, f"this is no unit, and was {outcome}")
        elif code in MEANT:
            outcome += f", as another: {MEANT[code]}"
        elif not all(_agrees(ucum, code, amount) for amount in amounts):
            suite.fail(code, f"{outcome} as {unit.symbol if unit else said}")
        suite.add(f"{'unit' if is_unit else 'no unit'}, {outcome}", code)


def _amounts(said: str) -> list[Amount]:
    """The amounts in "1 dl would be 100 mL or about 0.1 L"."""
    found = re.search(r" would be (.*)", said)
    amounts = []
    for about, number, symbol in re.findall(r"(about )?([\d.]+) (\S+)", found[1] if found else ""):
        places = len(number.partition(".")[2])
        within = Fraction(ticks_of(symbol), 2 * 10**places) if about else Fraction(0)
        amounts.append(Amount(Fraction(number) * ticks_of(symbol), symbol, within))
    return amounts


def _agrees(ucum: Ucum, code: str, amount: Amount) -> bool:
    """True if one of `code` is that amount by UCUM's table."""
    symbol, standard_code = STANDARD[dimension_of_unit(amount.symbol)]
    try:
        found, standard = ucum.measure(code), ucum.measure(standard_code)
    except UnknownUnitError:
        return False
    ticks = found.size / standard.size * ticks_of(symbol)
    within = amount.within + (ticks * MERCURY if amount.symbol == "mmHg" else 0)
    return found.powers == standard.powers and abs(ticks - amount.ticks) <= within
