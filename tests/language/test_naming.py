"""What a text names: whole words, however they are joined, unless they are ruled out."""

from __future__ import annotations

import pytest
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st

from orderlint.fields import field_table
from orderlint.language import naming
from orderlint.language.model_leaves import named_in, text_naming
from orderlint.language.naming import names_one

CLOT = ("alteplase", "rt-PA", "tPA", "t-PA", "TNK", "plasminogen activator")
KEPT = (
    *("bacteriostatic", "benzyl alcohol", "preservative", "preservatives", "preserved"),
    "antimicrobial preservative",
)


@of_each(
    "text",
    [
        *("alteplase", "Alteplase 1 mg in 1 mL", "ALTEPLASE", "tPA2mg", "rt‑PA", "T‐PA", "rt PA"),
        *("alteplase free of preservatives", "no bacteriostatic alteplase", "not preserved tPA"),
        *("preservative-free alteplase", "no preservative alteplase", "alteplase, no preservative"),
        *("alteplase—no preservative", "no heparin, alteplase", "tissue plasminogen\nactivator"),
        *(
            "nothing but alteplase",
            "no alteplase, TNK",
            "(alteplase)",
            "ａｌｔｅｐｌａｓｅ",
            "no; tPA",
        ),
    ],
)
def test_a_name_is_found_however_it_is_written(text):
    assert names_one(text, CLOT)


@of_each(
    "text",
    [
        *("", "vancomycin", "malteplase", "alteplases", "al teplase", "rtPA", "at PA", "PA", "t"),
        *("no alteplase", "No alteplase until secured", "never give alteplase", "alteplase-free"),
        *("no tPA or TNK", "without any more tPA", "do not give tPA/TNK", "free of alteplase"),
        *("alteplase is contraindicated", "tPA withheld", "not for alteplase", "tPA-free"),
        *("hold the alteplase", "plasminogen", "activator plasminogen"),
    ],
)
def test_what_is_no_name_or_is_ruled_out_is_not_found(text):
    assert not names_one(text, CLOT)


@pytest.mark.parametrize(
    ("text", "is_named"),
    [
        ("bacteriostatic saline", True),
        ("saline with preservative", True),
        ("benzyl  alcohol 0.9 %", True),
        ("preservative-free", False),
        ("PRESERVATIVE‑FREE", False),
        ("preservative free, bacteriostatic", True),
        ("no preservatives", False),
        ("non-preserved", False),
        ("unpreserved", False),
        ("contains no antimicrobial preservative", False),
        ("without benzyl alcohol or preservatives", False),
        ("vancomycin (not preservative free)", True),
        ("preservative free: no", True),
        ("preservative-free? No", True),
        ("preservative-free: yes", False),
        ("preservative free, no alteplase", False),
        ("no preservatives / preservative free", False),
        ("not pyrogenic, preservative free", False),
    ],
)
def test_a_preservative_is_told_from_its_absence(text, is_named):
    assert names_one(text, KEPT) is is_named


# As the whole words of a text stand in it: a plain search says the same where nothing is denied.
@given(st.lists(st.sampled_from(["alteplase", "tPA", "x", "alte", "5", ","]), max_size=6))
def test_without_a_denial_a_word_is_named_where_it_stands(words):
    assert names_one(" ".join(words), ("alteplase", "tpa")) is bool({"alteplase", "tPA"} & {*words})


def test_the_longest_name_is_taken_as_one():
    assert not names_one("no potassium chloride", ("potassium", "potassium chloride", "chloride"))
    assert names_one("no potassium, chloride", ("potassium", "chloride"))


LISTS = [("saline", "salt"), ("salt", "sugar"), ("sugar",), ("irrigation",)]


@pytest.mark.parametrize("wanted", [(), (0,), (1, 2), (0, 1), (0, 1, 2), (3,)])
def test_a_text_is_made_that_names_what_is_wanted_alone(wanted):
    meant = frozenset(LISTS[n] for n in wanted)
    fields = field_table().fields
    assert named_in(text_naming(fields["stop_when"], "any", meant, LISTS), LISTS) == meant
    text = text_naming(fields["irrigation.fluid"], "other", meant, LISTS)
    assert named_in(text, LISTS) == meant
    assert fields["irrigation.fluid"].choice_of(text) == "other"


def test_a_text_made_for_a_choice_is_a_spelling_of_it():
    fluid, salt = field_table().fields["irrigation.fluid"], "sodium chloride 0.9 %"
    for wanted in (frozenset(), frozenset({LISTS[0]}), frozenset({LISTS[3]})):
        text = text_naming(fluid, salt, wanted, LISTS)
        assert (fluid.choice_of(text), named_in(text, LISTS)) == (salt, wanted)
    with pytest.raises(StopIteration):
        text_naming(fluid, salt, frozenset({LISTS[2]}), LISTS)


@pytest.mark.parametrize(
    ("text", "is_named"),
    [
        ("do not stop alteplase", True),
        ("never withhold alteplase", True),
        ("hold for alteplase 1 mg", True),
        ("stop to give alteplase", True),
        ("stop alteplase", False),
        ("hold the alteplase", False),
        ("no alteplase", False),
    ],
)
def test_what_is_not_stopped_is_given(text, is_named):
    assert names_one(text, ("alteplase",)) is is_named


def test_a_text_without_a_word_of_a_list_is_not_walked(monkeypatch):
    """Dozens of rules ask what a text names; a walk for each of them took a second of 100 kB."""
    monkeypatch.setattr(naming, "_entry_at", lambda *_: pytest.fail("walked"))
    assert not names_one("run at 60 mL/h, " * 1_000, CLOT)
