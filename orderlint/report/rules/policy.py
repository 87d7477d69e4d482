"""Shows a policy: each value beside the built-in one, and what orders can do to its own rules.

The words and numbers are those of the policy. Never a proof.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.tree import paths_in
from orderlint.language.types import Scope
from orderlint.report import blocks as b
from orderlint.report.order.json import report_text
from orderlint.report.words import LEVELS
from orderlint.rulebook.citation import cited
from orderlint.rulebook.instantiate import names_in
from orderlint.rulebook.policy.replaced_values import format_constants
from orderlint.rulebook.policy_rules_check import CheckedRule, witness_words
from orderlint.rulebook.rule import CodeRule, ConditionRule, Rulebook
from orderlint.rulebook.source_documents import shipped_files
from orderlint.rulebook.yaml_fields import pairs
from orderlint.templates import TemplateValues

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Fault
    from orderlint.report.order.json import Member
    from orderlint.rulebook.policy.policy_values import PolicyValue
    from orderlint.rulebook.satisfiability import Satisfiability

PASSES_MORE: Mapping[str, str] = {
    "higher": "a higher value",
    "lower": "a lower value",
    "finer": "a finer step",
    "wider": "a wider range",
    "longer": "a longer list",
    "shorter": "a shorter list",
    "other": "another choice",
}
"""What lets more orders pass, by a value's direction."""


def values_blocks(
    rulebook: Rulebook, built_in: Rulebook, values: Iterable[PolicyValue]
) -> Iterator[b.Block]:
    """Some values of the policy in force, each beside the built-in one where it is another."""
    yield b.paragraph(f"Values of “{rulebook.policy}”. A condition reads one as site.NAME.")
    readers = _readers(rulebook)
    yield b.ReportSection(
        "Values",
        tuple(_entry(item, built_in, readers.get(item.name, [])) for item in values),
    )


def _entry(value: PolicyValue, built_in: Rulebook, readers: list[str]) -> b.Entry:
    details = [*_texts(value)]
    there = built_in.values[value.name]
    if value.parts != there.parts or value.keyed != there.keyed:
        details += [f"Built in: {text}" for text in _texts(there)]
    details.append(f"More orders pass with {PASSES_MORE[there.weaker or 'other']}.")
    details.append(f"Source: {cited(value.sources)}")
    if readers:
        details.append(f"Asked by: {', '.join(readers)}")
    return b.Entry(value.name, value.called, tuple(details))


def _texts(value: PolicyValue) -> Iterator[str]:
    """The value as text; of a table, one for each key."""
    if not value.by:
        yield format_constants(value.parts)
    for key, parts in value.keyed.items():
        yield f"{key}: {format_constants(parts)}"


def _readers(rulebook: Rulebook) -> dict[str, list[str]]:
    """For each value the rules whose condition reads it."""
    found: dict[str, list[str]] = {}
    for rule in rulebook.rules.values():
        if isinstance(rule, CodeRule):
            continue
        surfaces = (rule.require, *([rule.when] if rule.when else []))
        read = {n.path for node in surfaces for n in names_in(node, rulebook.derived)}
        for path in sorted(path for path in read if path.startswith("site.")):
            found.setdefault(path.split(".")[1], []).append(rule.id)
    return found


def values_json(rulebook: Rulebook, built_in: Rulebook, values: Iterable[PolicyValue]) -> str:
    """Some values of the policy as one JSON text, ending in a line feed."""
    readers = _readers(rulebook)
    told: list[Member] = [
        {
            "name": value.name,
            "called": value.called,
            "by": value.by,
            "value": _texts_by_key(value),
            "built_in": _texts_by_key(built_in.values[value.name]),
            "weaker": built_in.values[value.name].weaker,
            "sources": [{"kind": item.kind, "text": item.text} for item in value.sources],
            "rules": [*readers.get(value.name, [])],
        }
        for value in values
    ]
    return report_text({"policy": rulebook.policy, "values": told})


