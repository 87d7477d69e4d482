from __future__ import annotations

import json
from pathlib import Path

import pytest
from drawing import most
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from order_sets import reviewed
from report.hand_made import CROSSED, MISSING, SPELLING, UNCHECKED, made
from report.said import FINDINGS
from running import AT, run

from orderlint.assessment import Assessment
from orderlint.fields import load_schema
from orderlint.finding import Level, Place, Refused, Suppressed, Verdict
from orderlint.report.ci.baseline import (
    LARGEST_BASELINE,
    finding_key,
    fingerprints,
    knows,
    read_baseline,
    render,
    unchecked_key,
)
from orderlint.report.ci.model import (
    CheckedDocument,
    CiReport,
    fails_run,
    mark_known,
    numbered_results,
    of_order,
)
from orderlint.report.review.ci_results import of_set
from orderlint.rulebook.load import load
from orderlint.verification import verify

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
NOW = 1_772_482_200_000


def keys_of(verified):
    found = [finding_key(finding) for finding in verified.assessment.findings]
    return [*found, *(unchecked_key(item) for item in verified.assessment.unchecked)]


def checked(*results, file="set.yaml", name=""):
    """A document with results of these findings or unchecked rules."""
    return of_order(made(*results, file=file), load("all").rules, NOW)._replace(id=name)


def accepted(*documents):
    """The baseline in which all that these documents have is accepted."""
    return read_baseline(render(CiReport(documents, (), {})).encode(), "before.json")


def known(baseline, *documents):
    marked = mark_known(CiReport(documents, (), {}), baseline)
    return [[result.known for result in document.results] for document in marked.checked]


FULL = checked((CROSSED, *MISSING, SPELLING))


def test_what_was_accepted_is_known():
    assert known(accepted(FULL), FULL) == [[True] * 6]
    assert known(accepted(checked((SPELLING,))), FULL) == [[False] * 5 + [True]]


@pytest.mark.parametrize("name", ["set.yaml", "./set.yaml", "sets/../set.yaml"])
def test_a_file_is_known_by_its_name(name):
    assert known(accepted(FULL), FULL._replace(file=name)) == [[True] * 6]
    assert known(accepted(FULL), FULL._replace(file=f"other/{name}")) == [[False] * 6]


def test_a_set_with_an_id_is_known_by_it_whatever_its_file_is_called():
    named, moved = FULL._replace(id="adult"), FULL._replace(id="adult", file="moved.yaml")
    assert known(accepted(named), moved) == [[True] * 6]
    # It was given its id later.
    assert known(accepted(FULL), named) == [[True] * 6]
    # Another set lies where it lay.
    assert known(accepted(named), FULL._replace(id="child")) == [[False] * 6]


def test_an_id_that_two_sets_have_tells_neither_from_the_other():
    one, other = FULL._replace(id="a"), FULL._replace(id="a", file="copy.yaml")
    assert known(accepted(one), one, other) == [[True] * 6, [False] * 6]
    short = checked((SPELLING,), file="copy.yaml", name="a")
    assert known(accepted(one, short), one) == [[True] * 6]
    assert known(accepted(one, short), other) == [[False] * 5 + [True]]


def test_what_weighs_more_than_it_did_is_new():
    baseline = accepted(checked((SPELLING._replace(level=Level.CLARIFY),)))
    for level, stood in ((Level.NOTE, True), (Level.CLARIFY, True), (Level.DO_NOT_START, False)):
        assert known(baseline, checked((SPELLING._replace(level=level),))) == [[stood]]


def test_a_second_one_alike_is_new():
    baseline = accepted(checked((SPELLING,)))
    assert known(baseline, checked((SPELLING, SPELLING))) == [[True, False]]


def test_what_a_policy_suppresses_is_not_accepted_with_the_rest():
    told = Suppressed(CROSSED, "Agreed.", "the board", "2026-09-30", CROSSED.place)
    hidden = FULL._replace(results=tuple(r._replace(suppressed=told) for r in FULL.results))
    assert known(accepted(hidden), FULL) == [[False] * 6]


@most(60)
@given(st.lists(FINDINGS, max_size=4), st.lists(FINDINGS, max_size=4), st.booleans())
def test_what_is_new_is_what_a_recomputation_says(before, after, also):
    """The nth finding on the same thing is known if there were as many, and it as heavy."""
    after = [*after, *before] if also else after
    seen, expected = {}, []
    for finding in before:
        seen.setdefault(thing(finding), []).append(finding.level)
    for finding in after:
        stood = seen.get(thing(finding), [])
        expected.append(bool(stood) and stood.pop(0).weight >= finding.level.weight)
    assert known(accepted(of(before)), of(after)) == [expected]


