"""Unsafe notation is found in a free text where it stands, and ordinary prose is left alone.

What is unsafe: the rows of facts.yaml under `notation`, each with its source there (The Joint
Commission's Do Not Use list; ISMP's list of error-prone abbreviations).
"""

from __future__ import annotations

import pytest
from each_case import of_each
from facts import FACTS, fact
from hypothesis import given
from hypothesis import strategies as st

from orderlint.reading.quantity_text import DASHES
from orderlint.reading.unsafe_notation import FLAGS, MOST_PER_FLAG, find_unsafe_notation

SHORT = "error-prone abbreviation"
SIGN = "error-prone symbol"
COMMA = "number without comma"
ZERO = "trailing zero"
NAKED = "naked decimal"
MINUS = "minus sign ambiguous"
ALPHABETS = "two alphabets"


def found(text: str) -> list[tuple[str, str]]:
    """Each flag with the characters that it marks."""
    return [(m.flag, text[m.offset : m.offset + m.length]) for m in find_unsafe_notation(text)]


# Row of facts.yaml: texts in which it must be found, each with what must be marked.
ROWS = {
    "trailing zero (5.0)": [
        (ZERO, "run at 5.0 mL/h", "5.0"),
        (ZERO, "in step 2 a rate of 5.0 mL/h", "5.0"),
        (ZERO, "not above 22.50", "22.50"),
        (ZERO, "rate of 5.00.", "5.00"),
        (ZERO, "10.0mL", "10.0"),
        (ZERO, "1,000.0 mL", "1,000.0"),
    ],
    "missing leading zero (.5)": [
        (NAKED, "flush with .5 mL", ".5"),
        (NAKED, ".25 mg", ".25"),
        (NAKED, "(.5 mL)", ".5"),
        (NAKED, "ICP below -.5", ".5"),
    ],
    "U, u, IU": [
        (SHORT, "heparin 10 U in each bag", "U"),
        (SHORT, "10U", "U"),
        (SHORT, "5,000 u", "u"),
        (SHORT, "100 U/mL", "U"),
        (SHORT, "5 U, then none", "U"),
        (SHORT, "heparin in U/mL", "U"),
        (SHORT, "100 IU", "IU"),
        (SHORT, "100IU/L", "IU"),
        (SHORT, "in IU", "IU"),
    ],
    "QD, QOD and variants": [
        (SHORT, "dressing QD", "QD"),
        (SHORT, "dressing qd", "qd"),
        (SHORT, "dressing q.d.", "q.d"),
        (SHORT, "dressing Q.D.", "Q.D"),
        (SHORT, "dressing q d", "q d"),
        (SHORT, "culture QOD", "QOD"),
        (SHORT, "culture q.o.d.", "q.o.d"),
        (SHORT, "culture q o d", "q o d"),
    ],
    "MS, MSO4, MgSO4": [
        (SHORT, "MS 2 mg", "MS"),
        (SHORT, "give MS.", "MS"),
        (SHORT, "MSO4", "MSO4"),
        (SHORT, "MgSO4 or none", "MgSO4"),
        (SHORT, "mgso₄", "mgso₄"),
    ],
    "cc": [
        (SHORT, "5 cc", "cc"),
        (SHORT, "5cc", "cc"),
        (SHORT, "5 CC", "CC"),
        (SHORT, "a 10-cc syringe", "cc"),
        (SHORT, "cc/h", "cc"),
        (SHORT, "mg/cc", "cc"),
        (SHORT, "drops per cc", "cc"),
    ],
    "ug written with the Greek letter": [
        (SHORT, "5 µg", "µg"),
        (SHORT, "5μg/mL", "μg"),
        (SHORT, "5 ug", "ug"),  # how the sign is typed where there is none; from memory
    ],
    "> and < in text": [
        (SIGN, "call if ICP > 20", ">"),
        (SIGN, "ICP<5", "<"),
        (SIGN, "ICP <-5", "<"),
        (SIGN, "ICP >= 20", ">"),
    ],
    "@, &, +": [
        (SIGN, "run @ 20 mL/h", "@"),
        (SIGN, "10 mL@1.5 mL/h", "@"),
        (SIGN, "colour & level", "&"),
        (SIGN, "saline + antibiotic", "+"),
        (SIGN, "+5 mmHg", "+"),
    ],
    "degree sign for hour": [
        (SIGN, "check q2°", "°"),
        (SIGN, "q4° flush", "°"),
        (SIGN, "look every 2° check", "°"),
        (SIGN, "check every 4 °", "°"),
        (SIGN, "for 24°", "°"),
    ],
    "1000000 without commas": [
        (COMMA, "1000000 units", "1000000"),
        (COMMA, "a 1000 mL bag", "1000"),
        (COMMA, "1500mL", "1500"),
        (COMMA, "a 1000-mL bag", "1000"),
        (COMMA, "a cell count above 10000", "10000"),
        (COMMA, "5000/µL", "5000"),
        (COMMA, "1200.5 mL", "1200"),
    ],
    "D/C": [
        (SHORT, "D/C the drain", "D/C"),
        (SHORT, "d/c after two samples", "d/c"),
        (SHORT, "drain D/C'd", "D/C'd"),
    ],
    "a minus sign that can be read as a dash (0-5, -5)": [
        (MINUS, "0-5", "0-5"),
        (MINUS, "keep ICP 0-5 mmHg", "0-5"),
        (MINUS, "ICP 5 - 10 and no more", "5 - 10"),
        (MINUS, "5 mmHg–10 mmHg", "5 mmHg–10"),
        (MINUS, "5–10 cmH2O", "5–10"),
        (MINUS, "-5-0", "-5-0"),
        (MINUS, "at −5 mmHg", "−"),
        (MINUS, "at –5 mmHg", "–"),
    ],
    "letters of two alphabets in one word": [
        (ALPHABETS, "\u0430lteplase 1 mg", "\u0430lteplase"),
        (ALPHABETS, "do not cl\u0430mp", "cl\u0430mp"),
        (ALPHABETS, "hep\u03b1rin, h\u03bfld", "h\u03bfld"),
    ],
}
# Of quantities in their fields, and of fluids: looked for there, not in prose.
ELSEWHERE = {
    "ml, l",
    "number and unit run together (10mL)",
    "period after a unit (mL.)",
    "NS, LR for a fluid",
}
CASES = [(row, *case) for row, cases in ROWS.items() for case in cases]


