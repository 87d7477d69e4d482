"""What is read by a shortcut is what would be read without it, whatever the text."""

from __future__ import annotations

import re
from itertools import product

import pytest
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st

from orderlint.finding import Place, Refused
from orderlint.mentions import reader, tokens
from orderlint.mentions.number_words import NUMBERS
from orderlint.mentions.reader import mentions_in
from orderlint.mentions.words import ACTS, LIMITS, OTHERS, SUBJECTS
from orderlint.reading import (
    from_json,
    limits,
    quantity_text,
    source_positions,
    unsafe_notation,
    worded_quantity,
    yaml_raw_text,
)
from orderlint.reading.node import Scalar
from orderlint.reading.unicode_checks import _is_refused, first_refused_offset

HERE = Place("o.yaml", 3, 5)
NUMERALS = st.from_regex(r"[-–+]?[0-9]{0,3}(,[0-9]{3})?(\.[0-9]{0,3})?", fullmatch=True)
UNITS = st.sampled_from(
    [
        *("mmHg", "cmH2O", "cmH2O/h", "mL/h", "mL / h", "mL per h", "h.", "hourly", "hrly"),
        *("Hourly", "e5", "to 5", "to5", "or5", "through5", "%", "", "mmHg\n"),
        *("x" * 12, "x" * 41, "x/" * 3),
    ]
)
QUANTITIES = st.builds(
    "{}{}{}{}".format, NUMERALS, st.sampled_from(["", " ", "  ", "-", "\u00a0"]), UNITS,
    st.sampled_from(["", "", " ", "y", "\n"]),
)  # fmt: skip
TEXTS = st.text("0123456789.,-–+e xX_:/ \u00a0~tomLHgyY½٣\n") | QUANTITIES | st.text()
FREE = st.lists(
    st.one_of(
        st.sampled_from(["5.0", ".5", "1000 mL", "above 2500", "-3-5 mmHg", "0-5", "ICP 3 – 5"]),
        st.sampled_from(["5 U", "5.,-cc", "10 iu", "µg", "QOD", "q.d", "MgSO₄", "D/C", ">", "+"]),
        st.sampled_from(["rаte", "−5", "q4°", "@", "&", "U/L", "IU", "in cc", "MS", "<", "pH 7.0"]),
        st.sampled_from([*NUMBERS, "clamp", "clamp’s", "turn-off", "wide\nopen", "ﬂush", "٣ mmHg"]),
        st.sampled_from([*OTHERS, *LIMITS]),
        st.text(" \n0123456789.,-–+<>@&°qQdDuUcMSO4/ab²µ'’\"\\", max_size=8),
        st.text(max_size=5),
    ),
    max_size=9,
).map(" ".join)  # fmt: skip


def _refusal(make):
    try:
        make()
    except Refused as refused:
        return refused.message, refused.place
    return None


@given(TEXTS)
def test_a_plain_quantity_is_split_as_any_other(text):
    assert quantity_text.split_quantity(text) == quantity_text._split_unusual(text)


@given(TEXTS)
def test_what_begins_with_a_digit_is_an_interval_in_words_as_before(text):
    shortly = worded_quantity.as_quantity_text(text)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(worded_quantity, "_DIGITS", frozenset())
        assert shortly == worded_quantity.as_quantity_text(text)


def test_only_two_letters_end_in_a_y_without_regard_to_case():
    characters = map(chr, range(0x20000))  # beyond are no letters that have a case
    assert {c for c in characters if c.casefold()[-1] == "y"} == {"y", "Y"}


@given(FREE)
def test_no_mark_is_missed_by_what_is_tried_before_it(text):
    hinted = list(unsafe_notation._hinted(text.casefold()))
    for search in unsafe_notation._SEARCHES:
        if re.search(search.pattern, text):
            assert search in hinted
            assert not search.likely or re.search(search.likely, text)


@given(FREE)
def test_nothing_is_named_where_there_is_no_number_and_no_verb(text):
    shortly = mentions_in(text)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(reader, "has_number_or", lambda *_: True)
        assert shortly == mentions_in(text)


PHRASES = {word for subject in SUBJECTS.values() for word in subject.words}
PHRASES |= {word for act in ACTS.values() for word in (*act.verbs, *act.objects)}
PHRASES = {word for word in (*PHRASES, *OTHERS, *LIMITS) if " " in word}
SOME_WORDS = sorted({word for phrase in PHRASES for word in phrase.split()} | {",", "5", "x", "."})


