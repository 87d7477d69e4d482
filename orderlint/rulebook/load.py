"""Files of rules → the rulebook. The only reader of the rules folder.

Joins sources, policy, facts and records, and holds rules against each other. Never one rule's keys.
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError
from orderlint.language.types import Scope
from orderlint.reading import read
from orderlint.reading.node import Listing
from orderlint.rulebook.covers import covers_of, transitive_closure
from orderlint.rulebook.instantiate import Environment, names_in
from orderlint.rulebook.parsed_text import parse_condition, pinpoint
from orderlint.rulebook.policy.builtin import read_policy
from orderlint.rulebook.proofread import proofread
from orderlint.rulebook.rule import POLICY_FAMILY, Rulebook
from orderlint.rulebook.rule_reader import rules_of, taken_names
from orderlint.rulebook.yaml_fields import pairs, plain_name, refuse, scalar, section, words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import TypeGuard

    from orderlint.fields import FieldTable
    from orderlint.language.surface import Surface
    from orderlint.reading import Document
    from orderlint.reading.node import Node, Section
    from orderlint.rulebook.covers import Cover
    from orderlint.rulebook.rule import Rule

_NOT_OF_ONE_ORDER = frozenset({"policy-use", "order-sets", "double-check", "change"})
_FOLDER = Path(__file__).parent.parent / "rules"


# INVARIANT: in the files of this folder a record's examples stand last, at this indentation.
_EXAMPLES = re.compile(rb"^    examples:\n(?:(?:      .*)?\n)*", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Files:
    """The documents that make a rulebook; those with `rules:` by the name of their family.

    `local` is a site policy over the built-in one.
    """

    sources: Document
    policy: Document
    derived: Document
    families: Mapping[str, Document]
    local: Document | None = None


@functools.cache
def built_in() -> Rulebook:
    """The rulebook that ships with the tool, on the built-in policy, with its examples."""
    return load({})


@functools.cache
def at_hand() -> Rulebook:
    """The same rulebook without what no order needs where there is no policy file.

    That is the examples, half of what is to be read, and the rules on policies, on order sets, on
    what is seen at the bedside and on changes between two orders.
    """
    return _with_families()


@functools.cache
def at_the_bedside() -> Rulebook:
    """The rulebook at hand, with the rules on what is seen at the bedside."""
    return _with_families("double-check")


@functools.cache
def at_hand_for_changes() -> Rulebook:
    """The rulebook at hand, with the rules on changes between two orders."""
    return _with_families("change")


@functools.cache
def at_hand_for_sets() -> Rulebook:
    """The rulebook at hand, with the rules on order sets themselves."""
    return _with_families("order-sets")


def _with_families(*families: str) -> Rulebook:
    files = shipped(examples=False, without=_NOT_OF_ONE_ORDER - {*families})
    return rulebook_of(files, {}, proofreading=False)


def load(site: Mapping[str, Node], *, examples: bool = True) -> Rulebook:
    """The built-in rules on the built-in policy, with some of its values replaced.

    Without `examples` their words are not proofread either, as is done where they are.
    """
    return rulebook_of(shipped(examples=examples), site, proofreading=examples)


@functools.cache
def shipped(*, examples: bool = True, without: frozenset[str] = frozenset()) -> Files:
    """The files that ship with the tool, the clinical ones first, as each one's rank says.

    `without` are families that are left out, such as the rules that only a site policy can break.
    """
    names = {path.stem for path in _FOLDER.glob("*.yaml")} - {"sources", "policy", "derived"}
    names -= without
    families = {name: _document(name, examples=examples) for name in sorted(names)}
    ranked = sorted(families.items(), key=lambda named: int(scalar(named[1].root, "rank").text))
    return Files(_document("sources"), _document("policy"), _document("derived"), dict(ranked))


def digest() -> str:
    """The SHA-256 of all files that ship with the rulebook, as hex, by which a proof is bound."""
    import hashlib  # noqa: PLC0415 - cold start

    total = hashlib.sha256()
    for path in sorted(_FOLDER.glob("*.yaml")):
        data = path.read_bytes()
        total.update(f"{path.name} {len(data)}\n".encode() + data)
    return total.hexdigest()


def _document(name: str, *, examples: bool = True) -> Document:
    path = _FOLDER / f"{name}.yaml"
    data = path.read_bytes()
    return read(data if examples else _EXAMPLES.sub(_blank, data), f"rules/{path.name}")


def _blank(match: re.Match[bytes]) -> bytes:
    """As many empty lines, so that every place that is left still holds."""
    return b"\n" * match[0].count(b"\n")


def rulebook_of(files: Files, site: Mapping[str, Node], *, proofreading: bool = True) -> Rulebook:
    """The rulebook in some files, with some of the policy's values replaced by those in `site`.

    Raises Refused, with file, line and column, at the first mistake. `proofreading` looks at words
    and figures too; it may be left out only for files that have been proofread before.
    """
    catalogue: Mapping[str, str] = {
        key.text: text.text for key, text in pairs(files.sources.root, "sources")
    }
    if files.local is not None:
        from orderlint.rulebook.policy.document import checked  # noqa: PLC0415 - cold start

        catalogue = checked(files.local, catalogue)
    environment = _environment(files, site, catalogue)
    rules: dict[str, Rule] = {}
    covers: list[Cover] = []
    for record, rule in _rules(files, environment, catalogue, rules):
        _check_new(rule, record, rules)
        if proofreading or rule.family == POLICY_FAMILY:
            proofread(record, rule)
        rules[rule.id] = rule
        covers.extend(covers_of(record, rule.id))
    covered = transitive_closure(covers, rules)
    policy = environment.policy
    built = Rulebook(
        {name: rule._replace(covers=covered[name]) for name, rule in rules.items()},
        policy.title,
        policy.choice("outflow"),
        policy.values,
        derived=environment.derived,
        families=_titles(files),
    )
    if files.local is None:
        return built
    from orderlint.rulebook.policy.overlay import apply_policy  # noqa: PLC0415 - cold start

    return apply_policy(built, files.local, files, catalogue)


def _rules(
    files: Files, environment: Environment, catalogue: Mapping[str, str], before: Mapping[str, Rule]
) -> Iterator[tuple[Section, Rule]]:
    """Each rule with its record, the policy's own last; `before` has those that came already."""
    for family, document in files.families.items():
        for record in _records(document):
            for rule in rules_of(record, family, environment, catalogue):
                yield record, rule
    if _has_own(files.local):
        from orderlint.rulebook.policy.document import own_rules  # noqa: PLC0415 - cold start

        yield from own_rules(_records(files.local), environment, catalogue, before)


