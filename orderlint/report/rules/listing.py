"""Shows the rulebook: every rule in a table, or one rule whole, as text, Markdown and JSON.

The words are those of the rule files. Never an order, and never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.language.tree import Names, atoms
from orderlint.language.types import Listed
from orderlint.mention_check.faults import ACT_RULE, NUMBER_RULE
from orderlint.mentions.words import ACTS, NEGATORS, OTHERS, SUBJECTS
from orderlint.report import blocks as b
from orderlint.report.markdown_escape import escaped
from orderlint.report.order.json import report_text
from orderlint.report.rules.condition import condition_words, differs_by_display
from orderlint.report.words import LEVELS, name_of
from orderlint.rulebook.citation import cited
from orderlint.rulebook.examples import RuleExample, examples_of
from orderlint.rulebook.policy.replaced_values import format_constants
from orderlint.rulebook.rule import CodeRule, ConditionRule, Rule, Rulebook
from orderlint.verification import verify_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Finding
    from orderlint.report.order.json import Member

FOUND_BY = {
    "reading": "Found in reading the order.",
    "schema": "Found by the schema of orders.",
    "units": "Found in reading numbers and units.",
    "set": "Found in an order set as it is written.",
    "proof": "Found in looking at every order that an order set can yield.",
    "readback": "Found in reading back what was keyed in.",
    "compare": "Found in comparing two orders.",
    "policy": "Found of the policy, when an order is checked under it.",
    "check": "Found of the policy, by `orderlint rules --check`.",
    "draft": "Found in a draft of an order, read from a text.",
    "fhir": "Found in reading an order from resources of FHIR.",
}
"""How a rule without a condition is found."""
_OUTCOMES = {"breaks": "Broken by", "passes": "Kept by", "unknown": "Could not be checked on"}
_TITLE = "The rulebook, under “{}”"


def blocks(rulebook: Rulebook) -> Iterator[b.Block]:
    """Every rule with its level, words and source, by family."""
    yield b.paragraph(f"{_TITLE.format(rulebook.policy)}. {_BRACES}")
    for family, title in rulebook.families.items():
        rules = (rule for rule in rulebook.rules.values() if rule.family == family)
        yield b.ReportSection(title, tuple(map(_entry, rules)))


def _entry(rule: Rule) -> b.Entry:
    details = [f"Source: {cited(rule.sources)}"]
    details += [f"Not asked: {reason}" for reason in rule.inactive]
    return b.Entry(f"{rule.id}: {LEVELS[rule.level]}", rule.says, tuple(details))


def rule_blocks(rule: Rule, rulebook: Rulebook) -> Iterator[b.Block]:
    """One rule whole."""
    terms = b.Terms(tuple(_parts(rule, rulebook)))
    yield b.ReportSection(f"{rule.id}: {LEVELS[rule.level]}", (terms,))
    for heading, told in _told(rule):
        yield b.ReportSection(heading, (b.Items(tuple(told)),))


def _told(rule: Rule) -> Iterator[tuple[str, list[str]]]:
    """The examples of a rule in words, those of each outcome under its heading."""
    for outcome, heading in _OUTCOMES.items():
        told = [_example_words(item) for item in examples_of(rule) if item.outcome == outcome]
        if told:
            yield heading, told


def _parts(rule: Rule, rulebook: Rulebook) -> Iterator[tuple[str, str]]:
    """What there is to say of a rule, each with its label."""
    yield "Says", rule.says
    said = _said(rule, rulebook)
    if said:
        yield "For example", said
    if isinstance(rule, CodeRule):
        yield "Found", FOUND_BY[rule.found_by]
        yield from words_looked_for(rule.id)
    else:
        asked, kept = condition_words(rule, rulebook)
        if len(rule.over) > 1:
            yield "For each of", ", ".join(map(name_of, rule.over))
        yield "Asked where", asked or "the order is of any kind"
        yield "Kept where", kept
        if differs_by_display(rule):
            said = "kept if it would be on a display in each unit; not checked else"
            yield "Where no display unit is written", said
    if rule.expected:
        yield "Would be consistent", rule.expected
    yield "Why", rule.why
    yield "Harm", rule.harm.value
    yield f"Ask the {rule.ask_whom}", rule.ask
    yield "Source", cited(rule.sources)
    if rule.covers:
        yield "Silences beside it, at a setting they share", ", ".join(sorted(rule.covers))
    for reason in rule.inactive:
        yield "Not asked", reason
    yield "Place", str(rule.place)


def words_looked_for(rule: str) -> Iterator[tuple[str, str]]:
    """The words by which a rule on free texts finds what it is about; nothing for another rule."""
    if rule == NUMBER_RULE:
        for name, subject in SUBJECTS.items():
            paths = dict.fromkeys(path for each in subject.paths.values() for path in each)
            settings = ", ".join(map(name_of, paths))
            yield f"A number by {name}", f"{', '.join(subject.words)}: {settings}"
        yield "No number by", ", ".join(sorted(OTHERS))
    elif rule == ACT_RULE:
        for name, act in ACTS.items():
            beside = f" (beside {', '.join(act.objects)})" if act.objects else ""
            yield f"To {name}", f"{', '.join(act.verbs)}{beside}"
        yield "Not after", f"{', '.join(sorted(NEGATORS))}, or a word that ends in n't"


def _said(rule: Rule, rulebook: Rulebook) -> str | None:
    """What is said of the first order, or change, among a rule's examples on which it is found."""
    for example in examples_of(rule):
        if example.outcome != "breaks" or example.order_set is not None:
            continue
        judging = example.rulebook() if example.values or example.policy else rulebook
        for finding in _found(example, judging):
            if finding.rule == rule.id:
                return finding.says
    return None


