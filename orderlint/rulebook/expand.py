"""One record's condition → its instances: for each path of `over:` and each key of a table.

Where the policy gives no value, a reason instead of an instance. Never the words of a rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.language.lower import lower
from orderlint.language.surface import (
    Arithmetic,
    Call,
    Comparison,
    Group,
    Junction,
    LanguageError,
    Minus,
    Name,
    Negation,
    Text,
)
from orderlint.language.tree import And, Given, Member, Not, Or, Subject, atoms, paths_of
from orderlint.language.types import Choice, Scope
from orderlint.rulebook.rule import Instance

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.fields import FieldTable
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Tree
    from orderlint.language.types import Constant, Quantity
    from orderlint.rulebook.policy import Policy, SiteValue


@dataclass(frozen=True, slots=True)
class Setting:
    """What every condition of a rulebook may refer to.

    `constants` are the policy's, by key of its tables and then by name; None is for no key.
    """

    table: FieldTable
    policy: Policy
    derived: Mapping[str, Surface]
    constants: Mapping[str | None, Mapping[str, Constant]]


@dataclass(frozen=True, slots=True)
class Condition:
    """A record's condition, parsed but not yet lowered."""

    when: Surface | None
    require: Surface
    limits: Mapping[str, Quantity]


def instances(
    condition: Condition, it: str | None, setting: Setting
) -> tuple[tuple[Instance, ...], tuple[str, ...]]:
    """The condition's instances for one path, and the reasons for those there cannot be."""
    names = _site_names(condition, setting.derived)
    keyed_by = {value.by for name in names if (value := _table(name, setting.policy))}
    if len(keyed_by) > 1:
        raise LanguageError("the tables of one condition share one key", condition.require.at)
    by = next(iter(keyed_by), None)
    keys: tuple[str | None, ...] = setting.table.fields[by].choices if by else (None,)
    made, reasons = [], []
    for key in keys:
        lacking = _lacking(names, key, setting.policy)
        if lacking:
            reasons.append(f"the policy gives no {lacking}" + (f" for {key}" if key else ""))
        else:
            made.append(_instance(condition, it, by, key, setting))
    return tuple(made), tuple(reasons)


def _instance(
    condition: Condition, it: str | None, by: str | None, key: str | None, setting: Setting
) -> Instance:
    site = setting.constants[key]
    scope = Scope(setting.table, site, condition.limits, setting.derived, it)
    require = lower(condition.require, scope)
    contexts = [lower(condition.when, scope)] if condition.when else []
    if by and key:
        contexts.append(Member(Subject(by), (key,)))
    sound = Or((Not(And(tuple(contexts))), require)) if contexts else require
    order = _as_written(condition.require, scope)
    return Instance(it, sound, _mentioned(require, contexts, order), scope)


def _as_written(require: Surface, scope: Scope) -> dict[str, int]:
    """The leaves in the order in which a condition names them; lowering may turn a comparison."""
    names = [scope.full(name) for name in names_in(require, scope.derived)]
    leaves = [leaf for name in names for leaf in scope.table.sections.get(name, (name,))]
    return {leaf: rank for rank, leaf in enumerate(dict.fromkeys(leaves))}


def _mentioned(require: Tree, contexts: list[Tree], order: Mapping[str, int]) -> tuple[str, ...]:
    """The leaves a finding speaks of: all of `require`, and what `when` compares.

    That something is given, or that a choice is this or that, is only the setting of the scene.
    """
    paths = [path for atom in atoms(require) for path in paths_of(atom)]
    paths.sort(key=lambda path: order[path])
    for context in contexts:
        for atom in atoms(context):
            if not isinstance(atom, Member | Given):
                paths.extend(paths_of(atom))
    return tuple(dict.fromkeys(paths))


def _value(name: str, policy: Policy) -> SiteValue | None:
    return policy.values.get(name.split(".")[1])


def _table(name: str, policy: Policy) -> SiteValue | None:
    """The table that `name` means as a whole: one instance is made for each of its keys."""
    value = _value(name, policy)
    one_key = value is not None and len(parts := name.split(".")) > 2 and parts[2] in value.keyed
    return value if value is not None and value.by and not one_key else None


def _lacking(names: tuple[str, ...], key: str | None, policy: Policy) -> str | None:
    """The name of the first value that the policy knows of and does not give."""
    for name in names:
        value = _value(name, policy)
        if value is not None:
            part = key if _table(name, policy) else ([*name.split("."), ""])[2]
            if not (value.keyed.get(part or "") if value.by else value.parts):
                return value.name
    return None


def _site_names(condition: Condition, derived: Mapping[str, Surface]) -> tuple[str, ...]:
    surfaces = [condition.require, *([condition.when] if condition.when else [])]
    names = [name for surface in surfaces for name in names_in(surface, derived)]
    return tuple(name for name in dict.fromkeys(names) if name.startswith("site."))


def names_in(node: Surface, derived: Mapping[str, Surface]) -> Iterator[str]:
    """Every name under a surface node, derived facts looked into."""
    match node:
        case Name(path):
            yield path
            if path in derived:
                yield from names_in(derived[path], derived)
        case Call(_, items) | Group(items) | Junction(_, items):
            for item in items:
                yield from names_in(item, derived)
        case Arithmetic(_, left, right):
            yield from names_in(left, derived)
            yield from names_in(right, derived)
        case Negation(item) | Minus(item):
            yield from names_in(item, derived)
        case Comparison(first, rest):
            for item in (first, *(other for _, other in rest)):
                yield from names_in(item, derived)
        case _:
            return


def unmet_assumption(node: Surface, policy: Policy) -> str | None:
    """Why an `assumes:` does not hold, or None where it does."""
    match node:
        case Comparison(Name(path), (("==", Text(expected)),)) if path.startswith("site."):
            value = policy.values.get(path[5:])
            constant = value.parts.get("") if value else None
            if value is None or not isinstance(constant, Choice):
                raise LanguageError(f"the policy has no choice {path}", node.at)
            met = constant.text == expected
            return None if met else f"it assumes {path} is {expected}; here it is {constant.text}"
        case _:
            raise LanguageError("an assumption reads: site.name == 'choice'", node.at)