def _texts_by_key(value: PolicyValue) -> Member:
    if not value.by:
        return {"": format_constants(value.parts)}
    return {key: format_constants(parts) for key, parts in value.keyed.items()}


GATE_FORMS: Mapping[str, str] = {
    "therapy == 'irrigation'": "a choice, with one of its words",
    "patient.group in {'child', 'infant'}": "a choice, with several",
    "drainage.scale == display_unit": "two choices",
    "unit_of(pause.upper) == 'mmHg'": "the unit that a setting is written in",
    "given(titration.max)": "that a setting or a section is in the order at all",
    "pause.lower < treat_above": "two settings that measure the same",
    "treat_above >= low": "a setting and a number, with limits: {low: 10 mmHg} beside shown_when:",
    "irrigates and not given(titration)": "several of these: and, or, not, and brackets",
}
"""Conditions of each form that `shown_when:` may have, and what each compares."""


def facts_blocks(rulebook: Rulebook) -> Iterator[b.Block]:
    """The facts that conditions may name, and what `shown_when:` of an order set may say."""
    facts = pairs(shipped_files().derived.root, "derived")
    told = tuple((name.text, condition.text) for name, condition in facts)
    yield b.ReportSection("Facts that a condition may name", (b.Terms(told),))
    yield b.ReportSection(
        "What shown_when: of an order set may say",
        (
            b.Terms(tuple(GATE_FORMS.items())),
            b.paragraph(
                "It reads the settings of the order alone: no site.NAME of a policy, no time of "
                "checking, nothing that is written at signing, and no spelling. Under “"
                f"{rulebook.policy}” rules read the values that orderlint rules --values lists."
            ),
        ),
    )


def check_blocks(
    checked: tuple[CheckedRule, ...], of_policy: tuple[Fault, ...], rulebook: Rulebook
) -> Iterator[b.Block]:
    """The faults of a policy, then each of its rules with what orders can do to it."""
    if of_policy:
        said = tuple(_fault(fault, rulebook) for fault in of_policy)
        yield b.ReportSection(f"The policy “{rulebook.policy}”", (b.Items(said),))
    yield b.paragraph(f"The rules that “{rulebook.policy}” adds")
    for item in checked:
        lines = (*_answers(item), *(_fault(fault, rulebook) for fault in item.faults))
        yield b.ReportSection(item.rule.id, (b.Items(lines),))
    if not checked:
        yield b.paragraph("It adds none.")


def _answers(item: CheckedRule) -> Iterator[str]:
    if item.possible is None:
        yield from (f"It is not asked: {reason}." for reason in item.rule.inactive)
        return
    if item.rule.examples is None:
        yield "It has no examples; they would show what it is meant to find."
    for can, answer in (
        ("It can be broken", item.possible.broken),
        ("It can be kept", item.possible.kept),
        ("It can be broken where no rule beside it is", item.possible.alone),
    ):
        yield f"{can}: {_answer(answer, item.rule)}"
    for cover in item.covers:
        if cover.needed == "open":
            can = f"It can be that {cover.upper} covers {cover.lower} on some order"
            yield f"{can}: no answer was found within the effort."


def _answer(answer: Satisfiability, rule: ConditionRule) -> str:
    if answer.leaves is None:
        return "by no order." if answer.found == "no" else "no answer was found within the effort."
    paths = paths_in(*rule.conditions)
    leaves = [leaf for path, leaf in answer.leaves.items() if path in paths]
    return f"{', '.join(witness_words(leaf) for leaf in leaves)}."


def _fault(fault: Fault, rulebook: Rulebook) -> str:
    rule = rulebook.rules[fault.rule]
    words = TemplateValues({}, Scope(field_table()), {}, fault.details)
    return f"{LEVELS[rule.level]}: {words.fill(rule.says)} {rule.ask} ({fault.place}, {rule.id})"
