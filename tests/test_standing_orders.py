"""A policy's standing orders fill what an order leaves out, in each verb alike."""

from __future__ import annotations

import functools
import html
import json
import re
from datetime import datetime
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from policy_files import local, refused

import orderlint
from orderlint.fields import field_table, load_schema
from orderlint.language.tree import atoms, paths_of
from orderlint.order import SIGNING_FIELDS, Order, State
from orderlint.order_reader import read_order
from orderlint.order_set.model import preset_order
from orderlint.order_set.read import read_order_set
from orderlint.proof.prover import Decision
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import CodeRule
from orderlint.rulebook.standing_orders import FILLABLE, filled, filled_in
from orderlint.set_review import review_set
from orderlint.verification import verify_order

EXAMPLES = Path(__file__).parents[1] / "examples"
POLICY = EXAMPLES / "policy-standing-orders.yaml"
AT = datetime.fromisoformat("2026-03-02T14:30:00-06:00")
CLEAN = (EXAMPLES / "clean.yaml").read_text(encoding="utf-8")
WATCH = "level_every: 4 h, zero_every: 12 h, alarms: on, relevel_on_move: yes"
MOVE = "transport: {irrigation: off, drain: clamp, icp_monitored: yes, clamp_max: 30 min}\n"
TERSE = CLEAN.replace(f", {WATCH}", "").replace(MOVE, "")
BOOK = load("order", read(POLICY.read_bytes(), "unit.yaml", "site-policy"))


def standing(*lines: str) -> str:
    """The key of a policy with these lines."""
    return "standing_orders:\n  paper: sheet 7\n  lines:\n" + "".join(f"    {x}\n" for x in lines)


def found(text, policy=POLICY):
    return orderlint.verify(text.encode(), name="order.yaml", at=AT, policy=policy)


def test_an_order_without_its_lines_is_as_clear_as_one_with_them():
    assert len(TERSE) < len(CLEAN) - 100
    assert found(TERSE).verdict is found(CLEAN).verdict is orderlint.Verdict.CLEAR
    assert found(TERSE, None).verdict is orderlint.Verdict.CLARIFY
    assert {leaf.path for leaf in filled_in(found(TERSE).found.order)} == {*FILLABLE}
    assert not [*filled_in(found(CLEAN).found.order)]


def test_what_the_order_says_stands():
    order = found(CLEAN.replace("zero_every: 12 h", "zero_every: 8 h")).found.order
    assert order.leaves["monitoring.zero_every"].text == "8 h"


@pytest.mark.parametrize(
    ("written", "verdict"),
    [
        ("zero_every: soon", "clarify"),
        ("zero_every: 12", "clarify"),
        ("zero_every: [12 h]", "do-not-start"),
        ("zero_evry: 12 h", "do-not-start"),
    ],
)
def test_an_unreadable_leaf_is_never_filled(written, verdict):
    judged = found(CLEAN.replace("zero_every: 12 h", written))
    assert judged.verdict == verdict
    assert judged.found.order.leaves["monitoring.zero_every"].state is State.UNREADABLE


def test_a_section_of_another_form_is_never_filled():
    judged = found(CLEAN.replace(MOVE, "transport: as usual\n"))
    assert judged.verdict is orderlint.Verdict.DO_NOT_START
    assert not [*filled_in(judged.found.order)]


def test_each_line_is_checked_as_one_of_the_order_and_named_as_the_policys():
    book = local(standing("monitoring.zero_every: 48 h", "monitoring.alarms: off"))
    order = read_order(read(TERSE.encode(), "order.yaml", "order"))
    judged = verify_order(order, orderlint_at(), book).assessment.findings
    by_rule = {finding.rule: finding for finding in judged}
    assert "alarms-off" in by_rule
    assert by_rule["zero-interval-too-long"].written == "48 h (from the policy)"
    assert by_rule["zero-interval-too-long"].place.file == "unit.yaml"


def orderlint_at():
    return int(AT.timestamp() * 1000)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("§pause.upper: 22 mmHg", "none of theirs"),
        ("§irrigation.rate: 40 mL/h", "none of theirs"),
        ("§drainage.height: 5 mmHg", "none of theirs"),
        ("§notify.net_in.above: 15 mL", "none of theirs"),
        ("§monitoring.zero_evry: 12 h", "did you mean monitoring.zero_every?"),
        ("monitoring.zero_every: §soon", "care-setting-not-read"),
        ("monitoring.zero_every: §12", "care-setting-not-read"),
        ("transport.clamp_max: §soon", "kind-not-expected"),
        ("transport.clamp_max: §30", "unit-missing"),
        ("transport.clamp_max: §.5 h", "naked decimal"),
        ("transport.irrigation: §on", "no standing order turns irrigation on"),
    ],
)
def test_no_other_line_is_taken(line, why):
    assert why in refused(standing(line))


