"""Makes the instances of a record's condition: one for each path of `over:` and key of a table.

Where the policy gives no value there is a reason instead of an instance.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.fields import BEFORE, field_table
from orderlint.language.figures import row_names
from orderlint.language.lower import lower
from orderlint.language.surface import Comparison, LanguageError, Name, Surface, Text
from orderlint.language.tree import And, Given, Member, Names, Not, Or, Subject, atoms, paths_of
from orderlint.language.types import Constant, Quantity, Scope
from orderlint.rulebook.parsed_text import ParsedText, pinpointing
from orderlint.rulebook.policy.policy_values import DISPLAY_UNIT, NAMES, UNITS, is_by_unit
from orderlint.rulebook.rule import Instance, Skipped

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.language.tree import Tree
    from orderlint.rulebook.policy.policy_values import Policy, PolicyValue


@dataclass(frozen=True, slots=True)
class Environment:
    """The names that every record of a rulebook may use; `catalogue` has its sources' citations.

    `constants` are the policy's by name, by key of its tables and unit of the display; None is for
    neither. They are made where they are first asked for.
    """

    policy: Policy
    derived: Mapping[str, Surface]
    catalogue: Mapping[str, str]
    constants: dict[tuple[str | None, str | None], Mapping[str, Constant]] = field(
        default_factory=dict
    )

    def values_for(self, key: str | None, unit: str | None) -> Mapping[str, Constant]:
        """The policy's constants by name, for one key of its tables and unit of the display."""
        if (key, unit) not in self.constants:
            self.constants[key, unit] = dict(self.policy.constants(key, unit))
        return self.constants[key, unit]


@dataclass(frozen=True, slots=True)
class ParsedCondition:
    """A record's condition, parsed and not yet lowered."""

    when: ParsedText | None
    require: ParsedText
    limits: Mapping[str, Quantity]

    def names(self) -> Iterator[tuple[Name, ParsedText]]:
        """Every name in it, with the text that it stands in; derived facts are not looked into."""
        for parsed in [self.when, self.require] if self.when else [self.require]:
            for name in names_in(parsed.surface, {}):
                yield name, parsed

    def reads_earlier_order(self) -> bool:
        """Whether it reads an earlier order as well."""
        return any(name.path.startswith(BEFORE) for name, _ in self.names())


@dataclass(frozen=True, slots=True)
class TableCase:
    """The policy's constants for one key of a table and one unit of the display, or for none.

    `keyed` are the conditions that the order has that key and that unit.
    """

    values: Mapping[str, Constant]
    keyed: tuple[Member | Names, ...]


def cases_of(
    condition: ParsedCondition, environment: Environment
) -> tuple[tuple[TableCase, ...], tuple[Skipped, ...]]:
    """The cases in which a condition is asked, and the reasons why it is not in the others."""
    # INVARIANT: no derived fact reads the policy.
    names = tuple(pair for pair in condition.names() if pair[0].path.startswith("site."))
    table = _key_table(names, environment.policy)
    keys: tuple[str | None, ...] = tuple(table.keyed) if table else (None,)
    cases: list[TableCase] = []
    reasons: list[Skipped] = []
    for key in keys:
        keyed = key_condition(table, key) if table and key else None
        missing = _missing_value(names, key, environment.policy)
        if missing is None:
            cases.extend(_case(names, key, keyed, environment))
        else:
            called, of = missing
            reasons.append(Skipped(f"the policy gives no {called}", of or keyed))
    return tuple(cases), tuple(reasons)


def key_condition(table: PolicyValue, key: str) -> Member | Names:
    """That an order is one of a key of a table: its choice, or a row of names."""
    by = table.by or ""
    return Names(by, row_names(key)) if table.is_by_name else Member(Subject(by), (key,))


def _case(
    names: Iterable[tuple[Name, ParsedText]],
    key: str | None,
    keyed: Member | Names | None,
    environment: Environment,
) -> Iterator[TableCase]:
    """The case of one key; where a value differs by unit of the display, one for each unit."""
    by_key = (keyed,) if keyed else ()
    named = [_parts(name.path, key, environment.policy) for name, _ in names]
    if key in UNITS or not any(map(is_by_unit, named)):
        yield TableCase(environment.values_for(key, key if key in UNITS else None), by_key)
        return
    for unit in UNITS:
        by_unit = Member(Subject(DISPLAY_UNIT), (unit,))
        yield TableCase(environment.values_for(key, unit), (*by_key, by_unit))


def _parts(path: str, key: str | None, policy: Policy) -> Mapping[str, Constant]:
    """The parts of the value that `path` means, for one key of a table."""
    value = policy.values.get(path.split(".")[1])
    return value.parts_for(_key_named(path, value) or key) if value else {}


