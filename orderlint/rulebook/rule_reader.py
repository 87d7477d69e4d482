"""One record of a rule file → its rule, or a rule for each path of its `over:`.

Checks the record's keys, level, names and condition. Never another record.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.finding import Level
from orderlint.language import figures, syntax
from orderlint.language.surface import LanguageError
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.reading.node import Listing, Section
from orderlint.rulebook.instantiate import ParsedCondition, cases_of, instance, unmet_assumption
from orderlint.rulebook.parsed_text import parse_condition, parse_figure, pinpoint
from orderlint.rulebook.rule import Rule, Skipped
from orderlint.rulebook.source import sources_of
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
    words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.fields import FieldTable
    from orderlint.language.surface import Surface
    from orderlint.language.types import Quantity
    from orderlint.reading.node import Scalar
    from orderlint.rulebook.instantiate import Environment, TableCase
    from orderlint.rulebook.policy.builtin import Policy
    from orderlint.rulebook.rule import Instance

CONDITION = ("over", "assumes", "when", "require", "limits", "leads", "figures")
"""The keys of a rule that is found by a condition."""
KEYS = (
    *("rule", "level", "found_by", "says", "expected", "why", "ask", "ask_whom"),
    *("covers", "covered_by", "stands", "source", "examples"),
)
"""The keys of any rule."""
LAST = "last"
"""What `stands:` says of a rule whose finding stands after the others of its level."""
FOUND_BY = (
    *("reading", "schema", "units", "set", "proof", "readback", "compare", "policy", "check"),
)
ASK_WHOM = ("prescriber", "pharmacy", "second nurse", "author")
_ID = re.compile("[a-z0-9]+(-[a-z0-9]+)*")


def rules_of(
    record: Section, family: str, environment: Environment, catalogue: Mapping[str, str]
) -> Iterator[Rule]:
    """The rules of one record, without what they cover. Raises Refused at a mistake's place."""
    known_keys(record, (*KEYS, *CONDITION), "a rule")
    written, found_by = scalar(record, "rule"), optional(record, "found_by")
    rule = _worded(record, family, catalogue)
    if found_by is not None:
        known_keys(record, KEYS, "a rule with found_by:")
        _among(found_by, FOUND_BY, "found_by:")
        yield rule._replace(id=_id(written, None), found_by=found_by.text)
        return
    over = _over(record, environment.table)
    conditioned = rule._replace(
        main_path=_main_path(record, environment.table), figures=_figures(record, environment)
    )
    for paths in [(it,) for it in over] if "{it}" in written.text else [over]:
        yield _with_instances(
            conditioned._replace(id=_id(written, paths[0])), record, paths, environment
        )


def _worded(record: Section, family: str, catalogue: Mapping[str, str]) -> Rule:
    level, ask_whom = scalar(record, "level"), scalar(record, "ask_whom")
    _among(level, tuple(item.value for item in Level), "level:")
    _among(ask_whom, ASK_WHOM, "ask_whom:")
    examples, stands = record.get("examples"), optional(record, "stands")
    if stands is not None:
        _among(stands, (LAST,), "stands:")
    return Rule(
        id="",
        family=family,
        level=Level(level.text),
        says=scalar(record, "says").text,
        expected=words(record, "expected"),
        why=scalar(record, "why").text,
        ask=scalar(record, "ask").text,
        ask_whom=ask_whom.text,
        sources=sources_of(record, catalogue),
        place=record.place,
        examples=section(examples, "examples:", record) if examples else None,
        stands_last=stands is not None,
    )


def _among(text: Scalar, allowed: tuple[str, ...], what: str) -> None:
    if text.text not in allowed:
        refuse(text, f"{what} is one of: {', '.join(allowed)}")


def _id(written: Scalar, it: str | None) -> str:
    """The rule's id, with `{it}` filled by the words of a path."""
    made = written.text.replace("{it}", re.sub("[._]", "-", it)) if it else written.text
    if not _ID.fullmatch(made):
        refuse(written, f"{made} is no id; an id is small letters and digits, joined by hyphens")
    return made