def test_no_pressure_rate_drug_height_or_volume_can_be_filled():
    assert {path.partition(".")[0] for path in FILLABLE} == {"monitoring", "transport"}
    assert {field_table().fields[path].dimension for path in FILLABLE} == {None, "duration"}


SCHEMAS = {
    "verify": "findings",
    "plan": "plan",
    "readback": "readback",
    "compare": "comparison",
    "review": "review",
}


@pytest.mark.parametrize("verb", SCHEMAS)
def test_each_report_names_the_lines_of_the_policy(verb):
    result = result_of(verb)
    made = json.loads(result.render("json"))
    validator = Draft202012Validator(load_schema(SCHEMAS[verb]))
    assert [error.message for error in validator.iter_errors(made)] == []
    member = json.dumps(made)
    assert '"from": "policy"' in member
    assert "nursing standing order 7" in member
    for text in (result.to_text(), result.to_html()):
        plain = " ".join(html.unescape(re.sub("<[^>]+>", "", text)).split())
        assert "zeroing interval 12 h" in plain
        assert "nursing standing order 7" in plain


@functools.cache
def result_of(verb):
    terse, names = TERSE.encode(), ("before.yaml", "after.yaml")
    with_policy = {"at": AT, "policy": POLICY}
    seen, order_set = EXAMPLES / "seen-as-ordered.yaml", EXAMPLES / "set-irrigation-adult.yaml"
    calls = {
        "verify": lambda: found(TERSE),
        "plan": lambda: orderlint.plan(terse, name="order.yaml", start=AT, **with_policy),
        "readback": lambda: orderlint.read_back(
            terse, seen, names=("order.yaml", None), **with_policy
        ),
        "compare": lambda: orderlint.compare(CLEAN.encode(), terse, names=names, **with_policy),
        "review": lambda: orderlint.review(order_set, **with_policy),
    }
    return calls[verb]()


def test_a_line_that_is_no_longer_written_is_no_change():
    compared = result_of("compare").found
    paths = {row.path for row in compared.settings}
    assert not paths & {*FILLABLE}


def test_what_is_seen_is_compared_with_the_line_of_the_policy():
    row = {row.path: row for row in result_of("readback").found.rows}["monitoring.alarms"]
    assert row.ordered.from_policy
    assert row.outcome.value == "equal"


READ = {
    rule.id
    for rule in load("order").order_rules
    for each in rule.instances
    for atom in atoms(each.condition)
    if not {*FILLABLE}.isdisjoint(paths_of(atom))
}
"""The rules that ask of a setting that standing orders can fill."""
SETS = sorted(path.name for path in EXAMPLES.glob("set-*.yaml"))


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("dropped", [False, True])
def test_a_proof_on_a_set_and_the_order_signed_from_it_agree(name, dropped):
    """The presets are one order of the set: no rule that is proved is broken by them filled, and
    what breaks on an order of the set is what verify finds in it. No other rule reads the lines.
    """
    kept_rules = {
        k: rule for k, rule in BOOK.rules.items() if k in READ or isinstance(rule, CodeRule)
    }
    book = BOOK._replace(rules=kept_rules)
    text = (EXAMPLES / name).read_text(encoding="utf-8")
    if dropped:
        kept = [x for x in text.splitlines() if not x.strip().startswith(("zero_every", "alarms"))]
        text = "\n".join(kept) + "\n"
    order_set = read_order_set(read(text.encode(), name, "order-set"), book.derived)
    review = review_set(order_set, orderlint_at(), book)  # replays each counterexample, or raises
    held = {Decision.PROVED, Decision.VACUOUS}
    proved = {proof.rule for proof in review.proofs if proof.result in held}
    made = preset_order(order_set)
    signed = Order(made.file, made.leaves, (), made.places)
    broken = {f.rule for f in verify_order(signed, orderlint_at(), book).assessment.findings}
    assert len(proved) > 5
    assert not proved & broken
    assert {item.rule.id for item in review.broken}.isdisjoint(proved)


def test_filling_twice_changes_nothing():
    order = read_order(read(TERSE.encode(), "order.yaml", "order"))
    once = filled(order, BOOK.standing_orders)
    assert filled(once, BOOK.standing_orders) == once
    assert SIGNING_FIELDS.isdisjoint(FILLABLE)
