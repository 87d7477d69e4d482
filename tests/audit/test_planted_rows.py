"""The planted orders of a query: which rules have some, and that they are what a check finds."""

from __future__ import annotations

from policy_files import local
from rows_of_texts import leaves_as_checked, outcome, read_row

from orderlint.audit.sql import outcomes
from orderlint.audit.sql.outcomes import COUNTS, outcome_of, trees_of
from orderlint.audit.sql.planted_rows import planted_rows, verified_leaves
from orderlint.audit.sql.spec import asked_of
from orderlint.fields import CHECKED_AT
from orderlint.language.evaluate import evaluate
from orderlint.rulebook.load import load

SOME = (
    "trailing-zero",
    "additive-mass-high",
    "missing-irrigation-rate",
    "transport-clamped-unwatched",
)

SUPPRESSION = """suppressions:
  - rule: drain-margin-small
    path: treat_above
    reason: for a test
    approved_by: a committee
    until: 2026-01-01T00:00:00Z
"""


def some(rulebook, rules=SOME):
    return rulebook._replace(rules={name: rulebook.rules[name] for name in rules})


def test_each_setting_of_a_rule_is_broken_alone_by_some_planted_order():
    book = some(load("all"))
    planted = planted_rows(book, ())
    assert not planted.unbroken
    for rule in book.order_rules:
        found = set()
        for row in planted.rows:
            if row.rule == rule.id:
                leaves = verified_leaves(row.texts, None)
                broken = [evaluate(each.condition, leaves) for each in rule.instances]
                found |= {broken.index(False)} if broken.count(False) == 1 else set()
        assert found == {*range(len(rule.instances))}


def test_what_is_expected_of_a_planted_order_is_what_a_check_of_it_finds():
    book = some(load("all"))
    for row in planted_rows(book, ()).rows:
        texts = {path: text for path, text in row.texts.items() if path != CHECKED_AT}
        order = read_row(texts)
        leaves = {
            **leaves_as_checked(order, book),
            CHECKED_AT: verified_leaves(row.texts, None)[CHECKED_AT],
        }
        assert COUNTS[row.expected] == outcome(book.rules[row.rule], leaves)


def test_a_rule_that_no_order_breaks_is_named():
    book = some(load("all"), ("adult-needs-own-policy",))
    assert planted_rows(book, ()).unbroken == ("adult-needs-own-policy",)


def test_faults_of_a_text_are_planted_too():
    book = some(load("all"), ("unit-missing", "key-not-known"))
    planted = planted_rows(book, ("unit-missing", "key-not-known"))
    assert {"BROKEN", "KEPT"} == {r.expected.name for r in planted.rows if r.rule == "unit-missing"}
    # A table has no column with a name that no order knows.
    assert planted.unbroken == ("key-not-known",)


def test_a_rule_that_a_policy_does_not_ask_is_not_asked_of_any_order():
    book = local("completeness:\n  targets.map: silent\n")
    trees = trees_of(book.rules["missing-targets-map"])
    assert trees.both == ()
    assert COUNTS[outcome_of(trees, {})] == "not_asked"
    assert outcomes.tests_of([trees]) == {}


def test_rules_that_a_query_cannot_ask_are_named():
    book = local(SUPPRESSION)
    rules = {name: book.rules[name] for name in ("offset-not-of-zone", "suppression-expired")}
    asked = asked_of(book._replace(rules=rules))
    assert asked.uncounted == ("offset-not-of-zone", "suppression-expired")
    assert asked_of(load("all")._replace(rules=rules)).uncounted == ("offset-not-of-zone",)