def test_every_row_of_the_lists_is_looked_for():
    rows = {row["flag"] for row in FACTS["notation"] if "flag" in row}
    assert rows == set(ROWS) | ELSEWHERE


@of_each(("row", "flag", "text", "marked"), CASES)
def test_a_row_of_the_lists_is_found_where_it_stands(row, flag, text, marked):
    source = fact("notation", row)
    assert source.get("source") or source["mark"] == "common-practice"
    assert found(text) == [(flag, marked)]


@pytest.mark.parametrize("dash", DASHES)
def test_any_dash_before_a_number_can_be_a_minus(dash):
    assert found(f"below {dash}5 mmHg") == [(MINUS, dash)]


PROSE = """
call before any change of the drain height
Drained fluid clear on two checks, or new bleeding.
Neurological change, new colour, leak, lost waveform.
Check every 2-3 hours; write down colour and volume.
Flush with 0.5 mL of sodium chloride 0.9 %, no more.
Change the bag after 1,500 mL, at the latest at 1400.
Keep the head of the bed at 30°.
Keep the temperature below 37.5 °C.
Call pager 5512 or extension 44170.
Neurosurgery registrar, 5512.
Call 020 7946 0000 or +44 20 7946 0000.
Phone 555-0100, day or night.
Write to icu.charge@example.org.
The patient came from the ICU after CT on 2026-03-02.
Seen on 02.03.2026 at 14:30, again at 15:00-16:00.
Operated on in the U.S. in 2019.
No MRI before 12/03/2026.
GCS 13-15 at the start; pain 0-10 on the scale.
Two nurses, 1-2 times each shift.
Give 10-20 mL slowly.
Level the drain at C3-4 and L4-5 films as shown.
Na+ and K+ twice a day; 2+ oedema; CD4+ low.
Known multiple sclerosis, no new symptoms.
Items on the list are in ms, not in seconds.
See H&P and I&O charts.
Turn the stopcock -> off, then call.
Occlusion is likelier with clots; according to pharmacy, accept pink fluid.
Irrigate with lactated Ringer's at the ordered rate.
Give 100 units of heparin with 10 mg of gentamicin.
Units: mmHg on the display, mL/h on the pump.
Hold for 5 min if ICP is greater than 22 mmHg.
No output for 10 mL run in: stop and call.
Drain clamped at most 30 min during transport.
Room 4U and bed 12 are for step-down.
Use version 2.0 of the ward's plan, section 1.10.
Sample 1 of 2 in tube A; 3.5 mL each.
From 0 to 5 mmHg the controller only watches.
5 mmHg below the reference, at most.
CPP at least 60 mmHg, MAP about 90 mmHg.
The catheter is 35 cm long, tunnelled 5 cm.
Re-zero at 0600, 1200, 1800 and 2400.
Order demo-1000, protocol #4417, form A-2000.
Water-seal, half-life and follow-up stay as they are.
A drop of 1 to 2 mmHg — no more — is expected.
Well-known: a so-called plateau wave, 50 to 100 mmHg.
cc: neurosurgery, neurology.
ECG: a U wave, no T wave.
Culture daily; antibiotic for 10-14 days.
Patient is 68 years old, weighs 70 kg, pH 7.35.
One drop in 3 s is 60 mL/h, roughly...5 checks are enough.
In 2024 the same drain was in for 9 days.
If quiet, quick look q2h; q.i.d. drops as before.
Discharge or discontinue in full words only.
Outflow 8 to 12 mL/h, i.e. about 200 mL a day.
Arterial pH 7.30, INR of 2.0, no drug for either.
MAP 65-80 mmHg, or MAP goal 70-90 mmHg as neurosurgery says.
NIHSS 0-4 is what is hoped for.
Call +1 (312) 555-0142 at night.
""".strip().splitlines()


