"""Each setting beside the one ordered, exactly; and what a difference would do."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from orders import settings as settings_drawn

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.order import Leaf, Order, State
from orderlint.order_reader import read_order
from orderlint.readback import read_back
from orderlint.readback.checklist import ADDITIVE, PATHS, UNIT_OF
from orderlint.readback.differences import DIFFERENCES, Outcome, compare_settings, is_nearest
from orderlint.readback.observed import judge_entry, nothing_seen, read_seen
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.units import TICKS, dimension_of_unit, ticks_of

FOLDER = Path(__file__).parents[2] / "examples"
AT = 1_772_483_400_000
PLACE = Place("order.yaml", 1, 1)
QUIET = {Outcome.EQUAL, Outcome.NEITHER, Outcome.OPEN}
SINGLE = [path for path in PATHS if not path.startswith(ADDITIVE)]


def leaves_of(**texts: str) -> dict[str, Leaf]:
    """Settings by the last part of their paths or whole, as texts."""
    named = {path.replace(".", "_"): path for path in PATHS}
    leaves = {path: Leaf(path) for path in field_table().fields}
    for name, text in texts.items():
        leaves[named[name]] = judge_entry(named[name], text, PLACE).leaf
    return leaves


def outcome(path: str, ordered: dict[str, Leaf], seen: dict[str, Leaf]) -> Outcome:
    rows = {row.path: row for row in compare_settings(ordered, seen, load("read-back"))}
    return rows[path].outcome


@pytest.mark.parametrize(
    ("display", "ordered", "seen", "expected"),
    [
        ("mmHg", "22 mmHg", "22 cmH2O", Outcome.OTHER_UNIT),
        ("mmHg", "22 mmHg", "29.90922 cmH2O", Outcome.EQUAL),  # 22 × 1.35951, by definition
        ("mmHg", "20 cmH2O", "15 mmHg", Outcome.ROUNDED),  # 14.71…
        ("mmHg", "20 cmH2O", "16 mmHg", Outcome.DIFFERS),
        ("mmHg", "20 cmH2O", "14 mmHg", Outcome.DIFFERS),
        ("mmHg", "14.5 mmHg", "14 mmHg", Outcome.DIFFERS),  # an exact half
        ("mmHg", "14.5 mmHg", "15 mmHg", Outcome.DIFFERS),
        ("mmHg", "14.49 mmHg", "14 mmHg", Outcome.ROUNDED),
        ("mmHg", "14.51 mmHg", "14 mmHg", Outcome.DIFFERS),
        ("cmH2O", "20 cmH2O", "15 mmHg", Outcome.DIFFERS),  # no step of that display
    ],
)
def test_a_level_beside_the_step_of_the_display(display, ordered, seen, expected):
    seen = leaves_of(display_unit=display, pause_upper=seen)
    assert outcome("pause.upper", leaves_of(pause_upper=ordered), seen) is expected


def test_without_the_display_seen_no_step_is_known():
    ordered, seen = leaves_of(pause_upper="20 cmH2O"), leaves_of(pause_upper="15 mmHg")
    assert outcome("pause.upper", ordered, seen) is Outcome.DIFFERS


@given(st.integers(-3000, 3000), st.integers(-30, 30), st.integers(1, 200))
def test_the_nearest_step_is_the_one_that_no_other_is_as_near_as(ordered, number, step):
    """By counting: every step within reach, and the distance to each."""
    seen = number * step
    steps = range(seen - 40 * step, seen + 41 * step, step)
    nearest = min(abs(Fraction(ordered - other)) for other in steps)
    alone = [other for other in steps if abs(ordered - other) == nearest] == [seen]
    assert is_nearest(ordered, seen, step) == alone
    assert not is_nearest(ordered, seen + step, 2 * step) or (seen + step) % (2 * step) == 0


def in_other_unit(leaf: Leaf) -> Leaf:
    """The same value, as if it had been written in another unit."""
    units = [unit for unit in TICKS[dimension_of_unit(leaf.unit)] if unit != leaf.unit]
    return replace(leaf, unit=units[0]) if units else leaf


@given(settings_drawn(PATHS), st.booleans())
def test_an_order_with_its_own_settings_shows_no_difference(leaves, other):
    seen = {path: leaves[path] for path in PATHS}
    if other:
        seen = {p: in_other_unit(x) if x.unit else x for p, x in seen.items()}
    rows = compare_settings(leaves, {**leaves, **seen}, load("read-back"))
    assert {row.outcome for row in rows} <= QUIET
    assert all(row.outcome is not Outcome.OPEN or not row.ordered.known for row in rows)


def changed(leaf: Leaf) -> Leaf:
    """Another value of the same setting, by more than any step."""
    field = field_table().fields[leaf.path]
    if field.kind == "quantity":
        assert isinstance(leaf.value, int)
        return replace(leaf, value=leaf.value + 10 * ticks_of(leaf.unit or ""))
    others = [choice for choice in field.choices if choice != leaf.value]
    return replace(leaf, value=others[0] if others else "another text", text="another text")


@given(settings_drawn(PATHS), st.sampled_from(SINGLE), st.booleans())
def test_one_setting_changed_is_exactly_that_difference(leaves, path, removed):
    if not leaves[path].known:
        leaves[path] = leaves_of(**{path.replace(".", "_"): EXAMPLES[path]})[path]
    other = Leaf(path) if removed else changed(leaves[path])
    rows = compare_settings(leaves, {**leaves, path: other}, load("read-back"))
    loud = {row.path: row.outcome for row in rows if row.outcome not in QUIET}
    assert set(loud) == {path}
    assert loud[path] in ({Outcome.MISSING} if removed else {Outcome.DIFFERS, Outcome.OTHER_UNIT})


EXAMPLES = {path: field_table().fields[path].example for path in SINGLE}


@pytest.mark.parametrize("unit", TICKS["pressure"])
@pytest.mark.parametrize("path", UNIT_OF)
def test_the_same_number_in_another_unit_is_called_so(unit, path):
    per = TICKS["pressure"]
    mine = Leaf(path, State.KNOWN, 7 * per[unit], unit, f"7 {unit}")
    (other,) = (u for u in per if u != unit)
    theirs = Leaf(path, State.KNOWN, 7 * per[other], other, f"7 {other}")
    bare = leaves_of()
    assert outcome(path, {**bare, path: mine}, {**bare, path: theirs}) is Outcome.OTHER_UNIT


def test_a_strength_in_units_is_another_than_the_same_number_in_mass():
    path = "irrigation.additive.concentration"
    ordered = leaves_of(irrigation_additive_concentration="10 mg/L")
    as_seen = {"10 mcg/mL": Outcome.EQUAL, "10 mg/mL": Outcome.OTHER_UNIT}
    as_seen |= {"10,000 units/L": Outcome.DIFFERS, "10 units/L": Outcome.OTHER_UNIT}
    for text, expected in as_seen.items():
        assert outcome(path, ordered, leaves_of(irrigation_additive_concentration=text)) is expected


def settings(**levels: str) -> dict[str, Leaf]:
    texts = {"therapy": "irrigation", "pause_lower": "2 mmHg", "treat_above": "8 mmHg"}
    return leaves_of(**{**texts, "pause_upper": "22 mmHg", "drainage_height": "5 mmHg", **levels})


def test_the_nearest_step_clears_nothing_that_verify_finds():
    leaves = settings(display_unit="mmHg", pause_upper="20 cmH2O")
    order = Order("order.yaml", leaves, ())
    seen = nothing_seen("entries")
    shown = settings(display_unit="mmHg", pause_upper="15 mmHg")
    seen = replace(seen, leaves={**seen.leaves, **{p: shown[p] for p in PATHS}})
    result = read_back(order, seen, AT, load("read-back"))
    found = {finding.rule: finding for finding in result.assessment.findings}
    assert "about 14.7 mmHg" in found["seen-rounded"].says
    assert not DIFFERENCES & {row.outcome for row in result.rows}
    rules = {finding.rule for finding in result.ordered.assessment.findings}
    assert "likely-other-unit" in rules
    assert result.verdict.value == "do-not-start"


def test_what_a_rounded_setting_does_is_said_too():
    """A rounding is small, and which way it goes is still worth a look."""
    leaves = settings(display_unit="mmHg", pause_upper="20 cmH2O")
    seen = {**nothing_seen("entries").leaves, **settings(display_unit="mmHg")}
    seen |= {"pause.upper": settings(pause_upper="15 mmHg")["pause.upper"]}
    order, shown = (Order("order.yaml", each, ()) for each in (leaves, seen))
    changes = {c.path: c for c in read_back(order, shown, AT, load("read-back")).effects}
    (stretch,) = changes["pause.upper"].differences
    assert (stretch.one.irrigation, stretch.other.irrigation) == ("off", "on")


SEEN = (FOLDER / "seen-as-ordered.yaml").read_text(encoding="utf-8")


def beside_the_clean_order(text: str):
    order = read_order(read((FOLDER / "clean.yaml").read_bytes(), "order.yaml", "order"))
    seen = read_seen(read(text.encode(), "seen.yaml", "settings-seen"))
    return read_back(order, seen, AT, load("read-back"))


def test_how_an_entry_is_written_is_no_notation_of_an_order():
    found = beside_the_clean_order(SEEN.replace("22 mmHg", "22.0 mmHg"))
    assert found.as_set.assessment.findings == ()


def test_what_is_not_seen_is_missing_where_it_was_looked_for():
    found = beside_the_clean_order(SEEN.replace("treat_above: 8 mmHg\n", ""))
    places = {item.rule: item.place.file for item in found.as_set.assessment.findings}
    assert places["missing-treat-above"] == "seen.yaml"
