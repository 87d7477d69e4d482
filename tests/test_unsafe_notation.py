"""What is said of unsafe notation in a free text: at which character, in which words and fields."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.fields import field_table
from orderlint.order import FLAGS
from orderlint.reading import quantity_text, unsafe_notation
from orderlint.reading.unsafe_notation import UnsafeNotation, find_unsafe_notation
from orderlint.rulebook.load import load
from orderlint.templates import AROUND, MOST_QUOTED, quote_place
from orderlint.verification import verify

HEAD = "document: order\nformat: 1\n"
FIELDS = field_table().fields
TEXTS = [path for path, field in FIELDS.items() if field.kind == "text"]
QUANTITIES = [path for path, field in FIELDS.items() if field.kind == "quantity"]
RULES = load("all").rules


def finding(data: str, rule: str, file: str = "order.yaml"):
    (found,) = [f for f in verify(data.encode(), file, 0).assessment.findings if f.rule == rule]
    return found


def character(data: str, place) -> str:
    return data.split("\n")[place.line - 1][place.column - 1]


@pytest.mark.parametrize(
    ("rule", "paths"),
    [
        ("trailing-zero", [*QUANTITIES, *TEXTS]),
        ("naked-decimal", [*QUANTITIES, *TEXTS]),
        ("minus-sign-ambiguous", [*QUANTITIES, *TEXTS]),
        ("error-prone-abbreviation", TEXTS),
        ("error-prone-symbol", TEXTS),
        ("number-without-comma", TEXTS),
    ],
)
def test_every_field_that_a_flag_can_stand_in_is_looked_at(rule, paths):
    assert sorted(instance.it for instance in RULES[rule].instances) == sorted(paths)


def test_every_flag_of_a_text_is_one_that_a_leaf_can_have():
    assert unsafe_notation.FLAGS | quantity_text.FLAGS < FLAGS


def test_a_label_is_no_text():
    data = f"{HEAD}id: U-1000 & 5.0\nzone: 10 U\nindication: demo\n"
    assert not [
        f for f in verify(data.encode(), "o.yaml", 0).assessment.findings if f.family == "notation"
    ]


LEAD = "give this slowly and with care, "


@pytest.mark.parametrize(
    "written",
    [
        f"stop_when: {LEAD}10 U of it\n",
        f"stop_when: {LEAD}\n  10\n  U of it\n",
        f"stop_when: '{LEAD} it''s 10 U of it'\n",
        f'stop_when: "{LEAD}\\n 10\\tU of \\\n  it"\n',
        f'stop_when: "{LEAD} 10 \\x55 of it"\n',
        f"stop_when: |\n  {LEAD}\n\n    10 U of it\n",
        f"stop_when: >- # 10 U\n  {LEAD}\n  10 U of it\n",
    ],
)
def test_the_place_is_that_of_the_character(written):
    data = HEAD + written
    found = finding(data, "error-prone-abbreviation")
    assert character(data, found.place) in {"U", "\\"}
    assert found.says.endswith("of it”.")
    assert "10 U of it" in found.written


def test_the_place_in_json_is_that_of_the_character():
    data = json.dumps(
        {"document": "order", "format": 1, "stop_when": 'the "first"\n5 \u00b5g of it'}
    )
    found = finding(data, "error-prone-abbreviation", "order.json")
    assert data[found.place.column - 1 :].startswith("\\u00b5g")


def test_each_place_of_one_text_is_named_and_the_first_few_are_quoted():
    numbers = [f"{n}.0 mL" for n in range(1, MOST_QUOTED + 3)]
    data = f"{HEAD}instructions: {', then '.join(numbers)}\n"
    found = finding(data, "trailing-zero")
    places = [found.place, *(mention.place for mention in found.also)]
    assert [character(data, place) for place in places] == ["1", "2", "3", "4", "5"]
    assert {mention.path for mention in found.also} == {"instructions"}
    assert found.says.endswith(" and 2 more.")
    assert found.says.count("“") == MOST_QUOTED
    assert found.ask.endswith("1, 2, 3, 4, 5?")


def test_a_quantity_and_a_text_are_one_finding():
    data = f"{HEAD}irrigation: {{rate: 5.0 mL/h}}\ninstructions: then 6.0 mL/h\n"
    found = finding(data, "trailing-zero")
    assert (found.path, found.written, str(found.place)) == (
        "irrigation.rate",
        "5.0 mL/h",
        "order.yaml:3:20",
    )
    (other,) = found.also
    assert (other.path, other.written) == ("instructions", "“then 6.0 mL/h”")
    assert found.says == (
        "In the irrigation rate a number ends in a zero after its decimal point: 5.0 mL/h. "
        "In the instructions a number ends in a zero after its decimal point: “then 6.0 mL/h”."
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("10 U", "“10 U”"),
        ("a small dose of 10 U for each bag of it", "“…dose of 10 U for each…”"),
        ("one\n\n10 U\tnow", "“one 10 U now”"),
        (f"{'x' * 40}10 U", "“…xxxxxxxxx10 U”"),
        (f"10 U.{'y' * 40}", "“10 U.yyyyyyyyyyy…”"),
    ],
)
def test_the_few_characters_around_a_mark(text, said):
    assert quote_place(text, UnsafeNotation("", text.index("U"), 1)) == said


@given(st.text("ab \n", max_size=60), st.text("ab \n", max_size=60))
def test_what_is_quoted_is_short_and_holds_what_is_marked(before, after):
    said = quote_place(f"{before}U{after}", UnsafeNotation("", len(before), 1))
    assert "U" in said
    assert "\n" not in said
    assert len(said) <= 2 * AROUND + len("“…U…”")


def test_the_schema_s_own_examples_are_plain():
    assert not [path for path in TEXTS if find_unsafe_notation(FIELDS[path].example)]


def test_the_places_of_the_example_order():
    path = Path(__file__).resolve().parents[1] / "examples/free-text.yaml"
    data = path.read_text(encoding="utf-8")
    flagged = {
        (f.rule, character(data, place.place))
        for f in verify(data.encode(), "o.yaml", 0).assessment.findings
        if f.family == "notation"
        for place in (f, *f.also)
    }
    assert flagged == {
        ("naked-decimal", "."),
        ("trailing-zero", '"'),
        ("minus-sign-ambiguous", "0"),
        ("error-prone-abbreviation", "D"),
        ("error-prone-abbreviation", "Q"),
        ("error-prone-abbreviation", "U"),
        ("error-prone-symbol", "&"),
        ("error-prone-symbol", ">"),
        ("error-prone-symbol", "°"),
        ("number-without-comma", "1"),
    }
