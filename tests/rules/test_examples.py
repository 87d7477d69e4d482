"""Every rule's own examples, through evaluate, z3, SQL and Python."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import yields
from bundles import changed, found_in
from each_case import holds_of_each
from read_aloud import LONGEST, spoken
from rule_examples import (
    NAMES,
    OUTCOMES,
    RuleExample,
    conditions_for,
    examples,
    rulebook_for,
    verified,
)
from walkers import Solved, by_evaluate, by_polars, by_python, by_sql

from orderlint.assessment import findings_of_faults
from orderlint.comparison.orders import compare_orders
from orderlint.mention_check.faults import text_faults
from orderlint.message import message_to
from orderlint.order_set.read import read_order_set
from orderlint.order_set.static_checks import set_faults
from orderlint.readback import read_back
from orderlint.readback.observed import nothing_seen, read_seen
from orderlint.rulebook.load import load
from orderlint.rulebook.policy_rules_check import check_own_rules
from orderlint.rulebook.policy_rules_check import of_policy as said_of
from orderlint.rulebook.rule import CodeRule
from orderlint.sentences.draft import drafted, unchecked_of
from orderlint.utc_offset_check import offset_faults as off_zone
from orderlint.verification import STRANGE, verify_bundle

if TYPE_CHECKING:
    from orderlint.finding import Fault, Finding
    from orderlint.language.tree import Tree
    from orderlint.sentences.draft import Draft
    from orderlint.verification import Verified

MEANING = {"breaks": False, "passes": True, "unknown": None}


pytestmark = pytest.mark.usefixtures("contradictions_found_once")


def outcome(example: RuleExample) -> bool | None:
    """The rule over all its instances: broken if any is, else unknown if any is, else kept."""
    leaves = example.leaves()
    results = [by_evaluate(tree, leaves) for tree in conditions_for(example)]
    return False if False in results else None if None in results else True


def of_policy(example: RuleExample) -> list[str]:
    """What is found of the example's policy, rather than of its order."""
    rulebook = rulebook_for(example)
    if rulebook.rules[example.rule].found_by == "check":
        of_rules = [fault.rule for checked in check_own_rules(rulebook) for fault in checked.faults]
        return [*of_rules, *(fault.rule for fault in said_of(rulebook, example.at))]
    found = [finding.rule for finding in verified(example).assessment.findings]
    return [name for name in found if rulebook.rules[name].found_by == "policy"]


def at_the_bedside(example: RuleExample) -> tuple[Finding, ...]:
    """What is found in comparing the example's order with what it says is seen."""
    seen = read_seen(example.seen) if example.seen else nothing_seen("nothing")
    return read_back(example.order, seen, example.at, rulebook_for(example)).assessment.findings


def of_change(example: RuleExample) -> tuple[Finding, ...]:
    """What is found in the change to the example's order from the one before it."""
    return compare_orders(
        example.before, example.order, example.at, rulebook_for(example)
    ).assessment.findings


def of_set(example: RuleExample) -> list[Fault]:
    """What is found of the example's order set as it is written."""
    rulebook = rulebook_for(example)
    order_set = read_order_set(example.order_set, rulebook.derived)
    return [*order_set.faults, *set_faults(order_set, rulebook, example.at)]


def draft_in(example: RuleExample) -> Draft:
    """The draft of the example's text; its lines are confirmed if the example says so."""
    draft = drafted(example.written["draft"].encode(), "text", "0")
    confirmed = example.written.get("confirmed") == "yes"
    return replace(draft, lines=tuple(x._replace(confirmed=confirmed) for x in draft.lines))


def of_bundle(example: RuleExample) -> Verified:
    """What is found in the sample Bundle with the changes of the example."""
    (found,) = found_in(changed(example.written))
    return verify_bundle(found, example.at, rulebook_for(example))


def of_resources(example: RuleExample) -> set[str]:
    """The rules on resources of FHIR that the example's Bundle breaks or leaves open."""
    assessment = of_bundle(example).assessment
    found = [item.rule for item in (*assessment.findings, *assessment.unchecked)]
    return {name for name in found if rulebook_for(example).rules[name].found_by == "fhir"}


@pytest.mark.parametrize("name", NAMES)
def test_the_examples_of_a_rule(name):
    """All that is asked of them, so that each is read, and its order checked, once."""
    holds_of_each(examples(name), says_what_it_claims)
    the_walkers_agree(name)
    breaking = [example for example in examples(name) if example.outcome == "breaks"]
    assert breaking
    holds_of_each(breaking, has_all_its_words)
    holds_of_each(breaking, has_a_message_that_can_be_read_aloud)
    entries = load("all").rules[name].examples.entries
    kinds = {entry.key.text for entry in entries}
    assert {"breaks", "passes"} <= kinds <= set(OUTCOMES)