def instance(
    condition: ParsedCondition, it: str | None, case: TableCase, environment: Environment
) -> Instance:
    """The condition for one path, in one case. Raises Refused at a wrong name or type."""
    limits, change = condition.limits, condition.reads_earlier_order()
    scope = Scope(field_table(), case.values, limits, environment.derived, it, change)
    contexts = [_lowered(condition.when, scope)] if condition.when else []
    require = _lowered(condition.require, scope)
    contexts.extend(case.keyed)
    kept = Or((Not(And(tuple(contexts))), require)) if contexts else require
    order = _rank_in_text(condition.require.surface, scope)
    return Instance(scope.it, kept, _named_leaves(require, contexts, order), scope)


def _lowered(parsed: ParsedText, scope: Scope) -> Tree:
    with pinpointing(parsed.text, parsed.it):
        return lower(parsed.surface, scope)


def _rank_in_text(require: Surface, scope: Scope) -> dict[str, int]:
    """The leaves with their ranks in the text; lowering may swap the sides of a comparison."""
    names = [scope.full(name.path) for name in names_in(require, scope.derived)]
    leaves = [leaf for name in names for leaf in scope.table.sections.get(name, (name,))]
    return {leaf: rank for rank, leaf in enumerate(dict.fromkeys(leaves))}


def _named_leaves(require: Tree, contexts: list[Tree], order: Mapping[str, int]) -> tuple[str, ...]:
    """The leaves that a finding names: all of `require`, and those with a number in `when`."""
    paths = [path for atom in atoms(require) for path in paths_of(atom)]
    paths.sort(key=lambda path: order[path])
    for context in contexts:
        for atom in atoms(context):
            if not isinstance(atom, Member | Given):
                paths.extend(paths_of(atom))
    return tuple(dict.fromkeys(paths))


def _key_table(names: Iterable[tuple[Name, ParsedText]], policy: Policy) -> PolicyValue | None:
    """The first table that is named as a whole. An instance is made for each of its keys."""
    first = None
    for name, parsed in names:
        table = _table(name.path, policy)
        if table and first and table.by != first.by:
            message = f"{name.path} has a value by {table.by}, and {first.name} by {first.by}"
            with pinpointing(parsed.text, parsed.it):
                raise LanguageError(message, name.at)
        first = first or table
    return first


def _table(path: str, policy: Policy) -> PolicyValue | None:
    """The table that `path` names as a whole, rather than by one of its keys."""
    value = policy.values.get(path.split(".")[1])
    is_whole = value and value.by and _key_named(path, value) is None
    return value if is_whole and path.split(".")[2:] != [NAMES] else None


def _key_named(path: str, value: PolicyValue) -> str | None:
    """The one key of a table that `path` names, as in `site.icp_threshold.child`."""
    part = path.split(".")[2:3]
    return part[0] if part and part[0] in value.keyed else None


def _missing_value(
    names: Iterable[tuple[Name, ParsedText]], key: str | None, policy: Policy
) -> tuple[str, Member | Names | None] | None:
    """The first value that the policy does not give, in words, with the key that it is for."""
    for name, _ in names:
        value = policy.values.get(name.path.split(".")[1])
        if value is not None and not value.by and not value.parts:
            return value.called, None
        if value is not None and value.by and name.path.split(".")[2:] != [NAMES]:
            asked = _key_named(name.path, value) or key or ""
            if not value.keyed[asked]:
                return f"{value.called} for {asked}", key_condition(value, asked)
    return None


def names_in(node: tuple[object, ...], derived: Mapping[str, Surface]) -> Iterator[Name]:
    """Every name under a surface node, and those under the derived facts that it names."""
    if isinstance(node, Name):
        yield node
        if node.path in derived:
            yield from names_in(derived[node.path], derived)
        return
    for part in node:  # a node is a tuple, and so are the nodes below it
        if isinstance(part, tuple):
            yield from names_in(part, derived)


def unmet_assumption(parsed: ParsedText, policy: Policy) -> str | None:
    """Why an `assumes:` does not hold; None if it does. Raises Refused if it is no assumption."""
    match parsed.surface:
        case Comparison(Name(path), (("==", Text(expected)),)) if path.startswith("site."):
            value = policy.values.get(path[5:])
            if value is not None and not value.by and not value.parts:
                return f"it assumes {path} is {expected}; the policy gives no {value.called}"
            chosen = policy.choice(path[5:])
            if chosen is None:
                message = f"the policy has no choice {path}"
            elif chosen == expected:
                return None
            else:
                return f"it assumes {path} is {expected}; here it is {chosen}"
        case _:
            message = "an assumption reads: site.name == 'choice'"
    with pinpointing(parsed.text, parsed.it):
        raise LanguageError(message, parsed.surface.at)