def thing(finding):
    settings = [(finding.path, finding.written), *((m.path, m.written) for m in finding.also)]
    return finding.rule, finding.breaks, tuple(sorted(settings))


def of(findings):
    found = Assessment(Verdict.CLEAR, tuple(findings), (), (), (), 0)
    results = numbered_results(found, pytest.fail)
    return CheckedDocument("set.yaml", "order-set", Verdict.CLEAR, results, (), ())


@pytest.mark.parametrize(
    "other",
    [
        CROSSED._replace(rule="another-rule"),
        CROSSED._replace(breaks="another-rule"),
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


@given(st.lists(st.tuples(st.sampled_from(["a", "b", "c"]), st.sampled_from([*Level]))))
def test_equal_keys_are_told_apart_by_their_number(keyed):
    told = fingerprints(keyed)
    assert len(set(told)) == len(told) == len(keyed)
    assert [key.split(":")[::2] for key in told] == [[key, level.value] for key, level in keyed]


def test_the_exit_status_counts_only_what_is_new():
    verified = verify((EXAMPLES / "rate-without-unit.yaml").read_bytes(), "set.yaml", NOW)
    before = of_order(verified, load("all").rules, NOW)
    assert any(fails_run(result, Level.CLARIFY) for result in before.results)
    (after,) = mark_known(CiReport((before,), (), {}), accepted(before)).checked
    assert [item.known for item in after.results] == [True] * len(before.results)
    assert [item._replace(known=None) for item in after.results] == list(before.results)
    assert not any(fails_run(result, Level.NOTE) for result in after.results)
    moved = CiReport((before._replace(file="another-set.yaml"),), (), {})
    (elsewhere,) = mark_known(moved, accepted(before)).checked
    assert any(fails_run(result, Level.CLARIFY) for result in elsewhere.results)


@pytest.mark.slow
def test_the_baseline_of_three_hundred_sets_with_much_to_accept_can_be_read(reviewed_blanks):
    each = reviewed_blanks.results
    assert len(each) > 60
    sets = [reviewed_blanks._replace(file=f"sets/set-{number}.yaml") for number in range(300)]
    assert len(render(CiReport(tuple(sets), (), {})).encode()) < LARGEST_BASELINE
    data = render(CiReport(tuple(sets[270:]), (), {})).encode()  # whose size is all that differs
    schema = Draft202012Validator(load_schema("baseline"))
    assert schema.is_valid(json.loads(data))
    baseline = read_baseline(data, "before.json")
    assert all(knows(baseline.accepted("", "sets/set-299.yaml"), item.fingerprint) for item in each)


@pytest.fixture(scope="module")
def reviewed_blanks():
    return of_set(reviewed("set-blanks-and-mixed-units.yaml"), NOW)


@pytest.mark.parametrize("verb", ["verify", "review"])
def test_a_report_is_no_baseline(verb):
    file = {"verify": "minimal.yaml", "review": "set-irrigation-adult.yaml"}[verb]
    report = run(verb, "--format", "json", *AT, EXAMPLES / file).out
    with pytest.raises(Refused, match="`review --format baseline` writes") as refused:
        read_baseline(report, "before.json")
    assert refused.value.place == Place("before.json", 1, 1)
    assert run("verify", "--baseline", "before.json", EXAMPLES / "minimal.yaml").status == 2


def edited(**changes):
    """A baseline of one set and one finding, changed."""
    data = json.loads(render(CiReport((checked((SPELLING,)),), (), {})))
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
        (b"[]", "A baseline is wanted"),
        (b"{}", "a text `document`"),
        (b'{"format": 1, "documents": []}', "This is a report"),
        (edited(document="order"), "`document: baseline`"),
        (edited(format=2), "has not format 1"),
        (edited(format="1"), "has not format 1"),
        (edited(sets={}), "a list `sets`"),
        (edited(sets=[1]), "an order set"),
        (edited(sets__0__id=None), "a text `id`"),
        (edited(sets__0__file=1), "a text `file`"),
        (edited(sets__0__accepted=[]), "a group `accepted`"),
        (edited(sets__0__accepted={"a:1": ""}), "the fingerprint of a finding"),
        (edited(sets__0__accepted={"a:1:dire": ""}), "the fingerprint of a finding"),
        (b" " * (LARGEST_BASELINE + 1), "larger than 4 MiB"),
        (b"[" + b"1," * 200_000 + b"1]", "more than 200,000"),
        (b'{"format": 1, "format": 1}', "twice"),
        (b"[" * 1000, "stand inside one another"),
    ],
)
def test_what_is_no_baseline_is_refused(data, message):
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
    text = json.dumps({"document": "baseline", "format": 1, "sets": [data]})
    with pytest.raises(Refused):
        read_baseline(text.encode(), "before.json")
