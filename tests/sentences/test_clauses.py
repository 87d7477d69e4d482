"""Cutting a text into clauses: nothing is lost, and no number is cut."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from orderlint.sentences.clauses import sentences_of

TEXTS = st.text(st.sampled_from("ab1. ,;\n\r-*•)\t") | st.characters(codec="utf-8"), max_size=60)


def clauses(text):
    return [clause for sentence in sentences_of(text) for clause in sentence.clauses]


@given(TEXTS)
def test_each_character_is_in_one_clause_or_parts_two(text):
    left, end = [], 0
    for clause in clauses(text):
        assert clause.start >= end
        assert text[clause.start : clause.end] == clause.text == clause.text.strip() != ""
        left.append(text[end : clause.start])
        end = clause.end
    left.append(text[end:])
    rest = "".join(left)
    kept = [c for c in rest if not c.isspace() and c not in ",;."]
    assert all(c in "-*•)" or c.isdigit() for c in kept)  # a bullet


def test_a_number_is_never_cut():
    found = [clause.text for clause in clauses("rate 1,000.5 mL/h, EVD at 5.0 mmHg. Stop; go")]
    assert found == ["rate 1,000.5 mL/h", "EVD at 5.0 mmHg", "Stop", "go"]


def test_a_bullet_is_no_part_of_a_clause():
    text = "1. rate 60 mL/h\n  - treat above 8 mmHg\n2) call"
    assert [clause.text for clause in clauses(text)] == [
        "rate 60 mL/h",
        "treat above 8 mmHg",
        "call",
    ]


def test_a_sentence_knows_its_paragraph_and_whether_it_is_a_line():
    found = [*sentences_of("a. b\n\nc, d\n")]
    assert [(s.paragraph, s.line, s.is_line) for s in found] == [
        (0, 0, False),
        (0, 0, False),
        (1, 2, True),
    ]
