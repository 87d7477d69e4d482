"""Drawn notes: no value that they do not order is read, and most of what they plainly order is."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from drawing import share_of
from sentences.drawn_notes import (
    OF_A_SETTING,
    contradictions,
    notes,
    plain_clauses,
    with_a_word_put_in,
    wrong_values,
)
from sentences.hostile_words import AROUND

from orderlint.sentences.text_reading import read_text


def assert_nothing_wrong(seed, count):
    shortest = {}
    for note in notes(seed, count):
        if wrong_values(note):
            kind = f"{note.kind}: {note.wording}"
            shortest[kind] = min(shortest.get(kind, note.text), note.text, key=len)
    assert not shortest, "\n".join(f"{kind!r}, as {text!r}" for kind, text in shortest.items())


@pytest.mark.hypothesis
def test_no_value_is_read_that_is_not_ordered():
    assert_nothing_wrong(seed=17, count=share_of(2_000))


@pytest.mark.deep
@pytest.mark.parametrize("shard", range(4))
def test_no_value_is_read_that_is_not_ordered_in_a_hundred_thousand(shard):
    assert_nothing_wrong(seed=100 + shard, count=30_000)  # some are drawn twice


@pytest.mark.hypothesis
def test_most_plain_clauses_are_read():
    clauses = [one for one in plain_clauses(seed=18, count=share_of(2_000)) if one.ordered]
    found = [{value.path for value in read_text(one.text).values} for one in clauses]
    read = sum(paths >= set(one.ordered) for paths, one in zip(found, clauses, strict=True))
    assert read >= 0.7 * len(clauses)


@pytest.mark.hypothesis
def test_of_two_values_for_a_setting_neither_is_read():
    for note in contradictions(seed=21, count=share_of(300)):
        if not read_text(note.text).not_understood:
            assert not wrong_values(note), note.text


@pytest.mark.hypothesis
def test_a_word_put_in_takes_the_value_away():
    for clause in plain_clauses(seed=19, count=share_of(400)):
        if ", " not in clause.text and read_text(clause.text).values:
            for text in with_a_word_put_in(clause):
                assert not read_text(text).values, text


@pytest.mark.hypothesis
def test_what_is_read_and_what_is_not_cover_the_text():
    for note in notes(seed=20, count=share_of(1_000)):
        reading = read_text(note.text)
        clauses = [one.clause for one in (*reading.understood, *reading.not_understood)]
        spans = sorted((one.start, one.start + len(one.text), one.text) for one in clauses)
        assert all(note.text[start:end] == words for start, end, words in spans)
        assert all(end <= after for (_, end, _), (after, _, _) in pairwise(spans))
        assert not re.search(r"\w", outside(note.text, spans)), note.text


@pytest.mark.hypothesis
def test_a_value_stands_in_the_text_where_it_is_said_to():
    for note in notes(seed=22, count=share_of(1_000)):
        for value in read_text(note.text).values:
            there = note.text[value.start : value.end]
            assert value.text == there or value.text.startswith(there), note.text


def test_there_are_sixty_hostile_wordings_and_more():
    assert sum(map(len, AROUND.values())) >= 60
    assert sum(map(len, OF_A_SETTING.values())) >= 60


def outside(text, spans):
    """What stands in no clause; a number of a list says nothing."""
    left, at = [], 0
    for start, end, _ in spans:
        left.append(text[at:start])
        at = end
    return re.sub(r"(?m)^\s*\d+[.)]", "", "\n".join([*left, text[at:]]))
