"""Drawn notes: no value that they do not order is read, and most of what they plainly order is."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise

import pytest
from drawing import share_of
from intake.drawn_notes import OF_A_SETTING, notes, plain_clauses, with_a_word_put_in, wrong_values
from intake.hostile_words import AROUND

from orderlint.intake.text_reading import read_text


def assert_nothing_wrong(seed, count):
    wrong = Counter()
    shortest = {}
    for note in notes(seed, count):
        for path, _ in wrong_values(note):
            kind = (note.kind, path)
            wrong[kind] += 1
            shortest[kind] = min(shortest.get(kind, note.text), note.text, key=len)
    assert not wrong, "\n".join(f"{wrong[kind]} × {kind}: {shortest[kind]!r}" for kind in wrong)


@pytest.mark.hypothesis
def test_no_value_is_read_that_is_not_ordered():
    assert_nothing_wrong(seed=17, count=share_of(4_000))


@pytest.mark.deep
@pytest.mark.parametrize("shard", range(4))
def test_no_value_is_read_that_is_not_ordered_in_a_hundred_thousand(shard):
    assert_nothing_wrong(seed=100 + shard, count=25_000)


@pytest.mark.hypothesis
def test_most_plain_clauses_are_read():
    clauses = [one for one in plain_clauses(seed=18, count=share_of(4_000)) if one.ordered]
    found = [{value.path for value in read_text(one.text).values} for one in clauses]
    read = sum(paths >= set(one.ordered) for paths, one in zip(found, clauses, strict=True))
    assert read >= 0.7 * len(clauses)


@pytest.mark.hypothesis
def test_a_word_put_in_takes_the_value_away():
    for clause in plain_clauses(seed=19, count=share_of(600)):
        if ", " not in clause.text:
            for text in with_a_word_put_in(clause):
                assert not read_text(text).values, text


@pytest.mark.hypothesis
def test_what_is_read_and_what_is_not_cover_the_text():
    for note in notes(seed=20, count=share_of(2_000)):
        reading = read_text(note.text)
        clauses = sorted([*reading.understood, *reading.not_understood], key=lambda one: one.start)
        assert all(note.text[one.start : one.end] == one.text for one in clauses)
        assert all(one.end <= after.start for one, after in pairwise(clauses))
        assert not re.search(r"\w", outside(note.text, clauses)), note.text


def test_there_are_sixty_hostile_wordings_and_more():
    assert sum(map(len, AROUND.values())) >= 60
    assert sum(map(len, OF_A_SETTING.values())) >= 60


def outside(text, clauses):
    """What stands in no clause; a number of a list says nothing."""
    left, at = [], 0
    for one in clauses:
        left.append(text[at : one.start])
        at = one.end
    return re.sub(r"(?m)^\s*\d+[.)]", "", "\n".join([*left, text[at:]]))
