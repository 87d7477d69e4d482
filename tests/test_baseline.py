from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.hand_made import CROSSED, MISSING, SPELLING, UNCHECKED, made
from running import AT, run

from orderlint.finding import Level, Place, Refused
from orderlint.report.ci.baseline import (
    LARGEST_REPORT,
    finding_key,
    fingerprints,
    read_baseline,
    unchecked_key,
)
from orderlint.report.ci.results import counts, mark_known, of_order
from orderlint.report.order.json import render
from orderlint.rulebook.load import load
from orderlint.verification import verify

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
NOW = 1_772_482_200_000


def as_of_set(*verified):
    """The JSON report on some orders, as if they were order sets."""
    data = json.loads(render(verified, (), NOW))
    for document in data["documents"]:
        document["document"] = "order-set"
    return json.dumps(data).encode()


def keys_of(verified):
    found = [finding_key(finding) for finding in verified.assessment.findings]
    return fingerprints([*found, *(unchecked_key(item) for item in verified.assessment.unchecked)])


FULL = made((CROSSED, *MISSING, SPELLING), UNCHECKED)


def test_what_stood_in_the_report_is_known():
    baseline = read_baseline(as_of_set(FULL), "before.json")
    levels = [item.level for item in (*FULL.assessment.findings, *FULL.assessment.unchecked)]
    assert all(
        baseline.knows("order.yaml", key, level)
        for key, level in zip(keys_of(FULL), levels, strict=True)
    )
    assert not baseline.knows("order.yaml", "0" * 32 + ":1", Level.NOTE)


@pytest.mark.parametrize("name", ["order.yaml", "./order.yaml", "sets/../order.yaml"])
def test_a_file_is_known_by_its_name(name):
    baseline = read_baseline(as_of_set(FULL), "before.json")
    assert baseline.knows(name, keys_of(FULL)[0], Level.DO_NOT_START)
    assert not baseline.knows(f"other/{name}", keys_of(FULL)[0], Level.DO_NOT_START)


def test_what_weighs_more_than_it_did_is_new():
    baseline = read_baseline(as_of_set(made((SPELLING,))), "before.json")
    (key,) = keys_of(made((SPELLING,)))
    assert baseline.knows("order.yaml", key, Level.NOTE)
    assert not baseline.knows("order.yaml", key, Level.CLARIFY)


def test_a_second_one_alike_is_new():
    baseline = read_baseline(as_of_set(made((SPELLING,))), "before.json")
    once, twice = keys_of(made((SPELLING, SPELLING)))
    assert once != twice
    assert baseline.knows("order.yaml", once, Level.NOTE)
    assert not baseline.knows("order.yaml", twice, Level.NOTE)


@pytest.mark.parametrize(
    "other",
    [
        CROSSED._replace(rule="another-rule"),
        CROSSED._replace(path="pause.upper"),
        CROSSED._replace(written="15 mmHg"),
        # Another setting involved is another contradiction.
        CROSSED._replace(also=(CROSSED.also[0]._replace(written="1 mmHg"),)),
        CROSSED._replace(also=()),
    ],
)
def test_a_finding_on_something_else_is_another(other):
    assert finding_key(other) != finding_key(CROSSED)


@pytest.mark.parametrize(
    "same",
    [
        CROSSED._replace(place=Place("moved.yaml", 99, 1)),
        CROSSED._replace(says="In other words.", why="So.", ask="?", source="elsewhere"),
        CROSSED._replace(level=Level.NOTE),
        # It leads with the other of its two settings.
        CROSSED._replace(
            path="treat_above",
            written="8 mmHg",
            also=(CROSSED.also[0]._replace(path="drainage.height", written="14 mmHg"),),
        ),
    ],
)
def test_place_words_and_order_do_not_count(same):
    assert finding_key(same) == finding_key(CROSSED)


def test_a_rule_left_open_is_another_thing_than_one_broken():
    (item,) = UNCHECKED[2:]
    broken = SPELLING._replace(rule=item.rule, path=item.missing[0], written="", also=())
    assert unchecked_key(item) != finding_key(broken)


WRITTEN = [
    "unsafe-notation",
    "pause-limits-reversed",
    "minimal",
    "misspelt-keys",
    "carelessly-watched",
]