def test_the_prose_is_enough():
    assert len(PROSE) >= 40


@of_each("text", PROSE)
def test_ordinary_prose_is_left_alone(text):
    assert found(text) == []


def test_all_of_the_prose_in_one_text_is_left_alone():
    assert found("\n".join(PROSE)) == []


PARTS = st.lists(
    st.one_of(
        st.sampled_from([text for *_, text, _ in CASES]),
        st.sampled_from(PROSE),
        st.text(" \n0123456789.,-–+<>@&°qQdDuUcMSO4/ab", max_size=12),
        st.text(max_size=6),
    ),
    max_size=8,
)


@given(PARTS)
def test_marks_lie_in_the_text_in_order_and_never_begin_with_white(parts):
    text = " ".join(parts)
    marks = find_unsafe_notation(text)
    assert list(marks) == sorted(marks, key=lambda mark: mark.offset)
    assert len(set(marks)) == len(marks)
    for flag, offset, length in marks:
        assert flag in FLAGS
        assert 0 < length <= len(text) - offset
        assert not text[offset].isspace()
        assert not text[offset + length - 1].isspace()


@given(st.sampled_from(CASES), st.sampled_from(PROSE))
def test_a_row_is_found_after_prose_as_well(case, prose):
    _, flag, text, marked = case
    assert found(f"{prose}\n{text}") == [(flag, marked)]


@pytest.mark.parametrize("flag", sorted(FLAGS))
def test_no_more_places_are_marked_than_anybody_would_read(flag):
    sample = next(text for _, kind, text, _ in CASES if kind == flag)
    marks = find_unsafe_notation("; ".join([sample] * 3 * MOST_PER_FLAG))
    assert sum(mark.flag == flag for mark in marks) == MOST_PER_FLAG
