"""`weaker:` of a policy's value is the direction in which more orders pass, by the rules' examples.

Each value is changed as far as `weaker:` says, and the examples of the rules that read it are asked
again: something that was broken passes, and nothing that passed is broken.
"""

from __future__ import annotations

import functools
from collections import defaultdict
from dataclasses import replace

import pytest
from rule_examples import examples

from orderlint.language.evaluate import evaluate
from orderlint.language.types import Choice, Listed, Quantity
from orderlint.readback import read_back
from orderlint.readback.observed import read_seen
from orderlint.rulebook import build
from orderlint.rulebook.instantiate import Environment
from orderlint.rulebook.load import load
from orderlint.rulebook.policy.policy_values import read_policy
from orderlint.rulebook.rule import CodeRule
from orderlint.rulebook.rule_reader import rules_of
from orderlint.rulebook.source_documents import _named_in, shipped_files
from orderlint.rulebook.yaml_fields import pairs

FILES = shipped_files()
CATALOGUE = {key.text: text.text for key, text in pairs(FILES.sources.root, "sources")}
POLICY = read_policy(FILES.built_in_policy, CATALOGUE)
VALUES = POLICY.values
DERIVED = build._derived(FILES.derived)
FAR = 40
WRITTEN = {"breaks": False, "passes": True, "unknown": None}
READ_BY_CODE = {"drain_scale_step", "readback_age_max"}
NAMED_HERE_KNOWN_THERE = "a drug that no list names is asked about by name"
CUTS_BOTH_WAYS = {
    ("amphotericin", "additive-may-dissolve-clots"): NAMED_HERE_KNOWN_THERE,
    ("beta_lactams", "additive-may-dissolve-clots"): NAMED_HERE_KNOWN_THERE,
    ("heparins", "additive-may-dissolve-clots"): NAMED_HERE_KNOWN_THERE,
    ("no_additive", "additive-may-dissolve-clots"): NAMED_HERE_KNOWN_THERE,
    ("thrombolytics", "additive-may-dissolve-clots"): NAMED_HERE_KNOWN_THERE,
    ("thrombolytics", "thrombolytic-by-class"): NAMED_HERE_KNOWN_THERE,
    ("antimicrobials", "additive-class-does-not-fit"): "a name that is listed has a class",
    ("contrast_for_spine", "additive-class-does-not-fit"): "a name that is listed has a class",
    ("antimicrobials", "drug-for-the-bag-in-text"): "a drug that is listed is looked for in texts",
    ("csf_rate", "output-limit-far-over-expected"): "a limit may be too high as well as too low",
    ("no_output_max", "net-in-limit-left-to-no-output"): "a short limit stands for the other one",
}
"""Values with rules of which they let fewer orders pass, and why."""


@functools.cache
def records():
    """By rule that is found by a condition: its record and family."""
    found = {
        record.place: (record, family)
        for family, document in FILES.families.items()
        for record in build.records(document)
    }
    rules = load("all").rules.values()
    return {rule.id: found[rule.place] for rule in rules if not isinstance(rule, CodeRule)}


@functools.cache
def readers():
    """By value, the rules whose records name it."""
    found = defaultdict(list)
    for rule, (record, _) in records().items():
        for name in _named_in(record, POLICY):
            found[name].append(rule)
    return found


def outcome(rule, example, values):
    """Whether an example keeps a rule under a policy of these values; None if that is unknown."""
    environment = Environment(replace(POLICY, values=values), DERIVED, CATALOGUE)
    made = next(each for each in rules_of(*records()[rule], environment) if each.id == rule)
    leaves = example.leaves()
    found = [evaluate(instance.condition, leaves) for instance in made.instances]
    return False if False in found else None if None in found else True


def changed(value):
    """The value, or all of a table's, changed far; a list to one with nothing of the kind."""
    if value.by:
        keyed = {key: parts_changed(value, parts) for key, parts in value.keyed.items()}
        return replace(value, keyed=keyed)
    return replace(value, parts=parts_changed(value, value.parts))


def parts_changed(value, parts):
    return {part: part_changed(value, part, constant) for part, constant in parts.items()}


def part_changed(value, part, constant):
    if isinstance(constant, Listed):
        return Listed((unlike(constant.items[0]),))
    match value.weaker:
        case "higher":
            return far(constant, 1)
        case "lower":
            return far(constant, -1)
        case "wider":
            return far(constant, -1 if part.endswith("lowest") else 1)
        case "finer":
            return replace(constant, ticks=1)
        case "other" if value.choices:
            return Choice(next(each for each in value.choices if each != constant.text))
        case _:  # an item of a list has its number for a name, and no rule reads it
            return constant


def unlike(item):
    return replace(item, ticks=1) if isinstance(item, Quantity) else Choice("nothing of the kind")


def far(constant, sign):
    return replace(constant, ticks=constant.ticks + sign * FAR * max(abs(constant.ticks), 1))


def outcomes(name):
    """Rules with what each example comes to with the value stricter, and with it weaker.

    One of the two is as the example is written. Of a list the shorter one is the other.
    """
    for rule in readers()[name]:
        for example in examples(rule):
            values = POLICY.with_values(example.values).values
            value = values[name]
            if example.policy is None and (value.parts or any(value.keyed.values())):
                told = (
                    WRITTEN[example.outcome],
                    outcome(rule, example, {**values, name: changed(value)}),
                )
                yield rule, *(reversed(told) if value.weaker == "longer" else told)


@pytest.mark.parametrize("name", [name for name in VALUES if name not in READ_BY_CODE])
def test_in_its_weaker_direction_more_examples_pass_and_none_fewer(name):
    found = [*outcomes(name)]
    assert any(strict is False and weak is not False for _, strict, weak in found)
    fewer = {rule for rule, strict, weak in found if weak is False and strict is not False}
    assert fewer == {rule for value, rule in CUTS_BOTH_WAYS if value == name}


def found_at_the_bedside(example, name, value):
    """The rules on an example's settings seen, under a policy with another value."""
    rulebook = load("all")._replace(values={**VALUES, name: value})
    found = read_back(example.order, read_seen(example.seen), example.at, rulebook)
    return {finding.rule for finding in found.assessment.findings}


def test_settings_seen_may_be_older_where_the_longest_age_is_higher():
    rule, name = "seen-too-old", "readback_age_max"
    old = [
        case for case in examples(rule) if rule in found_at_the_bedside(case, name, VALUES[name])
    ]
    weak = changed(VALUES[name])
    assert VALUES[name].weaker == "higher"
    assert any(rule not in found_at_the_bedside(case, name, weak) for case in old)


def test_a_drain_may_hang_further_off_where_the_step_of_its_scale_is_higher():
    differs, name = "seen-differs", "drain_scale_step"
    value = VALUES[name]
    fine = {unit: {"": replace(parts[""], ticks=1)} for unit, parts in value.keyed.items()}
    rounded = [case for case in examples("seen-rounded") if "drainage.height" in case.written]
    assert value.weaker == "higher"
    assert rounded
    for case in rounded:
        assert differs not in found_at_the_bedside(case, name, value)
        assert differs in found_at_the_bedside(case, name, replace(value, keyed=fine))