def _has_own(policy: Document | None) -> TypeGuard[Document]:
    return policy is not None and policy.root.get("rules") is not None


def _titles(files: Files) -> Mapping[str, str]:
    titles = {name: words(document.root, "title") for name, document in files.families.items()}
    if _has_own(files.local):
        titles[POLICY_FAMILY] = words(files.local.root, "title")
    return titles


def _environment(
    files: Files, site: Mapping[str, Node], catalogue: Mapping[str, str]
) -> Environment:
    table = field_table()
    policy = read_policy(files.policy, catalogue, table).with_values(site)
    if files.local is not None:
        from orderlint.rulebook.policy.overlay import with_policy_values  # noqa: PLC0415 - cold start

        policy = with_policy_values(files.local, policy, catalogue)
    constants = {key: dict(policy.constants(key)) for key in (None, *policy.keys())}
    return Environment(table, policy, _derived(files.derived, table), constants)


def _derived(document: Document, table: FieldTable) -> Mapping[str, Surface]:
    """Named facts, each checked against those before it, so that none can lead back to itself."""
    derived: dict[str, Surface] = {}
    for key, text in pairs(document.root, "derived"):
        fact = parse_condition(text).surface
        try:
            for name in names_in(fact, {}):
                if name.path.startswith("site."):
                    raise LanguageError("a fact holds everywhere: it reads no policy", name.at)
            lower(fact, Scope(table, derived=derived))
        except LanguageError as error:
            raise pinpoint(text, error) from None
        derived[plain_name(key, taken_names(table))] = fact
    return derived


def _records(document: Document) -> Iterator[Section]:
    rules = document.root.get("rules")
    if not isinstance(rules, Listing):
        refuse(rules or document.root, "rules: is a list of rules")
    return (section(node, "a rule", node) for node in rules.items)


def _check_new(rule: Rule, record: Section, rules: Mapping[str, Rule]) -> None:
    if rule.id in rules:
        place, first = scalar(record, "rule").place, rules[rule.id].place
        raise Refused(f"there is a rule {rule.id} already", place, also=first)
