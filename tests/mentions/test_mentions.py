"""What a free text mentions is found word by word, what is negated is left out, and in time."""

from __future__ import annotations

import time

import pytest
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st

from orderlint.mentions.reader import mentions_in
from orderlint.mentions.words import ACTS, AGREES, ANY, OTHERS, SUBJECTS
from orderlint.report.rules.listing import words_looked_for


def said(text: str) -> list[str]:
    """The words of what is mentioned: of an act that is only listed, in brackets."""
    found = mentions_in(text)
    words = [text[item.offset : item.offset + item.length] for item in found]
    return [word if item.asks else f"({word})" for word, item in zip(words, found, strict=True)]


NUMBERS = [
    ("run at 60 mL/h", "60 mL/h", "irrigation.rate"),
    ("Run at 60.", "60", "irrigation.rate"),
    ("keep drain at 10 cm", "10 cm", "drainage.height"),
    ("the drain as before, 10 cm H2O above it", "10 cm H2O", "drainage.height"),
    ("Drain height: ten cmH2O", "ten cmH2O", "drainage.height"),
    ("set the drain to zero", "zero", "drainage.height"),
    ("ICP hourly; call if above 20", "20", "notify.icp_above"),
    ("ICP hourly. Call if > 20", "20", "notify.icp_above"),
    ("increase by 10 mL/h every 2 h", "10 mL/h", "titration.step"),
    ("EVD at 10\nabove the ear", "10", "drainage.height"),
    ("the drain at -5", "5", "drainage.height"),
    ("15 mmHg ICP", "15 mmHg", "pause.upper"),
    ("ICP>20mmHg", "20mmHg", "notify.icp_above"),
    ("ICP above 20 for more than 5 min", "20", "notify.icp_above"),
    ("ICP above 20 and 5 nurses", "20", "notify.icp_above"),
    ("open at 15 mmHg", "15 mmHg", "treat_above"),
    ("treat-above 8", "8", "treat_above"),
    ("upper pause limit of 22", "22", "pause.upper"),
    ("CPP at least 60", "60", "targets.cpp_min"),
    ("MAP 65", "65", "targets.map"),
    ("drain 10 mL/h", "10 mL/h", "drainage.hourly_max"),
    ("output above 20 cc/hr", "20 cc/hr", "drainage.hourly_max"),
    ("2 mL/kg/h of irrigation", "2 mL/kg/h", "irrigation.rate"),
]


@of_each(("text", "word", "path"), NUMBERS)
def test_a_number_of_a_setting_is_found(text, word, path):
    (found,) = mentions_in(text)
    assert said(text) == [word]
    assert path in found.paths


@pytest.mark.parametrize("letter", ["ı", "İ"])
def test_a_letter_that_only_looks_like_one_of_a_unit_is_none(letter):
    assert said(f"keep ICP at 20 m{letter}n") == ["20"]


@pytest.mark.parametrize("text", ["ICP 10-15 mmHg", "ICP 10 to 15 mmHg", "ICP of 10 or 15 mmHg"])
def test_both_numbers_of_a_range_have_its_unit_and_its_place(text):
    first, last = mentions_in(text)
    assert (first.number.unit, last.number.unit) == ("mmHg", "mmHg")
    assert [item.number.number.digits for item in (first, last)] == ["10", "15"]
    assert not last.number.number.negative
    assert said(text)[0] == said(text)[1]


def test_a_volume_of_the_drain_is_found_and_means_no_one_setting():
    (found,) = mentions_in("200 mL of output in 8 h")
    assert found.paths == ()


ACTS_ASKED = [
    ("clamp at night", "clamp"),
    ("if the ICP is low the drain is to be clamped", "clamped"),
    ("call if the ICP is high, drain clamped until then", "clamped"),
    ("the drain is to be clamped at 22:00", "clamped"),
    ("Clamping trial tomorrow", "Clamping"),
    ("flush with a little saline", "flush"),
    ("If no output flush the line", "flush"),
    ("do not forget to flush", "flush"),
    ("do not stop flushing", "flushing"),
    ("do not hesitate to clamp", "clamp"),
    ("Do not clamp; flush daily", "flush"),
    ("Do not clamp, flush daily", "flush"),
    ("raise the drain", "raise the drain"),
    ("lower the height of the drain", "lower the height"),
    ("the EVD may be raised", "EVD may be raised"),
    ("wean the EVD", "wean the EVD"),
    ("increase the irrigation rate", "increase the irrigation rate"),
    ("slow the pump", "slow the pump"),
    ("run wide open", "wide open"),
    ("the rate can be doubled", "rate can be doubled"),
    ("close the drain at night", "close the drain"),
    ("keep the drain shut", "drain shut"),
    ("turn the drain off", "drain off"),
    ("do not open the drain", "open the drain"),
    ("never unclamp", "unclamp"),
    ("then a bolus of saline", "bolus"),
    ("if it runs out, run tap water", "run tap water"),
    ("irrigation with water for injection", "irrigation with water for injection"),
    ("no ICP monitoring at night", "no ICP monitoring at night"),
]


@of_each(("text", "word"), ACTS_ASKED)
def test_an_act_is_found(text, word):
    assert said(text) == [word]


LISTED = [
    "keep the drain open",
    "EVD open to drain at all times unless transporting",
    "unclamp in the morning",
    "flushing by neurosurgery only",
    "NSGY to flush only",
    "do not clamp unless told so",
    "never flush until the scan is seen",
]