@pytest.mark.parametrize("name", WRITTEN)
def test_fingerprints_stay_when_lines_move_and_keys_change_places(name):
    data = (EXAMPLES / f"{name}.yaml").read_bytes()
    head, *parts = blocks(data.decode())
    before = keys_of(verify(data, "order.yaml", NOW))
    assert before
    moved = "# A line more.\n\n".join([head, *reversed(parts)])
    after = keys_of(verify(moved.encode(), "order.yaml", NOW))
    assert sorted(after) == sorted(before)


def blocks(text):
    """The text cut before each of its outermost keys."""
    found: list[str] = []
    for line in text.splitlines(keepends=True):
        if found and (line[0] in " #\n" or found[-1].startswith("#")):
            found[-1] += line
        else:
            found.append(line)
    return found


@given(st.lists(st.sampled_from(["a", "b", "c"])))
def test_equal_keys_are_told_apart_by_their_number(keys):
    told = fingerprints(keys)
    assert len(set(told)) == len(told) == len(keys)
    assert {key.rpartition(":")[0] for key in told} == set(keys)


def test_the_exit_status_counts_only_what_is_new():
    verified = verify((EXAMPLES / "rate-without-unit.yaml").read_bytes(), "set.yaml", NOW)
    checked = of_order(verified, load("all").rules, NOW)
    baseline = read_baseline(as_of_set(verified), "before.json")
    assert any(counts(result, Level.CLARIFY) for result in checked.results)
    marked = mark_known(checked, baseline, "set.yaml")
    assert [item.known for item in marked.results] == [True] * len(checked.results)
    assert [item._replace(known=None) for item in marked.results] == list(checked.results)
    assert not any(counts(result, Level.NOTE) for result in marked.results)
    elsewhere = mark_known(checked, baseline, "another-set.yaml")
    assert any(counts(result, Level.CLARIFY) for result in elsewhere.results)


def test_a_patients_order_has_no_baseline():
    report = run("verify", "--format", "json", *AT, EXAMPLES / "minimal.yaml").out
    with pytest.raises(Refused, match="nothing of it is taken as known") as refused:
        read_baseline(report, "before.json")
    place = refused.value.place
    assert (place.file, place.line) == ("before.json", 10)
    assert run("verify", "--baseline", "before.json", EXAMPLES / "minimal.yaml").status == 2


def edited(**changes):
    """A report with one document, and in that one finding, changed."""
    data = json.loads(as_of_set(made((SPELLING,), UNCHECKED)))
    for path, value in changes.items():
        *steps, last = (int(step) if step.isdigit() else step for step in path.split("__"))
        node = data
        for step in steps:
            node = node[step]
        node[last] = value
    return json.dumps(data).encode()


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "cannot be read as JSON"),
        (b"\xff", "not UTF-8"),
        (b"[]", "A report is wanted"),
        (b"{}", "`format` is not 1"),
        (b'{"format": 1}', "a list `documents`"),
        (edited(format=2), "`format` is not 1"),
        (edited(format="1"), "`format` is not 1"),
        (edited(documents={}), "a list `documents`"),
        (edited(documents=[1]), "an item of `documents`"),
        (edited(documents__0__document=1), "a text `document`"),
        (edited(documents__0__document="site-policy"), "order sets"),
        (edited(documents__0__file=None), "a text `file`"),
        (edited(documents__0__findings=1), "a list `findings`"),
        (edited(documents__0__findings__0__rule=1), "a text `rule`"),
        (edited(documents__0__findings__0__level="dire"), "a level"),
        (edited(documents__0__findings__0__also=[[]]), "an item of `also`"),
        (edited(documents__0__findings__0__written=22), "a text `written`"),
        (edited(documents__0__unchecked__0__missing=[[]]), "the path of a setting"),
        (b" " * (LARGEST_REPORT + 1), "larger than 4 MiB"),
        (b"[" + b"1," * 200_000 + b"1]", "more than 200,000"),
        (b'{"format": 1, "format": 1}', "twice"),
        (b"[" * 1000, "stand inside one another"),
    ],
)
def test_what_is_no_report_is_refused(data, message):
    with pytest.raises(Refused, match=message):
        read_baseline(data, "before.json")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)


@given(JSON)
def test_any_other_json_is_refused_in_words(data):
    with pytest.raises(Refused):
        read_baseline(json.dumps({"format": 1, "documents": [data]}).encode(), "before.json")
