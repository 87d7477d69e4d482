"""Makes blocks of the check of a policy's own rules, with an order for each possible outcome.

Never a proof.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.tree import atoms, paths_of
from orderlint.language.types import Scope
from orderlint.report import blocks as b
from orderlint.report.words import LEVELS
from orderlint.rulebook.witness_words import witness_words
from orderlint.templates import TemplateValues

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.finding import Fault
    from orderlint.rulebook.own_rules_check import CheckedRule
    from orderlint.rulebook.rule import ConditionRule, Rulebook
    from orderlint.rulebook.satisfiability import Answer


def blocks(
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


def _answer(answer: Answer, rule: ConditionRule) -> str:
    if answer.leaves is None:
        return "by no order." if answer.found == "no" else "no answer was found within the effort."
    trees = [instance.condition for instance in rule.instances]
    paths = {path for tree in trees for atom in atoms(tree) for path in paths_of(atom)}
    leaves = [leaf for path, leaf in answer.leaves.items() if path in paths]
    return f"{', '.join(witness_words(leaf) for leaf in leaves)}."


def _fault(fault: Fault, rulebook: Rulebook) -> str:
    rule = rulebook.rules[fault.rule]
    words = TemplateValues({}, Scope(field_table()), {}, fault.details)
    return f"{LEVELS[rule.level]}: {words.fill(rule.says)} {rule.ask} ({fault.place}, {rule.id})"
