"""What the audit of the example says in one part agrees with what it says in the others."""

from __future__ import annotations

import re

import pytest
from running import CLEAN, run

EXAMPLES = CLEAN.parent


@pytest.fixture(scope="module")
def text():
    """The whole audit, as text."""
    ran = run(
        *("audit", "--detail", "--map", EXAMPLES / "past-orders-map.yaml", "--by", "UNIT"),
        *("--month", "written", "--policy", EXAMPLES / "policy-standing-orders.yaml"),
        EXAMPLES / "past-orders.csv",
    )
    return str(ran.out, "utf-8")


@pytest.mark.slow
def test_it_is_said_who_mends_a_refused_row_and_where_they_are(text):
    part = " ".join(part_of(text, "Refused rows").split())
    assert "is changed by whoever makes the export" in part
    assert re.search(r"By UNIT: “\w+”: (\d|under 5)", part)
    assert re.search(r"By month: 2025-\d\d: under 5", part)


def part_of(text, heading):
    return re.search(rf"^{heading}\n((?:  .*\n)+)", text, re.MULTILINE)[1]


def ids_in(said):
    """The ids that stand in lists after a colon."""
    joined = " ".join(said.split())
    return {rule for ids in re.findall(r": ([a-z, -]+)\.", joined) for rule in ids.split(", ")}


@pytest.mark.slow
def test_the_rules_that_no_order_was_asked_are_those_of_the_table(text):
    table = part_of(text, "What each rule comes to")
    table = table[table.index("  rule ") :]
    lines = re.findall(r"^  ([a-z-]+)\n? +(\S.*)$", table, re.MULTILINE)
    never = {
        rule for rule, cells in lines if re.split(r" {2,}", cells)[:4] == ["0", "0", "234", "0"]
    }
    assert len(never) > 40
    assert ids_in(part_of(text, "Rules that no order was asked")) == never
    assert not ids_in(part_of(text, "Rules that the policy leaves out for some orders")) & never
