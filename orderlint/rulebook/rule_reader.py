"""Reads a record of a rule file: one rule, or a rule for each path of its `over:`.

Checks the record's keys, level, names and condition, and no other record.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Harm, Level
from orderlint.language import figures, syntax
from orderlint.language.types import Quantity, Scope
from orderlint.reading.node import Listing, Scalar, Section
from orderlint.rulebook.instantiate import ParsedCondition, cases_of, instance, unmet_assumption
from orderlint.rulebook.parsed_text import parse_condition, parse_figure, pinpointing
from orderlint.rulebook.rule import ChangeRule, CodeRule, OrderRule, Skipped
from orderlint.rulebook.yaml_fields import (
    known_keys,
    listed,
    optional,
    pairs,
    plain_name,
    quantity,
    refuse,
    scalar,
    section,
    sources_of,
    words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.rulebook.instantiate import Environment, TableCase
    from orderlint.rulebook.rule import ConditionRule, Instance, Rule

CONDITION = ("over", "assumes", "when", "require", "limits", "leads", "figures")
"""The keys that only a rule with a condition has."""
KEYS = (
    *("rule", "level", "harm", "found_by", "says", "expected", "why", "ask", "ask_whom"),
    *("covers", "covered_by", "source", "examples"),
)
"""The keys that every rule has."""
FOUND_BY = (
    *("reading", "schema", "units", "set", "proof", "readback", "compare", "policy", "check"),
    *("draft", "fhir"),
)
ASK_WHOM = ("prescriber", "pharmacy", "second nurse", "transcriber", "author")
_ID = re.compile("[a-z0-9]+(-[a-z0-9]+)*")


def rules_of(record: Section, family: str, environment: Environment) -> Iterator[Rule]:
    """The rules of one record, without their covers. Raises Refused at the first mistake."""
    known_keys(record, (*KEYS, *CONDITION), "a rule")
    written, found_by = scalar(record, "rule"), optional(record, "found_by")
    common = _common(record, family, environment.catalogue)
    if found_by is not None:
        known_keys(record, KEYS, "a rule with found_by:")
        _check_choice(found_by, FOUND_BY, "found_by:")
        yield CodeRule(**common, id=_id(written, None), found_by=found_by.text)
        return
    over = _over(record)
    for paths in [(it,) for it in over] if "{it}" in written.text else [over]:
        yield _condition_rule(_id(written, paths[0]), common, record, paths, environment)


def _common(record: Section, family: str, catalogue: Mapping[str, str]) -> dict[str, Any]:
    """The fields that a rule of any kind has from its record."""
    level, ask_whom = scalar(record, "level"), scalar(record, "ask_whom")
    _check_choice(level, tuple(item.value for item in Level), "level:")
    _check_choice(ask_whom, ASK_WHOM, "ask_whom:")
    harm = optional(record, "harm")
    if harm is not None:
        _check_choice(harm, tuple(item.value for item in Harm), "harm:")
    return {
        "family": family,
        "level": Level(level.text),
        "harm": Harm(harm.text) if harm else Harm.OTHER,
        "says": scalar(record, "says").text,
        "expected": words(record, "expected"),
        "why": scalar(record, "why").text,
        "ask": scalar(record, "ask").text,
        "ask_whom": ask_whom.text,
        "sources": sources_of(record, catalogue),
        "place": record.place,
        "examples": examples_in(record),
    }


def examples_in(record: Section) -> Section | None:
    """The examples of a record. Raises Refused where they are no section."""
    examples = record.get("examples")
    return section(examples, "examples:", record) if examples else None


def _check_choice(text: Scalar, allowed: tuple[str, ...], what: str) -> None:
    if text.text not in allowed:
        refuse(text, f"{what} is one of: {', '.join(allowed)}")


def _id(written: Scalar, it: str | None) -> str:
    """The rule's id, with `{it}` filled by the words of a path."""
    made = written.text.replace("{it}", re.sub("[._]", "-", it)) if it else written.text
    if not _ID.fullmatch(made):
        refuse(written, f"{made} is no id; an id is small letters and digits, joined by hyphens")
    return made


