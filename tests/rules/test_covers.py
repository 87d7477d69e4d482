"""What a rule says that it covers can be covered: the two have a setting in common."""

from __future__ import annotations

import pytest

from orderlint.rulebook import rules_folder
from orderlint.rulebook.build import records
from orderlint.rulebook.covers import covers_of
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import ConditionRule, subjects_of

RULES = load("all").rules


def written():
    """Each cover as a record says it, between rules with conditions."""
    for family in {rule.family for rule in RULES.values()}:
        for record in records(rules_folder.document(family, examples=False)):
            rule = record.get("rule")
            for cover in covers_of(record, rule.text) if rule.text in RULES else ():
                pair = RULES[cover.upper], RULES[cover.lower]
                if all(isinstance(each, ConditionRule) and each.instances for each in pair):
                    yield pair


def subjects(rule):
    return frozenset().union(*(subjects_of(each.paths, each.condition) for each in rule.instances))


@pytest.mark.slow
def test_a_rule_covers_one_that_has_a_setting_in_common_with_it():
    pairs = [*written()]
    assert len(pairs) > 50
    assert not [(up.id, low.id) for up, low in pairs if subjects(up).isdisjoint(subjects(low))]
