"""The verb `draft`: a document out, and a person's answers line by line."""

from __future__ import annotations

import pytest
from running import run

NOTE = b"- irrigate at 60 mL/h\n- EVD at 5 mmHg above the tragus\n"
OPEN = NOTE + b"- run 40 mL/h if febrile\n"


@pytest.mark.parametrize(
    ("text", "status"), [(NOTE, 0), (OPEN, 1), (b"", 2), (b"\xff", 2), (b"a\x00b", 2)]
)
def test_the_exit_status_says_whether_all_is_understood(text, status):
    ran = run("draft", "-", stdin=text)
    assert ran.status == status
    assert (ran.out != b"") == (status < 2)
    assert (ran.err.startswith("<stdin>")) == (status == 2)


def test_what_is_too_long_is_refused():
    assert run("draft", "-", stdin=b"a" * (64 * 1024 + 1)).status == 2


@pytest.fixture
def draft(tmp_path):
    note, file = tmp_path / "note.txt", tmp_path / "draft.yaml"
    note.write_bytes(OPEN)
    assert run("draft", note, "--output", file).status == 1
    return file


ALL = b"yes\n" * 3 + b"leave out\n"


def test_a_draft_confirmed_line_by_line_is_an_order(draft, tmp_path):
    order = tmp_path / "order.yaml"
    ran = run("draft", "--confirm", draft, "--output", order, stdin=ALL)
    assert (ran.status, ran.out) == (0, b"")
    asked = " ".join(ran.err.split())
    assert asked.count("Is that what is written?") == 3
    assert "“run 40 mL/h if febrile”" in asked
    assert "(no pattern fits)" in asked
    text = order.read_text("utf-8")
    assert "# Left out by that person, line 3: “run 40 mL/h if febrile”\n" in text
    assert "  rate: 60 mL/h\n" in text
    assert "document: order\n" in text


@pytest.mark.parametrize("answers", [b"yes\nno\nyes\nleave out\n", b"yes\nyes\nyes\nno\n"])
def test_one_no_and_no_order_is_written(draft, answers):
    ran = run("draft", "--confirm", draft, stdin=answers)
    assert ran.status == 1
    assert b"document: draft\n" in ran.out
    assert ran.out.count(b"confirmed: yes\n") == answers.count(b"yes")
    assert ran.out.count(b"left_out: yes\n") == answers.count(b"leave out")
    assert "no order" in ran.err


def test_no_run_of_yes_passes_words_that_are_not_understood(draft, tmp_path):
    order = tmp_path / "order.yaml"
    ran = run("draft", "--confirm", draft, "--output", order, stdin=b"yes\n" * 99)
    assert ran.status == 3
    assert not order.exists()
    assert "Enter leave out or no." in ran.err


def test_a_file_that_is_written_is_called_a_draft_where_it_is_one(draft, tmp_path):
    order = tmp_path / "order.yaml"
    ran = run("draft", "--confirm", draft, "--output", order, stdin=b"yes\n" * 3 + b"no\n")
    assert "order.yaml is a draft, and no order." in " ".join(ran.err.split())
    assert order.read_text("utf-8").startswith("# What was read in a text.")


def test_stopped_before_its_end_nothing_is_written(draft):
    ran = run("draft", "--confirm", draft, stdin=b"yes\nstop\n")
    assert (ran.status, ran.out) == (3, b"")
    assert run("draft", "--confirm", draft, stdin=b"yes\n").status == 3


def test_only_a_draft_can_be_confirmed():
    assert run("draft", "--confirm", "examples/clean.yaml").status == 2
    assert run("draft", "--confirm", "-", stdin=b"").status == 2


@pytest.mark.parametrize("form", ["json", "html", "sarif", "junit", "line", "fhir"])
def test_what_is_not_understood_stands_in_every_report(form, tmp_path):
    file = tmp_path / "draft.yaml"
    note = tmp_path / "note.txt"
    note.write_bytes(OPEN)
    run("draft", note, "--output", file)
    found = run("verify", file, "--format", form)
    assert found.status == 1, found.err
    assert b"draft-text-not-understood" in found.out
