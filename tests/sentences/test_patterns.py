"""Every pattern by its own examples, and what no pattern may read.

The clauses are common practice, no published source.
"""

from __future__ import annotations

import itertools
import re

import pytest
from drawing import share_of
from each_case import holds_of_each

from orderlint.fields import field_table
from orderlint.mention_check import faults as mention_check
from orderlint.sentences import text_reading
from orderlint.sentences.patterns import (
    compile_pattern,
    labelled,
    pattern_records,
    patterns,
    record_text,
)
from orderlint.sentences.text_reading import read_text

RECORDS = {record_text(record, "reads"): record for record in pattern_records()}
LABELLED = [f for path, f in field_table().fields.items() if path not in {"document", "format"}]
BREAKING = ("not", "if", "was", "or", "about", "unless", "until", "never", "previously", "?")


def read_examples(record):
    for item in record.get("examples").items:
        values = {entry.key.text: entry.value.text for entry in item.entries}
        yield values.pop("clause"), values


def label_example(field):
    return f"{field.name}: {field.example}", {field.path: field.example}


EXAMPLES = [
    *(each for record in RECORDS.values() for each in read_examples(record)),
    *map(label_example, LABELLED),
]


def values_in(text):
    reading = read_text.__wrapped__(text)  # nothing kept: one test takes patterns away
    return {value.path: value.text for value in reading.values}


def test_each_example_is_read_as_it_says_and_what_is_not_to_be_read_is_not():
    holds_of_each(EXAMPLES, lambda each: check_equal(values_in(each[0]), each[1]))
    unread = [n.text for record in RECORDS.values() for n in record.get("not_read").items]
    holds_of_each(unread, lambda text: check_equal(read_text(text).understood, ()))


def check_equal(found, due):
    assert found == due


def test_no_pattern_can_be_deleted(monkeypatch):
    """Without it, one of its own examples is read otherwise."""
    every = {each.source: each for each in patterns()}
    mine = {compile_pattern(reads).source: [*read_examples(r)] for reads, r in RECORDS.items()}
    mine |= {labelled(f).source: [label_example(f)] for f in LABELLED}
    assert every.keys() == mine.keys()

    def is_missed(source):
        monkeypatch.setattr(
            text_reading, "patterns", lambda: tuple(p for s, p in every.items() if s != source)
        )
        assert any(values_in(clause) != values for clause, values in mine[source])

    holds_of_each(mine, is_missed)


def test_a_word_that_changes_the_sense_leaves_no_value_wherever_it_stands():
    """Each word, in a thorough run; else they take turns."""
    turn, most_words = itertools.cycle(BREAKING), min(len(BREAKING), share_of(len(BREAKING)))

    def is_not_read(each):
        clause, values = each
        words = clause.split()
        for at in range(len(words) + 1):
            for word in itertools.islice(turn, most_words):
                changed = " ".join([*words[:at], word, *words[at:]])
                found = values_in(changed)
                assert not values.items() & found.items(), (changed, found)

    holds_of_each([each for each in EXAMPLES if len(each[0].split()) > 1], is_not_read)


@pytest.mark.parametrize("source", ["rate <irrigation.rate", "a < b", "x <no.such.path>"])
def test_what_is_no_pattern_is_refused(source):
    with pytest.raises((ValueError, KeyError, re.error)):
        compile_pattern(source)


def test_no_clause_by_which_fluid_runs_holds_a_free_text():
    # Of such a sentence each comma would not end a clause.
    kinds = {path: field.kind for path, field in field_table().fields.items()}
    for each in patterns():
        if not mention_check.FLOW_SETTINGS.isdisjoint(each.paths):
            assert "text" not in {kinds[path] for path in each.paths}, each.source