def says_what_it_claims(example: RuleExample):
    rule = rulebook_for(example).rules[example.rule]
    if rule.found_by == "set":
        found = {fault.rule for fault in of_set(example)}
        assert found == {rule.id} if example.outcome == "breaks" else rule.id not in found
    elif rule.found_by == "proof":
        order_set = read_order_set(example.order_set, rulebook_for(example).derived)
        found = yields.found(order_set, rulebook_for(example), example.at)
        assert (example.rule in found) == (example.outcome == "breaks")
    elif rule.found_by in {"policy", "check"}:
        found = of_policy(example)
        assert (rule.id in found) == (example.outcome == "breaks")
        assert example.outcome == "passes" or found == [rule.id]
    elif rule.found_by == "readback":
        found = [finding.rule for finding in at_the_bedside(example)]
        assert found == [rule.id] if example.outcome == "breaks" else rule.id not in found
    elif rule.found_by == "compare":
        found = [finding.rule for finding in of_change(example)]
        assert (rule.id in found) == (example.outcome == "breaks")
    elif rule.found_by == "draft":
        found = [item.rule for item in unchecked_of(draft_in(example))]
        assert found == [rule.id] if example.outcome == "breaks" else rule.id not in found
    elif rule.found_by == "fhir":
        found = of_resources(example)
        assert found - {STRANGE} == (
            {rule.id} - {STRANGE} if example.outcome == "breaks" else set()
        )
        assert rule.id != STRANGE or (STRANGE in found) == (example.outcome == "breaks")
    elif isinstance(rule, CodeRule):
        order = example.order
        faults = (*order.faults, *off_zone(order), *text_faults(order))
        found = [fault.rule for fault in faults]
        assert found == [rule.id] if example.outcome == "breaks" else rule.id not in found
    else:
        assert outcome(example) is MEANING[example.outcome]


def the_walkers_agree(name: str):
    """One table for all the orders that the same conditions are asked of."""
    asked: dict[tuple[Tree, ...], list[RuleExample]] = defaultdict(list)
    for example in examples(name):
        asked[conditions_for(example)].append(example)
    for trees, cases in asked.items():
        orders = [example.leaves() for example in cases]
        meant = [[by_evaluate(tree, leaves) for tree in trees] for leaves in orders]
        solved = Solved(trees)
        found = {
            "z3": [solved.outcomes(leaves) for leaves in orders],
            "SQL": by_sql(trees, orders),
            "Python": by_python(trees, orders),
            "polars": by_polars(trees, orders),
        }
        for walker, outcomes in found.items():
            told = zip(cases, outcomes, meant, strict=True)
            differ = [str(case) for case, theirs, ours in told if theirs != ours]
            assert not differ, walker


def has_all_its_words(example: RuleExample):
    rulebook = rulebook_for(example)
    found_by = rulebook.rules[example.rule].found_by
    if found_by in {"check", "proof", "draft"} or example.rule == STRANGE:
        return  # it has its words in another report
    findings = (
        findings_of_faults(of_set(example), example.order, rulebook)
        if example.order_set
        else verified(example).assessment.findings
    )
    if rulebook.rules[example.rule].found_by == "readback":
        findings = at_the_bedside(example)
    if rulebook.rules[example.rule].found_by == "fhir":
        findings = of_bundle(example).assessment.findings
    if example.before is not None:
        findings = of_change(example)
    found = {finding.rule: finding for finding in findings}
    covering = [rule for rule in found if example.rule in rulebook.rules[rule].covers]
    assert example.rule in found or covering
    for finding in findings:
        words = (finding.says, finding.expected, finding.why, finding.ask)
        assert not any("{" in text or "not to be had" in text for text in words), words
        assert not any(re.search(r"\w\(|  | [.,;]( |$)", text) for text in words), words
        assert finding.says[0].isupper()
        assert finding.says.endswith((".", "?"))  # a question: did you mean what is near?
        assert finding.why.endswith(".")
        assert finding.ask.endswith("?")
        assert finding.source


def has_a_message_that_can_be_read_aloud(example: RuleExample):
    for whom in ("prescriber", "pharmacy", "author"):
        message = message_to(whom, verified(example))
        assert not message.points or spoken(message) < LONGEST