def _over(record: Section, table: FieldTable) -> tuple[str | None, ...]:
    """The paths that `it` stands for, or one None where the rule has no `over:`."""
    node = record.get("over")
    if isinstance(node, Section):
        return _fields_of(node, table)
    return tuple(_known_path(item, table) for item in listed(record, "over")) or (None,)


def _fields_of(over: Section, table: FieldTable) -> tuple[str, ...]:
    """The fields of one or several kinds or dimensions, in the order of the table."""
    keys = [entry.key.text for entry in over.entries]
    if keys not in (["kind"], ["dimension"]):
        refuse(over, "over: is a list of settings, or kinds or dimensions of them")
    (key,) = keys
    many = isinstance(over.get(key), Listing)
    wanted = listed(over, key) if many else (scalar(over, key),)
    kinds = {field.path: getattr(field, key) for field in table.fields.values()}
    for item in wanted:
        _among(item, tuple(sorted({kind for kind in kinds.values() if kind})), f"a {key}")
    among = {item.text for item in wanted}
    return tuple(path for path, kind in kinds.items() if kind in among)


def _main_path(record: Section, table: FieldTable) -> str | None:
    leads = optional(record, "leads")
    return _known_path(leads, table) if leads else None


def _known_path(text: Scalar, table: FieldTable) -> str:
    """The path of a field or section."""
    try:
        Scope(table).section(text.text, 0)
    except LanguageError as error:
        raise pinpoint(text, error) from None
    return text.text


def _with_instances(
    rule: Rule, record: Section, over: tuple[str | None, ...], environment: Environment
) -> Rule:
    """The rule with its condition for each path, or with the reasons why it is not asked."""
    when, require = optional(record, "when"), scalar(record, "require")
    limits = _limits(record, environment)
    named = any("{it}" in text.text for text in (when, require) if text)
    made: list[Instance] = []
    reasons: list[Skipped] = []
    condition = None
    cases: tuple[TableCase, ...] = ()
    for it in over:
        if condition is None or named:
            condition = ParsedCondition(
                parse_condition(when, it) if when else None, parse_condition(require, it), limits
            )
            cases, lacking = cases_of(condition, environment)
            reasons.extend(lacking)
        made.extend(instance(condition, it, case, environment) for case in cases)
    unmet = _unmet(record, environment.policy)
    assert condition is not None
    asked = () if unmet else tuple(made)
    on_change = condition.on_change()
    return rule._replace(
        over=tuple(it for it in over if it),
        when=condition.when.surface if condition.when else None,
        require=condition.require.surface,
        limits=limits,
        instances=() if on_change else asked,
        changes=asked if on_change else (),
        skipped=(Skipped(unmet),) if unmet else tuple(dict.fromkeys(reasons)),
    )


def _unmet(record: Section, policy: Policy) -> str | None:
    assumes = optional(record, "assumes")
    return unmet_assumption(parse_condition(assumes), policy) if assumes else None


def _limits(record: Section, environment: Environment) -> Mapping[str, Quantity]:
    return {name: quantity(text) for name, text in _own(record, "limits", environment)}


def _figures(record: Section, environment: Environment) -> Mapping[str, Surface]:
    named = _own(record, "figures", environment)
    return {name: parse_figure(text).surface for name, text in named}


def _own(record: Section, key: str, environment: Environment) -> Iterator[tuple[str, Scalar]]:
    """The rule's own names of one sort with their texts; none may hide another."""
    own = tuple(pairs(record, key))
    taken = {*taken_names(environment.table), *environment.derived} if own else set[str]()
    for name, text in own:
        yield plain_name(name, taken), text


def taken_names(table: FieldTable) -> set[str]:
    """What a name cannot be, since the language has it for something else."""
    fields = {path.partition(".")[0] for path in table.fields}
    functions = {*syntax.FUNCTIONS, *figures.FUNCTIONS}
    return {*fields, *functions, "it", "site", "before", CHECKED_AT}
