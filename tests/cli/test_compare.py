from __future__ import annotations

import json
import re

import pytest
from jsonschema import Draft202012Validator
from order_sets import HEAD, reading, some_rules
from running import AT, CLEAN, run

from orderlint.fields import load_schema
from orderlint.language import budget
from orderlint.proof import prover
from orderlint.proof.search_space import Limits

FOLDER = CLEAN.parent
NEXT = FOLDER / "next-revision.yaml"
SET, REVISED = FOLDER / "set-irrigation-adult.yaml", FOLDER / "set-irrigation-adult-revised.yaml"
SCHEMA = load_schema("comparison")
REPORTS = Draft202012Validator(SCHEMA)
ORDERS = [path.name for path in FOLDER.glob("*.yaml") if b"document: order\n" in path.read_bytes()]
SETS = sorted(path.name for path in FOLDER.glob("set-*.yaml"))


def test_two_orders():
    ran = run("compare", "--at", "2026-03-03T14:30:00-06:00", CLEAN, NEXT)
    assert (ran.status, ran.err) == (1, "")
    assert "Verdict: DO NOT START – CALL" in ran.text
    assert "The irrigation rate was 60 mL/h and is now 6 mL/h, exactly 0.1 times" in ran.text
    assert "10.87608 cmH2O (8 mmHg) now, the same pressure in another unit" in ran.text
    assert "22 cmH2O (about 16.2 mmHg) now, about 7.9 cmH2O less" in ran.text
    assert "Before: irrigation on, drain valve open" in ran.text
    assert "The second order by itself is: CLARIFY." in ran.text
    assert "next-revision.yaml: CLARIFY (3 findings: 2 CLARIFY, 1 NOTE)" in ran.text


@pytest.mark.slow
def test_a_policy_may_have_rules_on_changes(tmp_path):
    policy, second = tmp_path / "policy.yaml", tmp_path / "second.yaml"
    policy.write_text(POLICY)
    text = CLEAN.read_text(encoding="utf-8").replace("height: 5 mmHg", "height: 1 mmHg")
    second.write_text(text.replace("revision: 1", "revision: 2"))
    ran = run("compare", *AT, "--policy", policy, CLEAN, second)
    assert (ran.status, "Rule: drain-moved-far" in ran.text) == (1, True)
    assert run("compare", *AT, CLEAN, second).status == 0
    assert run("verify", *AT, "--policy", policy, second).status == 0
    ran = run("rules", "--check", policy)
    assert (ran.status, "It can be broken: drainage.height" in ran.text) == (0, True)


POLICY = """document: site-policy
format: 1
title: an invented policy
rules:
  - rule: drain-moved-far
    level: clarify
    when: given(drainage.height) and given(before.drainage.height)
    require: before.drainage.height <= drainage.height + far
    limits: {far: 5 cmH2O}
    says: The drain hung at {before.drainage.height} and is to hang at {drainage.height}.
    why: It is far.
    ask: Is that meant?
    ask_whom: prescriber
    source: {kind: local-policy}
    examples:
      breaks: [{drainage.height: 5 cmH2O, before: {drainage.height: 20 cmH2O}}]
"""


def test_two_sets():
    ran = run("compare", *AT, SET, REVISED)
    assert (ran.status, ran.err) == (1, "")
    for words in (
        "The later set is: BOTH STRICTER AND LOOSER",
        "In the later set the upper pause limit cannot be 21 mmHg.",
        "In the earlier set the treat-above level cannot be 13 mmHg.",
        "treat-above level: 16 mmHg (preset: 8 mmHg)",
        "Every order from the earlier set keeps it.",
        "It does not cover free text",
    ):
        assert words in ran.text


@pytest.mark.parametrize("name", ORDERS)
def test_any_order_beside_the_clean_one_is_told_within_80_columns(name):
    other = CLEAN if name != CLEAN.name else NEXT
    for files in ((other, FOLDER / name), (FOLDER / name, other)):
        ran = run("compare", *AT, *files)
        assert (ran.status in {0, 1}, ran.err) == (True, "")
        lines = ran.out.decode().splitlines()
        assert [line for line in lines if len(line) > 80 and str(FOLDER) not in line] == []
        assert "not to be had" not in ran.text


@pytest.mark.parametrize("name", ORDERS)
def test_json_of_orders_is_as_the_schema_says(name):
    other = CLEAN if name != CLEAN.name else NEXT
    made = json.loads(run("compare", *AT, "--format", "json", other, FOLDER / name).out)
    assert [error.message for error in REPORTS.iter_errors(made)] == []
    (found,) = made["documents"]
    assert (found["document"], made["refused"], made["faults"]) == ("order", [], [])