@pytest.mark.parametrize("text", LISTED)
def test_what_is_only_listed(text):
    (found,) = said(text)
    assert found.startswith("(")


QUIET = """
do not clamp
Don't clamp.
Don’t ever clamp the drain.
never flush
Never flush; do not clamp, open or move the drain.
Do not clamp, flush or raise the drain.
Do not flush or clamp.
No clamping, no flushing.
no routine flushing
without clamping the drain
must not be clamped
The drain is never to be raised.
The drain must not be clamped or flushed.
Avoid flushing.
Clamping is not allowed.
Flushing forbidden.
no clamping without calling neurosurgery
Do not aspirate or flush.
Call if the drain is clamped.
Check that the roller clamp and all clamps are open.
Don't leave the drain clamped.
Flush peripheral IV lines every 8 h.
NG tube clamped for feeds
call before any change of the drain height
Call neurosurgery before clamping or flushing the drain.
Ask before raising the drain.
head of bed up 30
Raise the head of the bed to 30 degrees, drain at the tragus.
HOB 30, nothing by mouth
Raise legs.
neurological change, new colour, leak, lost waveform
Drained fluid clear on two checks, or new bleeding.
drainage clear for 24 h
drained fluid clear on 2 samples
clearing of the drained fluid
Level and zero the drain every 4 h, with 2 nurses.
Check drain q4h.
re-level the drain after every move
EVD day 5
at 0600 look at the drain
at 14:30 look at the drain
the drain of 2026-03-02
heart rate above 120, respiratory rate below 8, temperature above 38.5
SBP above 160 mmHg, urine output below 30 mL/h
PaCO2 35 to 40 mmHg
maintenance fluids at 75 mL/h
catheter tunnelled 5 cm
facial flushing, rash
lower blood pressure
the lower end of the scale
pager 5512 if the drain stops
Irrigate with lactated Ringer's at the ordered rate.
no alteplase until secured
SC heparin continues
GCS falls by 2 points
Write to icu.charge@example.org.
Two nurses, 1-2 times each shift.
""".strip().splitlines()


@of_each("text", QUIET)
def test_what_names_no_setting_or_is_negated_is_quiet(text):
    assert mentions_in(text) == ()


def test_all_that_is_quiet_is_quiet_together():
    assert said("\n".join(QUIET)) == []


@of_each(("text", "word"), [case[:2] for case in NUMBERS])
def test_a_number_is_found_among_what_is_quiet(text, word):
    assert word in said("\n".join(["never flush.", text, "Do not clamp."]))


def test_the_table_of_words_is_one():
    words = [word for subject in SUBJECTS.values() for word in subject.words]
    assert len(words) == len(set(words))
    assert not OTHERS & set(words)
    assert all(word == word.casefold() for word in (*words, *OTHERS))
    assert {act for _, act in AGREES} <= set(ACTS)
    assert set(ANY.paths) == {"pressure", "flow"}


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("text-number-differs", ["foramen of monro: drain height", "urine output"]),
        ("text-asks-for-act", ["To clamp: clamp, clamped", "(beside drain", "never, no"]),
        ("unit-missing", []),
    ],
)
def test_the_words_are_shown_with_their_rule(rule, words):
    said = " ".join(f"{name}: {text}" for name, text in words_looked_for(rule))
    assert all(word in said for word in words)
    assert bool(said) is bool(words)


TEXTS = st.lists(
    st.one_of(
        st.sampled_from([text for text, *_ in (*NUMBERS, *ACTS_ASKED)]),
        st.sampled_from([*QUIET, *LISTED, *ACTS, *SUBJECTS]),
        st.text(" \n0123456789.,-–/;:'’mLhH²٣", max_size=12),
        st.text(max_size=6),
    ),
    max_size=8,
)


@given(TEXTS, st.sampled_from([" ", ". ", ", ", "\n", ""]))
def test_whatever_stands_there_what_is_mentioned_lies_in_its_sentence(parts, joint):
    text = joint.join(parts)
    found = mentions_in(text)
    assert list(found) == sorted(found, key=lambda item: item.offset)
    for item in found:
        begin, end = item.sentence
        assert 0 <= begin <= item.offset < item.offset + item.length <= end <= len(text)
        assert not text[item.offset].isspace()
        assert bool(item.act or item.against) is (item.number is None)


HOSTILE = [
    *("clamp ", "clamp, ", "do not clamp or ", "clamp for transport 5 min ", "no the ", "only "),
    *("drain is ", "raise the ", "head of the ", "call before ", "10 ", "1", "1/", "1-", "10 - "),
    *("10 mL/h ", "was 5 ", "call if ICP above 5 "),
    *("1,000,", "10 to ", "10 mL / ", "\n", "\n\na", "a'", "'", ".", "1."),
]


@pytest.mark.slow
@pytest.mark.parametrize("piece", HOSTILE)
def test_the_time_grows_with_the_text_alone(piece):
    """A text of 20,000 characters takes a twentieth of a second; a square would take some."""
    began = time.process_time()
    mentions_in(piece * (20_000 // len(piece)))
    assert time.process_time() - began < 1


@pytest.mark.parametrize("unit", ["m\u0131n", "m\u0130n", "m\u0131crograms", "\u0130U"])
def test_a_letter_that_only_looks_like_an_i_makes_no_unit(unit):
    """To a pattern without regard to case it is an i; to all else it is another letter."""
    (found,) = mentions_in(f"ICP above 10 {unit} twice")
    assert found.number is not None
    assert (found.number.unit, found.length) == ("", 2)
