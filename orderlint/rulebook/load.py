"""Files of rules → the rulebook. The only reader of the rules folder.

Checks every record as it loads: keys, level, source, condition, figures, what covers what.
"""

from __future__ import annotations

import functools
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Level, Refused
from orderlint.language import figures
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError
from orderlint.language.syntax import parse
from orderlint.language.types import Quantity, Scope
from orderlint.reading import read
from orderlint.reading.node import Listing, Scalar, Section
from orderlint.rulebook.expand import Condition, Setting, instances, unmet_assumption
from orderlint.rulebook.policy import read_policy
from orderlint.rulebook.record import (
    known_keys,
    listed,
    optional,
    pairs,
    pinpoint,
    refuse,
    scalar,
    section,
    words,
)
from orderlint.rulebook.rule import Rule, Rulebook
from orderlint.rulebook.source import sources_of
from orderlint.units import read_constant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.language.surface import Surface
    from orderlint.reading import Document
    from orderlint.reading.node import Node
    from orderlint.rulebook.policy import Policy
    from orderlint.rulebook.rule import Instance

KEYS = (
    *("rule", "level", "over", "assumes", "when", "require", "limits", "found_by", "leads"),
    *("says", "expected", "why", "ask", "ask_whom", "figures", "covers", "covered_by", "source"),
    "examples",
)
FOUND_BY = ("reading", "schema", "units", "set", "readback", "compare", "policy")
ASK_WHOM = ("prescriber", "pharmacy", "second nurse", "author")
_FOLDER = Path(__file__).parent.parent / "rules"


# INVARIANT: in the files of this folder a record's examples stand last, at this indentation.
_EXAMPLES = re.compile(rb"^    examples:\n(?:(?:      .*)?\n)*", re.MULTILINE)


@functools.cache
def built_in() -> Rulebook:
    """The rulebook that ships with the tool, on the built-in policy, with its examples."""
    return load({})


@functools.cache
def at_hand() -> Rulebook:
    """The same rulebook without its examples, which no order needs: half of what is to be read."""
    return load({}, examples=False)


def load(site: Mapping[str, Node], *, examples: bool = True) -> Rulebook:
    """The built-in rules on the built-in policy, with some of its values replaced."""
    catalogue = {key: text.text for key, text in pairs(_document("sources").root, "sources")}
    policy = read_policy(_document("policy"), catalogue)
    if site:
        policy = policy.with_values(site)
    derived = _derived(_document("derived"))
    constants = {key: dict(policy.constants(key)) for key in (None, *policy.keys())}
    setting = Setting(field_table(), policy, derived, constants)
    rules: dict[str, Rule] = {}
    covered_by: list[tuple[str, Scalar]] = []
    for name, document in _families(examples):
        for record in _records(document):
            for rule in _rules(record, name, setting, catalogue):
                if rule.id in rules:
                    refuse(record, f"there is a rule {rule.id} already")
                rules[rule.id] = rule
                covered_by.extend((rule.id, by) for by in listed(record, "covered_by"))
    return Rulebook(_closed(rules, covered_by), policy.title, policy.choice("outflow"))


def _document(name: str, *, examples: bool = True) -> Document:
    path = _FOLDER / f"{name}.yaml"
    data = path.read_bytes()
    return read(data if examples else _EXAMPLES.sub(_blank, data), f"rules/{path.name}")


def _blank(match: re.Match[bytes]) -> bytes:
    """As many empty lines, so that every place that is left still holds."""
    return b"\n" * match[0].count(b"\n")


def _families(examples: bool) -> list[tuple[str, Document]]:
    """The files of rules with their names, the clinical ones first, as each one's rank says."""
    names = {path.stem for path in _FOLDER.glob("*.yaml")} - {"sources", "policy", "derived"}
    documents = [(name, _document(name, examples=examples)) for name in sorted(names)]
    return sorted(documents, key=lambda named: int(scalar(named[1].root, "rank").text))


def _derived(document: Document) -> Mapping[str, Surface]:
    """Named facts, each checked against those before it, so that none can lead back to itself."""
    derived: dict[str, Surface] = {}
    for name, text in pairs(document.root, "derived"):
        scope = Scope(field_table(), derived=dict(derived))
        derived[name] = _parsed(text)
        try:
            lower(derived[name], scope)
        except LanguageError as error:
            raise pinpoint(text, error) from None
    return derived


def _records(document: Document) -> Iterator[Section]:
    rules = document.root.get("rules")
    if not isinstance(rules, Listing):
        refuse(rules or document.root, "rules: is a list of rules")
    for node in rules.items:
        record = section(node, "a rule", node)
        known_keys(record, KEYS, "a rule")
        yield record


def _parsed(text: Scalar, it: str | None = None) -> Surface:
    try:
        return parse(text.text.replace("{it}", it) if it else text.text)
    except LanguageError as error:
        raise pinpoint(text, error) from None


def _rules(
    record: Section, family: str, setting: Setting, catalogue: Mapping[str, str]
) -> Iterator[Rule]:
    rule = _worded(record, family, catalogue)
    found_by = optional(record, "found_by")
    if found_by is not None:
        if found_by.text not in FOUND_BY:
            refuse(found_by, f"found_by is one of: {', '.join(FOUND_BY)}")
        yield replace(rule, found_by=found_by.text)
    elif "{it}" in rule.id:
        for it in _over(record, setting):
            name = it.replace(".", "-").replace("_", "-") if it else ""
            yield _conditioned(
                replace(rule, id=rule.id.replace("{it}", name)), record, (it,), setting
            )
    else:
        yield _conditioned(rule, record, _over(record, setting), setting)