def _over(record: Section) -> tuple[str | None, ...]:
    """The paths that `it` means, or one None if the rule has no `over:`."""
    node = record.get("over")
    if isinstance(node, Section):
        return _fields_of(node)
    return tuple(known_path(item) for item in listed(record, "over")) or (None,)


def _fields_of(over: Section) -> tuple[str, ...]:
    """The fields of some kinds or dimensions, in the order of the table."""
    keys = [entry.key.text for entry in over.entries]
    if keys not in (["kind"], ["dimension"]):
        refuse(over, "over: is a list of settings, or kinds or dimensions of them")
    (key,) = keys
    many = isinstance(over.get(key), Listing)
    wanted = listed(over, key) if many else (scalar(over, key),)
    kinds = {field.path: getattr(field, key) for field in field_table().fields.values()}
    for item in wanted:
        _check_choice(item, tuple(sorted({kind for kind in kinds.values() if kind})), f"a {key}")
    among = {item.text for item in wanted}
    return tuple(path for path, kind in kinds.items() if kind in among)


def known_path(text: Scalar) -> str:
    """The path of a field or section. Raises Refused if it is of none."""
    with pinpointing(text):
        Scope(field_table()).section(text.text, 0)
    return text.text


def _condition_rule(
    rule_id: str,
    common: Mapping[str, Any],
    record: Section,
    over: tuple[str | None, ...],
    environment: Environment,
) -> ConditionRule:
    limits = {name: quantity(text) for name, text in _own(record, "limits", environment)}
    condition, instances, reasons = _instances(record, over, limits, environment)
    leads, assumes = optional(record, "leads"), optional(record, "assumes")
    unmet = unmet_assumption(parse_condition(assumes), environment.policy) if assumes else None
    kind = ChangeRule if condition.reads_earlier_order() else OrderRule
    return kind(
        **common,
        id=rule_id,
        instances=() if unmet else instances,
        require=condition.require.surface,
        when=condition.when.surface if condition.when else None,
        over=tuple(it for it in over if it),
        limits=limits,
        figures={name: parse_figure(text) for name, text in _own(record, "figures", environment)},
        main_path=known_path(leads) if leads else None,
        skipped=(Skipped(unmet),) if unmet else reasons,
    )


def _instances(
    record: Section,
    over: tuple[str | None, ...],
    limits: Mapping[str, Quantity],
    environment: Environment,
) -> tuple[ParsedCondition, tuple[Instance, ...], tuple[Skipped, ...]]:
    """The condition for the last path, its instances for all, and why others are not asked."""
    when, require = optional(record, "when"), scalar(record, "require")
    differs = any("{it}" in text.text for text in (when, require) if text)
    made: list[Instance] = []
    reasons: list[Skipped] = []
    condition = None
    cases: tuple[TableCase, ...] = ()
    for it in over:
        if condition is None or differs:
            condition = ParsedCondition(
                parse_condition(when, it) if when else None, parse_condition(require, it), limits
            )
            cases, lacking = cases_of(condition, environment)
            reasons.extend(lacking)
        made.extend(instance(condition, it, case, environment) for case in cases)
    assert condition is not None
    return condition, tuple(made), tuple(dict.fromkeys(reasons))


def _own(record: Section, key: str, environment: Environment) -> Iterator[tuple[str, Scalar]]:
    """The names that a record defines under a key, with their texts; no other thing has these."""
    own = tuple(pairs(record, key))
    taken = {*taken_names(), *environment.derived} if own else set[str]()
    for name, text in own:
        yield plain_name(name, taken), text


def taken_names() -> set[str]:
    """The names that the language has for other things."""
    fields = {path.partition(".")[0] for path in field_table().fields}
    functions = {*syntax.FUNCTIONS, *figures.FUNCTIONS}
    return {*fields, *functions, "it", "site", "before", CHECKED_AT}
