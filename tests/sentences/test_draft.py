"""Drafts: written, read again, confirmed, and what they come to as orders."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path

import core_yaml
import pytest
from jsonschema import Draft202012Validator

import orderlint
from orderlint.fields import field_table, load_schema
from orderlint.finding import Level, Refused, Verdict
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.report.draft import draft_text, order_text
from orderlint.report.order.words import document_words
from orderlint.sentences.draft import drafted, order_of, read_draft

VALID = Draft202012Validator(load_schema("draft"))
CLEAN = Path(__file__).parents[2] / "examples/clean.yaml"
NOTE = """\
irrigate with lactated Ringer's at 60 mL/h
EVD at 5 mmHg above the tragus; treat above 8 mmHg
pause limits 2-22 mmHg
"""


@functools.cache
def clean() -> orderlint.Result:
    return orderlint.verify(CLEAN, at=datetime_of("2026-03-02T15:30:00-06:00"))


def datetime_of(text):
    from datetime import datetime  # noqa: PLC0415

    return datetime.fromisoformat(text)


def label_lines() -> str:
    """The clean order as lines `name: value`, each on a line of its own."""
    leaves = clean().found.order.leaves
    lines = [
        f"{field.name}: {leaves[path].text}"
        for path, field in field_table().fields.items()
        if leaves[path].known and path not in {"document", "format"}
    ]
    return "\n".join(lines)


def confirmed(draft):
    return replace(
        draft,
        lines=tuple(line._replace(confirmed=True) for line in draft.lines),
        rest=tuple(item._replace(left_out=True) for item in draft.rest),
    )


def verify(text):
    return orderlint.verify(text, name="draft.yaml", at=datetime_of("2026-03-02T15:30:00-06:00"))


@pytest.mark.parametrize(
    "text", [NOTE, "if febrile, rate 20\nEVD at 5 mmHg", "a nice “day” \\ 'x'", "a: b # c"]
)
def test_a_draft_is_read_as_it_was_written(text):
    draft = drafted(text.encode(), "note.txt", "00ff")
    for each in (draft, confirmed(draft)):
        VALID.validate(core_yaml.load(draft_text(each)))
        again = read_draft(read(draft_text(each).encode(), "draft.yaml", "draft"))
        strip = lambda items: [item._replace(place=None) for item in items]  # noqa: E731
        assert strip(again.lines) == [*each.lines]
        assert strip(again.rest) == [*each.rest]
        assert (again.name, again.digest) == ("note.txt", "00ff")


def test_the_order_of_a_confirmed_draft_has_the_settings_of_the_text():
    draft = confirmed(drafted(label_lines().encode(), "note.txt", "0"))
    assert not draft.rest
    ordered = read_order(read(order_text(draft).encode(), "order.yaml", "order"))
    texts = {path: leaf.text for path, leaf in ordered.leaves.items() if leaf.given}
    meant = {p: leaf.text for p, leaf in clean().found.order.leaves.items() if leaf.given}
    assert texts == meant
    document = read(draft_text(draft).encode(), "draft.yaml", "draft")
    assert {p: x.value for p, x in order_of(read_draft(document), document).leaves.items()} == {
        p: x.value for p, x in ordered.leaves.items()
    }


@pytest.mark.slow
def test_a_draft_of_a_clean_order_is_incomplete_until_it_is_confirmed():
    draft = drafted(label_lines().encode(), "note.txt", "0")
    found = verify(draft_text(draft))
    assert found.verdict == Verdict.INCOMPLETE
    assert [item.rule for item in found.assessment.unchecked] == ["draft-line-not-confirmed"]
    assert verify(draft_text(confirmed(draft))).verdict == Verdict.CLEAR
    for at in range(len(draft.lines)):
        part = confirmed(draft)
        lines = (*part.lines[:at], draft.lines[at], *part.lines[at + 1 :])
        assert verify(draft_text(replace(part, lines=lines))).verdict == Verdict.INCOMPLETE


def bulleted(lines):
    return "".join(f"- {line}\n" for line in lines.splitlines())


def test_words_not_understood_keep_it_incomplete_and_no_setting_counts_as_missing():
    draft = drafted(f"{bulleted(label_lines())}\n- run 40 instead of more".encode(), "n", "0")
    half = replace(confirmed(draft), rest=draft.rest)
    found = verify(draft_text(half))
    assert found.verdict == Verdict.INCOMPLETE
    assert [item.text for item in found.found.not_checked if not item.path] == [
        "run 40 instead of more"
    ]
    few = drafted(f"{bulleted(NOTE)}- and 40 more than is said".encode(), "n", "0")
    found = verify(draft_text(replace(confirmed(few), rest=few.rest)))
    assert not [f for f in found.findings if f.rule.startswith("missing-")]
    assert found.findings == () or found.verdict in {Verdict.CLARIFY, Verdict.INCOMPLETE}
    assert (
        max(item.level.weight for item in found.assessment.unchecked) == Level.DO_NOT_START.weight
    )


HOSTILE = (
    "a: b",
    "\ntherapy: irrigation",
    "\r\nb",
    "\x85b",
    "\u2028b",
    "\t# b",
    "” '",
    "x" * 60_000,
)


@pytest.mark.parametrize("words", HOSTILE)
def test_what_is_left_out_is_a_comment_of_one_line_whatever_it_is(words):
    draft = confirmed(drafted(b"- irrigate at 60 mL/h\n- run 40 or more of it", "n", "0"))
    left = draft.rest[0]._replace(source=draft.rest[0].source._replace(text=words))
    text = order_text(replace(draft, rest=(left, left)))
    comments = [line for line in text.splitlines() if line.startswith("# Left out")]
    assert len(comments) == 2
    assert text.splitlines()[3:] == order_text(replace(draft, rest=())).splitlines()[1:]
    ordered = read_order(read(text.encode(), "order.yaml", "order"))
    assert [path for path, leaf in ordered.leaves.items() if leaf.given] == [
        "document",
        "format",
        "irrigation.rate",
    ]


def test_a_draft_without_a_reason_is_read_too():
    draft = drafted(b"- irrigate at 60 mL/h\n- run 40 or more of it", "n", "0")
    text = draft_text(draft)
    assert '    why: "no pattern fits"\n' in text
    without = "".join(line for line in text.splitlines(True) if " why: " not in line)
    VALID.validate(core_yaml.load(without))
    assert read_draft(read(without.encode(), "d", "draft")).rest[0].why == ""


def test_verify_calls_a_draft_a_draft():
    def words(note):
        found = verify(draft_text(drafted(note.encode(), "note.txt", "0")))
        return document_words(found.found)

    assert words(NOTE) == "draft.yaml: draft of an order, read from a text."
    assert words("order identifier: demo-1").endswith("from a text, id demo-1.")


LINE = {"setting": "therapy", "value": "x", "written": "x", "line": "1", "column": "1"}
BROKEN = {
    "lines: []\n": "`not_understood:` is a list",
    "lines: {}\nnot_understood: []": "`lines:` is a list",
    "lines: [x]\nnot_understood: []": "keys of its own",
}


def lines_of(*records):
    """The body of a draft with these lines: LINE, each with what is given."""
    flow = (", ".join(f"{k}: {v}" for k, v in {**LINE, **each}.items()) for each in records)
    return f"lines: [{', '.join(f'{{{each}}}' for each in flow)}]\nnot_understood: []"


YES = {"confirmed": "yes"}
BROKEN |= {
    lines_of({**YES, "setting": "nowhere"}): "no setting",
    lines_of({**YES, "line": "a"}): "whole number",
    lines_of({"confirmed": "perhaps"}): "yes or no",
    lines_of({}): "`confirmed:` is missing",
    lines_of({**YES, "value": "drainage"}, {**YES, "value": "irrigation"}): "two values",
}


@pytest.mark.parametrize("body", BROKEN)
def test_a_draft_that_is_not_as_it_was_written_is_refused_with_its_place(body):
    text = f"document: draft\nformat: 1\nsource: {{name: n, sha256: s}}\n{body}\n"
    with pytest.raises(Refused) as refused:
        verify(text)
    assert BROKEN[body] in str(refused.value)
    assert str(refused.value).startswith("draft.yaml:")


@pytest.mark.parametrize("therapy", ["drainage", "monitoring"])
def test_what_may_be_out_of_place_is_not_said_to_be_written(therapy):
    """Words that are not understood may hold a rate; nobody can say that they do."""
    read_whole, strange = (
        drafted(each.encode(), "text", "0") for each in (f"Therapy: {therapy}", "about 5 of it")
    )
    text = draft_text(replace(confirmed(read_whole), rest=strange.rest))
    result = orderlint.verify(text, name="draft.yaml")
    assert result.found.order.leaves["therapy"].value == therapy
    said = {finding.rule for finding in result.findings}
    assert not {rule for rule in said if rule.endswith(("without-irrigation", "while-monitoring"))}
    assert result.verdict is Verdict.INCOMPLETE