def _worded(record: Section, family: str, catalogue: Mapping[str, str]) -> Rule:
    level, ask_whom = scalar(record, "level"), scalar(record, "ask_whom")
    if level.text not in {item.value for item in Level}:
        refuse(level, f"a level is {', '.join(item.value for item in Level)}")
    if ask_whom.text not in ASK_WHOM:
        refuse(ask_whom, f"ask_whom is one of: {', '.join(ASK_WHOM)}")
    examples = record.get("examples")
    return Rule(
        id=scalar(record, "rule").text,
        family=family,
        level=Level(level.text),
        says=scalar(record, "says").text,
        expected=words(record, "expected"),
        why=scalar(record, "why").text,
        ask=scalar(record, "ask").text,
        ask_whom=ask_whom.text,
        sources=sources_of(record, catalogue),
        place=record.place,
        leads=words(record, "leads") or None,
        covers=frozenset(item.text for item in listed(record, "covers")),
        examples=section(examples, "examples", record) if examples else None,
    )


def _over(record: Section, setting: Setting) -> tuple[str | None, ...]:
    """The paths that `it` stands for, or one None where the rule has no `over:`."""
    node = record.get("over")
    if node is None:
        return (None,)
    if isinstance(node, Section):
        key, kind = next(iter(pairs(record, "over")))
        wanted = [f for f in setting.table.fields.values() if getattr(f, key, None) == kind.text]
        if key not in {"kind", "dimension"} or not wanted:
            refuse(node, "over: is a list of paths, or a kind or dimension of field")
        return tuple(field.path for field in wanted)
    for item in listed(record, "over"):
        if item.text not in setting.table.fields and item.text not in setting.table.sections:
            refuse(item, f"there is no field {item.text}")
    return tuple(item.text for item in listed(record, "over"))


def _conditioned(
    rule: Rule, record: Section, over: tuple[str | None, ...], setting: Setting
) -> Rule:
    require, when = scalar(record, "require"), optional(record, "when")
    limits = _limits(record, setting)
    made: list[Instance] = []
    reasons = list(_unmet(record, setting.policy))
    if not reasons:
        plain = _condition(when, require, None, limits)
        named = "{it}" in f"{when.text if when else ''} {require.text}"
        for it in over:
            condition = _condition(when, require, it, limits) if named else plain
            try:
                found, lacking = instances(condition, it, setting)
            except LanguageError as error:
                raise pinpoint(_guilty(when, require, it, setting, limits), error) from None
            made.extend(found)
            reasons.extend(lacking)
    unique = tuple(dict.fromkeys(reasons))
    scope = made[0].scope if made else None
    worked = _figures(record, scope) if scope else None
    return replace(rule, instances=tuple(made), inactive=unique, figures=worked)


def _condition(
    when: Scalar | None, require: Scalar, it: str | None, limits: Mapping[str, Quantity]
) -> Condition:
    return Condition(_parsed(when, it) if when else None, _parsed(require, it), limits)


def _guilty(
    when: Scalar | None,
    require: Scalar,
    it: str | None,
    setting: Setting,
    limits: Mapping[str, Quantity],
) -> Scalar:
    """Which of the two texts does not lower: `require` is tried alone."""
    try:
        instances(_condition(None, require, it, limits), it, setting)
    except LanguageError:
        return require
    return when or require


def _unmet(record: Section, policy: Policy) -> Iterator[str]:
    assumes = optional(record, "assumes")
    if assumes is not None:
        try:
            reason = unmet_assumption(_parsed(assumes), policy)
        except LanguageError as error:
            raise pinpoint(assumes, error) from None
        if reason:
            yield reason


def _limits(record: Section, setting: Setting) -> Mapping[str, Quantity]:
    limits = {}
    for name, text in pairs(record, "limits"):
        taken = {path.partition(".")[0] for path in setting.table.fields}
        if name in taken or name in setting.derived or not name.isidentifier():
            refuse(text, f"a limit cannot be called {name}")
        try:
            ticks, unit = read_constant(text.text)
        except ValueError as error:
            refuse(text, str(error))
        limits[name] = Quantity(unit.dimension, ticks, text.text)
    return limits


def _figures(record: Section, scope: Scope) -> Mapping[str, Surface]:
    found = {}
    for name, text in pairs(record, "figures"):
        try:
            found[name] = parse(text.text, figures.FUNCTIONS, division=True)
            figures.check_figure(found[name], scope)
        except LanguageError as error:
            raise pinpoint(text, error) from None
    return found


def _closed(rules: Mapping[str, Rule], covered_by: list[tuple[str, Scalar]]) -> Mapping[str, Rule]:
    """The rules with `covers` carried through: what a covered rule covers is covered too."""
    straight = {rule.id: set(rule.covers) for rule in rules.values()}
    for covered, by in covered_by:
        if by.text not in straight:
            refuse(by, f"there is no rule {by.text}")
        straight[by.text].add(covered)
    return {
        rule.id: replace(rule, covers=_reached(rule, straight, rules)) for rule in rules.values()
    }


def _reached(
    rule: Rule, straight: Mapping[str, set[str]], rules: Mapping[str, Rule]
) -> frozenset[str]:
    reached: set[str] = set()
    ahead = list(straight[rule.id])
    while ahead:
        covered = ahead.pop()
        if covered not in rules or covered == rule.id:
            raise Refused(f"{rule.id} cannot cover {covered}", rule.place)
        if rules[covered].level.weight > rule.level.weight:
            raise Refused(f"{rule.id} cannot cover {covered}, which weighs more", rule.place)
        if covered not in reached:
            reached.add(covered)
            ahead.extend(straight[covered])
    return frozenset(reached)