OF_LARGE_SETS = {
    "set-blanks-and-mixed-units.yaml": (
        *("drainage.scale", "patient.anticoagulation", "irrigation.additive.class"),
    ),
    "set-drainage-with-sections.yaml": ("drainage.hourly_max", "titration.max"),
}
"""Sets that take long beside another, with the settings whose rules are asked; else all are."""


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_json_of_sets_is_as_the_schema_says(name, tmp_path, monkeypatch):
    """Beside one that differs in a single entry: new orders break as many rules, and soon."""
    if name in OF_LARGE_SETS:
        book = reading(*OF_LARGE_SETS[name])
        monkeypatch.setattr("orderlint.api.verbs.rulebook_for", lambda *_: book)
    other, text = tmp_path / "other.yaml", (FOLDER / name).read_text(encoding="utf-8")
    (scale,) = re.findall("  scale: (.*)", text)
    turned = {"mmHg": "cmH2O", "cmH2O": "mmHg"}[scale]
    changed = text.replace(f"  scale: {scale}", f"  scale: {turned}")
    other.write_text(changed, encoding="utf-8")
    made = json.loads(run("compare", *AT, "--format", "json", other, FOLDER / name).out)
    assert [error.message for error in REPORTS.iter_errors(made)] == []
    (found,) = made["documents"]
    assert (found["document"], found["relation"]) == ("order-set", "both")
    assert found["broken"] or name not in OF_LARGE_SETS


def test_the_schema_has_its_parts_from_that_of_findings():
    Draft202012Validator.check_schema(SCHEMA)
    shared, own = load_schema("findings")["$defs"], load_schema("comparison")["$defs"]
    # A finding on sets says besides where the rule is broken.
    del own["finding"]["properties"]["found"]
    assert {name for name in own if name in shared and own[name] != shared[name]} == set()


def test_the_schema_tells_orders_from_sets():
    made = json.loads(run("compare", *AT, "--format", "json", CLEAN, NEXT).out)
    made["documents"][0]["document"] = "order-set"
    assert not REPORTS.is_valid(made)


def test_every_part_of_the_schema_is_described():
    def named(node):
        for value in node.get("properties", {}).values():
            if "$ref" not in value:
                assert value["title"], value
                assert value["description"].endswith("."), value
            yield from named(value)
        for value in node.get("$defs", {}).values():
            yield from named(value)

    assert list(named(SCHEMA)) == []


@pytest.mark.parametrize("files", [(CLEAN, CLEAN), (SET, SET)])
def test_a_file_is_not_compared_with_itself(files):
    ran = run("compare", *AT, *files)
    assert (ran.status, ran.out) == (2, b"")
    assert "BEFORE and AFTER are one file" in ran.err


@pytest.mark.parametrize("files", [(CLEAN, SET), (SET, CLEAN)])
def test_one_of_each_kind_is_wrong_use_with_both_named(files):
    ran = run("compare", *AT, *files)
    assert (ran.status, ran.out) == (2, b"")
    assert f"{CLEAN} is an order" in ran.err
    assert f"{SET} is an order set" in ran.err


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ((CLEAN, "nowhere.yaml"), "nowhere.yaml: There is no such file."),
        (("nowhere.yaml", CLEAN), "nowhere.yaml: There is no such file."),
        ((CLEAN, FOLDER), "This is a directory"),
        (
            (CLEAN, FOLDER / "policy-adult-unit.yaml"),
            "This is a site policy; an order or an order set",
        ),
        (("-", "-"), "can be read only once"),
        (("--output", NEXT, CLEAN, NEXT), "it would be lost"),
        ((CLEAN,), "Two files are compared"),
        (("--policy", NEXT, CLEAN, NEXT), "This is an order; a site policy is wanted here."),
    ],
)
def test_wrong_use(wrong, message):
    kept = NEXT.read_bytes()
    ran = run("compare", *AT, *wrong)
    assert (ran.status, ran.out) == (2, b"")
    assert message in ran.err
    assert NEXT.read_bytes() == kept


def test_a_file_with_a_mistake_is_named_with_line_and_column(tmp_path):
    bad = tmp_path / "bad.yaml"
    bad.write_text("document: order\nformat: 1\nid: a\nid: b\n")
    ran = run("compare", *AT, CLEAN, bad)
    assert ran.status == 2
    assert f"{bad}:4:1:" in ran.err


def test_standard_input_can_be_either_of_the_two():
    for files in (("-", NEXT), (CLEAN, "-")):
        given = CLEAN if files[0] == "-" else NEXT
        ran = run("compare", *AT, *files, stdin=given.read_bytes())
        assert (ran.status, "<stdin>" in ran.text) == (1, True)


def test_the_status_is_that_of_the_change_and_of_the_later_order(tmp_path):
    second = tmp_path / "second.yaml"
    text = CLEAN.read_text(encoding="utf-8").replace("revision: 1", "revision: 2")
    second.write_text(text.replace("rate: 60 mL/h", "rate: 70 mL/h"))
    assert run("compare", *AT, CLEAN, second).status == 0
    second.write_text(text.replace("upper: 22 mmHg", "upper: 24 mmHg"))
    assert run("compare", *AT, CLEAN, second).status == 1
    assert run("compare", *AT, "--fail-at", "do-not-start", CLEAN, second).status == 0