@given(st.lists(st.sampled_from(SOME_WORDS) | st.sampled_from(sorted(PHRASES)), max_size=8))
def test_the_longest_phrase_is_joined_wherever_one_stands(words):
    pieces = tokens._pieces(" ".join(words))
    expected, rest = [], pieces
    while rest:
        runs = (
            " ".join(token.text for token in rest[:length]) for length in range(len(rest), 1, -1)
        )
        joined = next((run for run in runs if run in PHRASES), rest[0].text)
        expected.append(joined)
        rest = rest[joined.count(" ") + 1 :]
    found = tokens._join_phrases(pieces)
    assert [token.text for token in found] == expected
    assert [(t.start, t.end) for t in found if " " not in t.text] == [
        (t.start, t.end) for t in pieces if t in found
    ]


JSON = (
    *("1", "[]", "[[[1]]]", "[1, 2, 3]", '["[,{:", "]"]', '{"a": {"a": 1}, "b": []}'),
    *('{"a": 1, "a": [[2]]}', "[NaN, [[1]]]", "[[1], [1, 2], {}]", "[1, 2,]", "[[1}", "1 2 3 4"),
)


@of_each(("text", "most", "deepest"), product(JSON, range(1, 8), range(1, 5)))
def test_a_text_is_refused_for_the_limits_of_json_before_all_else(text, most, deepest):
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(from_json, "DEEPEST", deepest)
        limited = _refusal(lambda: from_json._check_limits(text, "o.json", most))
        read = _refusal(lambda: from_json.read_json(text, "o.json", most))
        patched.setattr(from_json, "_check_limits", lambda *_: None)
        patched.setattr(from_json, "DEEPEST", limits.DEEPEST)
        assert read == (limited or _refusal(lambda: from_json.read_json(text, "o.json", most)))


@given(st.text(yaml_raw_text._MARKS + "\u00a0#-?"))
def test_marks_that_are_not_matched_are_explained(text):
    if not text.strip(yaml_raw_text._MARKS):
        explained = yaml_raw_text._EXPLAINED.match(text)
        assert explained is not None
        assert explained.end() == len(text)


@given(FREE, st.sampled_from(["'", '"', ">\n", "|\n", ""]), st.booleans())
def test_places_are_counted_alike_in_a_text_as_it_is_written(text, mark, closed):
    raw = f"{mark}{text}{mark if closed else ''}"
    scalar = Scalar(text, raw, "text", HERE)
    shift = source_positions._as_written(scalar)
    if shift is not None:
        offsets = [at for at, character in enumerate(text) if not character.isspace()]
        shortly = list(source_positions.places_within(scalar, offsets))
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(source_positions, "_as_written", lambda _: None)
            assert shortly == list(source_positions.places_within(scalar, offsets))


@given(st.text("a0\n\r\t \x00\x7f\u00ad٣", max_size=60) | st.text())
def test_a_plain_value_has_nothing_to_be_refused_for(text):
    made = _refusal(lambda: limits.make_scalar(text, text, "text", HERE))
    assert made == _refusal(lambda: limits._check_text(text, HERE))


@given(st.text("a\n\r\t \x00\x1b\x7f\u00ad", max_size=12) | st.text())
def test_a_text_of_lines_has_the_same_first_character_that__is_refused(text):
    refused = (
        offset
        for offset, character in enumerate(text)
        if (_is_refused(character) and character not in "\n\t\r")
        or (character == "\r" and text[offset + 1 : offset + 2] != "\n")
    )
    assert first_refused_offset(text) == next(refused, None)


UNITS_OF_TEXTS = tokens._units()
LONGEST_FIRST = re.compile(
    "|".join(
        re.escape(unit).replace("/", r"\s?/\s?").replace(r"\ ", r"\s")
        for unit in sorted(UNITS_OF_TEXTS, key=len, reverse=True)
    ).join((r"[\s-]{0,2}(", r")(?![\w/])")),
    re.IGNORECASE,
)
ENDS = ("", "s", "/", " / h", " per mL", "/mL", "\u00a0an hour", "-x", "2")


@given(st.sampled_from(sorted(UNITS_OF_TEXTS)), st.sampled_from(("", " ", "--")), st.data())
def test_the_longest_unit_is_read_wherever_one_stands(unit, gap, data):
    text = f"{gap}{unit}{data.draw(st.sampled_from(ENDS))}"
    text = data.draw(st.sampled_from((text, text.upper(), text.replace("/", " / "))))
    *found, end = tokens._unit_after(text, 0)
    longest = LONGEST_FIRST.match(text)
    assert end == (longest.end() if longest else 0)
    if longest is None:
        return
    said = " ".join(longest[1].split()).casefold().replace(" /", "/").replace("/ ", "/")
    assert tuple(found) == UNITS_OF_TEXTS[said]