def _found(example: RuleExample, rulebook: Rulebook) -> tuple[Finding, ...]:
    if example.before is None:
        return verify_order(example.order, example.at, rulebook).assessment.findings
    from orderlint.comparison.orders import compare_orders  # noqa: PLC0415 - for few rules

    return compare_orders(example.before, example.order, example.at, rulebook).assessment.findings


def _example_words(example: RuleExample) -> str:
    settings = _listed(example.written)
    if example.order_set is not None:
        return f"an order set with {settings}" if settings else "an order set"
    under = [f"{name} replaced" for name in example.values]
    under += ["a policy of its own"] if example.policy else []
    beside = f" (with {' and '.join(under)})" if under else ""
    seen = f"; seen: {_listed(example.written_seen)}" if example.seen else ""
    before = ""
    if example.before is not None:
        before = f"; before: {_listed(example.written_before) or 'nothing'}"
    return f"{settings or 'an order with nothing in it'}{beside}{seen}{before}"


def _listed(written: Mapping[str, str]) -> str:
    return ", ".join(f"{path}: {text or '…'}" for path, text in written.items())


def as_markdown(rulebook: Rulebook) -> str:
    """Every rule in a table for each family, and the names looked for; ends in a line feed."""
    parts = [f"# {escaped(_TITLE.format(rulebook.policy))}", _BY_THE_TOOL]
    for family, title in rulebook.families.items():
        rules = [rule for rule in rulebook.rules.values() if rule.family == family]
        lines = [f"## {escaped(title.rstrip('.'))}", "", _HEAD, "|---|---|---|---|---|"]
        parts.append("\n".join([*lines, *(_row(rule) for rule in rules)]))
    if named := [*_names_looked_for(rulebook)]:
        parts.append("\n".join([f"## {_NAMES}", "", _NAMES_HEAD, "|---|---|---|", *named]))
    return "\n\n".join(parts) + "\n"


_BRACES = (
    "A name in braces stands for what an order writes; "
    "what stands in brackets is said only where it can be."
)
_BY_THE_TOOL = f"Written by `orderlint rules --format markdown`. {_BRACES}"
_NAMES = "Names that rules look for, as whole words"
_NAMES_HEAD = "| list or table of the policy | names | source |"
_HEAD = "| rule | level | harm | what it says | source |"


def _names_looked_for(rulebook: Rulebook) -> Iterator[str]:
    """A row for each list or table of the policy whose names a rule looks for in a text."""
    rules = (rule for rule in rulebook.rules.values() if not isinstance(rule, CodeRule))
    found = (a for rule in rules for item in rule.instances for a in atoms(item.condition))
    looked_for = {atom.listed for atom in found if isinstance(atom, Names)}
    for value in rulebook.values.values():
        listed = value.parts.get("")
        names = ""
        if isinstance(listed, Listed) and tuple(item.text for item in listed.items) in looked_for:
            names = format_constants(value.parts)
        elif value.is_by_name:
            rows = value.keyed.items()
            names = "; ".join(f"{row}: {format_constants(parts)}" for row, parts in rows)
        if names:
            said = escaped(names), escaped(cited(value.sources))
            yield f"| `{value.name}`: {escaped(value.called)} | {' | '.join(said)} |"


def _row(rule: Rule) -> str:
    inactive = "".join(f" *Not asked: {escaped(reason)}.*" for reason in rule.inactive)
    cells = (
        f"`{rule.id}`",
        rule.level.value,
        rule.harm.value,
        escaped(rule.says) + inactive,
        escaped(cited(rule.sources)),
    )
    return f"| {' | '.join(cells)} |"


def rule_as_markdown(rule: Rule, rulebook: Rulebook) -> str:
    """One rule whole; ends in a line feed."""
    parts = [f"# `{rule.id}`", f"Level: {rule.level.value}"]
    parts += [f"**{label}:** {escaped(said)}" for label, said in _parts(rule, rulebook)]
    for heading, told in _told(rule):
        parts += [f"## {heading}", "\n".join(f"- {escaped(said)}" for said in told)]
    return "\n\n".join(parts) + "\n"


def as_json(rulebook: Rulebook, rules: Iterable[Rule]) -> str:
    """Some rules of the rulebook as one JSON text, ending in a line feed."""
    told: list[Member] = [_rule(rule, rulebook) for rule in rules]
    return report_text({"policy": rulebook.policy, "rules": told})


def _rule(rule: Rule, rulebook: Rulebook) -> Member:
    over: tuple[str, ...] = ()
    asked = kept = ""
    if isinstance(rule, ConditionRule):
        over, (asked, kept) = rule.over, condition_words(rule, rulebook)
    return {
        "rule": rule.id,
        "family": rule.family,
        "level": rule.level.value,
        "harm": rule.harm.value,
        "says": rule.says,
        "over": [*over],
        "asked_where": asked,
        "kept_where": kept,
        "found_by": rule.found_by,
        "expected": rule.expected,
        "why": rule.why,
        "ask": rule.ask,
        "ask_whom": rule.ask_whom,
        "sources": [{"kind": source.kind, "text": source.text} for source in rule.sources],
        "covers": [*sorted(rule.covers)],
        "inactive": [*rule.inactive],
        "examples": [_example(item) for item in examples_of(rule)],
    }


def _example(example: RuleExample) -> Member:
    member: dict[str, Member] = {"outcome": example.outcome, "written": dict(example.written)}
    if example.before is not None:
        member["before"] = dict(example.written_before)
    if example.seen:
        member["seen"] = dict(example.written_seen)
    return member