def test_a_report_is_written_to_a_file(tmp_path):
    kept = tmp_path / "change.json"
    ran = run("compare", *AT, "--format", "json", "--output", kept, CLEAN, NEXT)
    assert (ran.status, ran.out) == (1, b"")
    assert json.loads(kept.read_text())["documents"][0]["before"] == str(CLEAN)
    ran = run("compare", *AT, "--output", tmp_path / "no" / "where", CLEAN, NEXT)
    assert (ran.status, "could not be written" in ran.err) == (2, True)


def test_colour_only_repeats_the_words():
    plain = run("compare", *AT, CLEAN, NEXT).out.decode()
    painted = run("compare", *AT, "--color", "always", CLEAN, NEXT).out.decode()
    assert "\x1b[31mDO NOT START – CALL\x1b[0m" in painted
    for code in ("\x1b[31m", "\x1b[33m", "\x1b[36m", "\x1b[0m"):
        painted = painted.replace(code, "")
    assert painted == plain


def test_an_active_order_is_not_to_be_touched(tmp_path):
    second = tmp_path / "second.yaml"
    text = CLEAN.read_text(encoding="utf-8").replace("status: draft ", "status: active ")
    second.write_text(text.replace("rate: 60 mL/h", "rate: 6 mL/h"))
    ran = run("compare", *AT, CLEAN, second)
    assert ran.text.startswith("Already running? Do not clamp")
    assert "An order of the two is active. Call now" in ran.text


def test_long_texts_are_shown_where_they_first_differ(tmp_path):
    texts = [f"{'call before any change of the drain height and ' * 3}{end}" for end in "ab"]
    files = []
    for number, text in enumerate(texts):
        files.append(tmp_path / f"{number}.yaml")
        old = "instructions: call before any change of the drain height"
        made = CLEAN.read_text(encoding="utf-8").replace(old, f"instructions: {text}")
        files[-1].write_text(made)
    ran = run("compare", *AT, *files)
    assert "of the drain height and a” before" in ran.text
    assert "of the drain height and b” now" in ran.text


def test_what_is_not_settled_is_said_and_is_no_pass(monkeypatch, tmp_path):
    monkeypatch.setattr(prover, "LIMITS", Limits(effort=1, corners=1))
    monkeypatch.setattr("orderlint.api.verbs.rulebook_for", lambda *_: some_rules(9))
    files = [tmp_path / name for name in ("first.yaml", "same.yaml")]
    for file in files:
        file.write_text(HEAD + "  treat_above: {choose: [8 mmHg, 9 mmHg]}\n")
    ran = run("compare", *AT, *files)
    assert (ran.status, "The later set is: NOT SETTLED" in ran.text) == (1, True)
    assert "the solver gave no answer within its limits" in ran.text
    assert "EQUAL" not in ran.text
    assert "None is known." in ran.text
    found = json.loads(run("compare", *AT, "--format", "json", *files).out)["documents"][0]
    assert (found["relation"], len(found["open"]), found["gone"]) == ("open", 2, None)


def test_effort_bounds_a_whole_comparison(monkeypatch, tmp_path):
    monkeypatch.setattr(budget, "MILLION", 1)
    monkeypatch.setattr("orderlint.api.verbs.rulebook_for", lambda *_: some_rules(9))
    files = [tmp_path / name for name in ("first.yaml", "same.yaml")]
    for file in files:
        file.write_text(HEAD + "  treat_above: {choose: [8 mmHg, 9 mmHg]}\n")
    ran = run("compare", *AT, "--effort", "1", *files)
    assert (ran.status, "The later set is: NOT SETTLED" in ran.text) == (1, True)
    assert "the effort for the whole run was used up" in ran.text
    assert run("compare", *AT, "--effort", "0", *files).status == 2


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ("therapy: drainage", "therapy: drainage", "EQUAL"),
        ("therapy: {choose: [drainage, monitoring]}", "therapy: drainage", "STRICTER"),
        ("therapy: drainage", "therapy: {choose: [drainage, monitoring]}", "LOOSER"),
        ("therapy: drainage", "therapy: monitoring", "BOTH STRICTER AND LOOSER"),
    ],
)
def test_each_relation_is_said(tmp_path, monkeypatch, first, second, words):
    monkeypatch.setattr("orderlint.api.verbs.rulebook_for", lambda *_: some_rules(9))
    files = []
    for name, entry in (("first", first), ("second", second)):
        files.append(tmp_path / f"{name}.yaml")
        files[-1].write_text(f"{HEAD}  {entry}\n")
    ran = run("compare", *AT, *files)
    assert f"The later set is: {words} " in ran.text
    apart = "they have nothing in common for the therapy"
    assert (apart in ran.text) == words.startswith("BOTH")


@pytest.mark.parametrize(
    "text", ["", "document: order\n", "[1]", "\x00", "document: order-set\nformat: 1\n"]
)
def test_no_file_makes_a_traceback(tmp_path, text):
    bad = tmp_path / "bad.yaml"
    bad.write_text(text)
    for files in ((CLEAN, bad), (bad, SET)):
        ran = run("compare", *AT, *files)
        assert (ran.status, ran.out) == (2, b"")
        assert "Traceback" not in ran.err
