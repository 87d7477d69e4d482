"""Pages from the command line: statuses, whole files, and refusals that are shown."""

from __future__ import annotations

import hashlib

from report.pages import taken_apart
from running import AT, CLEAN, run

EXAMPLES = CLEAN.parent
NARROW = EXAMPLES / "drain-above-treat-above.yaml"


def test_a_page_of_several_orders_has_the_digest_of_each(tmp_path):
    output = tmp_path / "page.html"
    ran = run("verify", "--format", "html", *AT, "--output", output, CLEAN, NARROW)
    assert (ran.status, ran.out) == (1, b"")
    page = taken_apart(output.read_text("utf-8"))
    for file in (CLEAN, NARROW):
        assert f"SHA-256 of the file: {hashlib.sha256(file.read_bytes()).hexdigest()}" in page.text
    assert page.text.startswith(f"CLEAR: {CLEAN}; DO NOT START – CALL: {NARROW}")


def test_a_page_from_standard_input_is_utf_8_whatever_the_terminal_has():
    ran = run("verify", "--format", "html", *AT, "-", stdin=CLEAN.read_bytes(), encoding="ascii")
    assert ran.status == 0
    assert "“built-in policy”" in taken_apart(ran.out.decode("utf-8")).text


def test_a_file_that_is_refused_stands_on_the_page_and_on_standard_error():
    data = b'document: order\nformat: 1\nid: "a \\u202e b"\n'
    ran = run("verify", "--format", "html", "-", CLEAN, stdin=data)
    assert ran.status == 2
    reason = "<stdin>:3:5: The text holds U+202E"
    assert ran.err.startswith(reason)
    page = taken_apart(ran.out.decode())
    assert f"NOT CHECKED. {reason}" in page.text
    assert "Verdict: " in page.text


def test_a_policy_that_is_refused_leaves_a_page_that_says_so(tmp_path):
    policy = tmp_path / "policy.yaml"
    policy.write_bytes(b"document: site-policy\nformat: 1\nnonsense: 1\n")
    ran = run("verify", "--format", "html", "--policy", policy, CLEAN)
    assert ran.status == 2
    assert "NOT CHECKED." in taken_apart(ran.out.decode()).text
