"""What the engine says of each row of a drawn table is what `verify` says of its document."""

from __future__ import annotations

import random
from pathlib import Path

import polars as pl
import pytest

from orderlint.audit import column_logic as logic
from orderlint.audit.clocks import Clocks
from orderlint.audit.judge import judge
from orderlint.audit.policy_plan import PolicyPlan, lists_of
from orderlint.audit.row_reader import RowReader
from orderlint.audit.rows import Cells
from orderlint.audit.texts import HEAD_PATHS
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.tables.row_document import document_of
from orderlint.verification import verify_order

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
FIELDS = {p: field for p, field in field_table().fields.items() if p not in HEAD_PATHS}
SECTIONS = [*field_table().sections]
ODD = (
    *(" ", "x", "none", "5", "25 mmHg", "25.0 mmHg", ".5 mL", "60 mL/hr", "60mL/h", "7 cmH2O"),
    *("10 cm", "1,000 mL", "q4h", "n/a", "IRRIGATION", "\t5 mmHg", "5\u00a0mmHg", "5 mmHg\x00"),
    *("a\u202eb", "Europe/Berlin", "2025-11-02T05:00:00-06:00", "2", "-3 mmHg", "\u20133 mmHg"),
    *("20-25 mmHg", "alteplase 2 mg", "no vancomycin", "flush with 2 cc", "1" * 45, "a\rb"),
    *("Clamp the drain before transport; call if ICP > 25 mmHg", "open the drain", "unknown"),
    *("stop when ICP below 15 mmHg for 24 h", "999999 mL/h"),
)
ZONES = ("Europe/Berlin", "America/Chicago", "Asia/Kolkata", "Nowhere/No")
OFFSETS = ("-05:00", "-06:00", "+01:00", "Z", "", "+05:30")


def bases():
    for file in sorted(EXAMPLES.glob("*.yaml")):
        try:
            order = read_order(read(file.read_bytes(), file.name, "order"))
        except Refused:
            continue
        yield {p: leaf.text for p, leaf in order.leaves.items() if leaf.given and p in FIELDS}


def drawn(count, seed):
    """Orders near those of the examples, odd texts among them."""
    chance, known = random.Random(seed), [*bases()]
    for _ in range(count):
        row = dict(chance.choice(known))
        loss = chance.choice((0, 0, 0.05, 0.3))
        row = {path: text for path, text in row.items() if chance.random() >= loss}
        for path in chance.sample([*FIELDS], chance.choice((0, 0, 1, 3, 8))):
            row[path] = chance.choice((FIELDS[path].example, chance.choice(ODD)))
        if chance.random() < 0.05:
            row[chance.choice(SECTIONS)] = chance.choice(ODD)
        if chance.random() < 0.3:
            row["zone"] = chance.choice(ZONES)
        for path in ("written", "starts", "review_by"):
            if chance.random() < 0.3:
                month, day, hour = (
                    chance.choice((3, 10, 11)),
                    chance.randint(1, 28),
                    chance.randint(0, 23),
                )
                row[path] = f"2025-{month:02}-{day:02}T{hour:02}:30:00{chance.choice(OFFSETS)}"
        yield row


def as_cells(rows):
    """The rows as columns, each different text once."""
    found = {}
    for path in sorted({path for row in rows for path in row}):
        numbers = {}
        codes = [
            numbers.setdefault(row[path], len(numbers)) if path in row else None for row in rows
        ]
        texts = pl.Series([*numbers], dtype=pl.String)
        found[path] = Cells(pl.Series(codes, dtype=pl.UInt32), texts)
    return found


def by_engine(rows, rulebook):
    """Of each row what the engine says: why it is refused, or verdict, findings and what lacks."""
    plan, cells = PolicyPlan(rulebook), as_cells(rows)
    read_rows, refused = RowReader(cells, lists_of([rulebook])).read(cells, len(rows))
    judged = judge(plan, read_rows, read_rows.numbers["written"], Clocks())
    said = [{"verdict": None, "reported": set(), "missing": set()} for _ in range(read_rows.count)]

    def note(mask, what, item):
        for row in logic.as_series(mask, read_rows.count).arg_true():
            said[row][what].add(item)

    for verdict, where in judged.verdicts.items():
        for row in logic.as_series(where, read_rows.count).arg_true():
            said[row]["verdict"] = verdict
    for rule, found in judged.rules.items():
        note(found.reported, "reported", rule)
        for each in plan.asked.get(rule, ()):
            for path, where in judged.outcomes.missing(each.condition).items():
                note(where, "missing", (rule, path))
    answers = {each.row: each.reason for each in refused}
    answers |= dict(zip(read_rows.places.to_list(), said, strict=True))
    return answers


def by_verify(row, rulebook):
    """The same by `verify`; None where the row has no time to be judged as of."""
    if any(each.startswith(f"{path}.") for path in row for each in row):
        return "The same key stands twice in one section."
    try:
        order = read_order(read(document_of(row), "row", "order", json=True))
    except Refused as reason:
        return reason.message
    at = order.leaves["written"].value
    if not isinstance(at, int):
        return None
    found = verify_order(order, at, rulebook).assessment
    return {
        "verdict": found.verdict,
        "reported": {finding.rule for finding in found.findings},
        "missing": {(each.rule, path) for each in found.unchecked for path in each.missing},
    }


def agree(count, seed, rulebook):
    rows = [*drawn(count, seed)]
    answers = by_engine(rows, rulebook)
    compared = 0
    for number, row in enumerate(rows):
        told = by_verify(row, rulebook)
        if isinstance(told, str):
            assert isinstance(answers[number], str), row
        elif told is not None:
            ours = {key: answers[number][key] for key in told}
            assert ours == told, row
            compared += 1
    assert compared > count / 2


@pytest.mark.slow
def test_each_row_is_judged_as_verify_judges_it():
    agree(40, 5, load("order"))


def policy(name):
    return load("order", read((EXAMPLES / name).read_bytes(), name, "site-policy"))


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(4))
def test_thousands_of_rows_are_judged_as_verify_judges_them(seed):
    agree(2_000, seed, load("order"))
    for file in sorted(EXAMPLES.glob("policy-*.yaml")):
        agree(500, seed, policy(file.name))
