"""Builds the rulebook: joins sources, policy, derived facts and rules, checks ids and covers."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeGuard

from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError, Surface
from orderlint.language.types import Scope
from orderlint.reading.node import Listing, Node, Section
from orderlint.rulebook.covers import Cover, covers_of, transitive_closure
from orderlint.rulebook.instantiate import Environment, names_in
from orderlint.rulebook.parsed_text import parse_condition, pinpointing
from orderlint.rulebook.policy.policy_values import Policy, read_policy
from orderlint.rulebook.rule import POLICY_FAMILY, ConditionRule, Rule, Rulebook
from orderlint.rulebook.rule_reader import rules_of, taken_names
from orderlint.rulebook.source_documents import Files, KeptRules, shipped_files
from orderlint.rulebook.words_check import proofread
from orderlint.rulebook.yaml_fields import pairs, plain_name, refuse, scalar, section, words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.reading import Document


def build_with_values(values: Mapping[str, Node]) -> Rulebook:
    """Every built-in rule with its examples; `values` replace values of the built-in policy."""
    return build_rulebook(shipped_files(), values)


def build_anew() -> Rulebook:
    """The same, with every rule made anew."""
    return build_rulebook(replace(shipped_files(), kept=KeptRules()), {})


def build_for_check(without: frozenset[str], *, proofreading: bool) -> Rulebook:
    """The built-in rules but for some families, without examples."""
    files = shipped_files(examples=False, without=without)
    return build_rulebook(files, {}, proofreading=proofreading)


def build_with_policy(policy: Document, *, examples: bool) -> Rulebook:
    """Every rule as a site policy changes it; proofread where there are examples.

    Raises Refused, with line and column in the policy, at the first mistake in it.
    """
    files = shipped_files(examples=examples)

    def build(part: Document) -> Rulebook:
        return build_rulebook(replace(files, policy=part), {}, proofreading=examples)

    try:
        return build(policy)
    except Refused as reason:
        from orderlint.rulebook.policy.document import locate_cause  # noqa: PLC0415 - cold start

        raise locate_cause(reason, policy, build) from None


def build_rulebook(
    files: Files, values: Mapping[str, Node], *, proofreading: bool = True
) -> Rulebook:
    """Build the rulebook. `values` replace values of the built-in policy, by name.

    Raises Refused, with file, line and column, at the first mistake. `proofreading` checks words
    and figures as well; only files that have been proofread before can do without, and only under
    a policy that has every value that the words may name.
    """
    own = pairs(files.sources.root, "sources")
    catalogue: Mapping[str, str] = {key.text: text.text for key, text in own}
    if files.policy is None:
        built_in = read_policy(files.built_in_policy, catalogue).with_values(values)
        return _built(files, built_in, catalogue, proofreading)
    from orderlint.rulebook.policy.document import apply_policy, checked_sources  # noqa: PLC0415 - cold start
    from orderlint.rulebook.policy.replaced_values import with_policy_values  # noqa: PLC0415 - cold start

    catalogue = checked_sources(files.policy, catalogue)
    built_in = read_policy(files.built_in_policy, catalogue).with_values(values)
    policy = with_policy_values(files.policy, built_in, catalogue)
    proofreading = proofreading or policy.lacks_values_of(built_in)
    return apply_policy(_built(files, policy, catalogue, proofreading), files.policy, built_in)


def _built(
    files: Files, policy: Policy, catalogue: Mapping[str, str], proofreading: bool
) -> Rulebook:
    environment = Environment(policy, _derived(files.derived), catalogue)
    return Rulebook(
        _rules(files, environment, proofreading),
        policy.title,
        policy.choice("outflow"),
        policy.values,
        derived=environment.derived,
        families=_titles(files),
    )


def _rules(files: Files, environment: Environment, proofreading: bool) -> Mapping[str, Rule]:
    """Every rule by id, with the rules that it covers."""
    rules: dict[str, Rule] = {}
    covers: list[Cover] = []
    for record, rule in _records_with_rules(files, environment, rules, proofreading):
        if rule.id in rules:
            place, first = scalar(record, "rule").place, rules[rule.id].place
            raise Refused(f"there is a rule {rule.id} already", place, also=first)
        rules[rule.id] = rule
        covers.extend(covers_of(record, rule.id))
    covered = transitive_closure(covers, rules)
    return {name: replace(rule, covers=covered[name]) for name, rule in rules.items()}


def _records_with_rules(
    files: Files, environment: Environment, before: Mapping[str, Rule], proofreading: bool
) -> Iterator[tuple[Section, Rule]]:
    """Each rule with its record, the policy's own last; `before` has those yielded so far."""
    for family, document in files.families.items():
        for record in records(document):
            rules = files.kept.get(record, environment.policy, proofread=proofreading)
            if rules is None:
                rules = tuple(rules_of(record, family, environment))
                if proofreading:
                    _proofread_all(record, rules)
                files.kept.keep(record, environment.policy, rules, proofread=proofreading)
            yield from ((record, rule) for rule in rules)
    if _has_own(files.policy):
        from orderlint.rulebook.policy.document import own_rules  # noqa: PLC0415 - cold start

        for record, rule in own_rules(records(files.policy), environment, before):
            _proofread_all(record, (rule,))
            yield record, rule


def _proofread_all(record: Section, rules: Iterable[Rule]) -> None:
    for rule in rules:
        if isinstance(rule, ConditionRule):
            proofread(record, rule)


def _has_own(policy: Document | None) -> TypeGuard[Document]:
    return policy is not None and policy.root.get("rules") is not None


def _titles(files: Files) -> Mapping[str, str]:
    titles = {name: words(document.root, "title") for name, document in files.families.items()}
    if _has_own(files.policy):
        titles[POLICY_FAMILY] = words(files.policy.root, "title")
    return titles


def _derived(document: Document) -> Mapping[str, Surface]:
    """The derived facts by name. One may only name those before it, so that there is no circle."""
    derived: dict[str, Surface] = {}
    for key, text in pairs(document.root, "derived"):
        fact = parse_condition(text).surface
        with pinpointing(text):
            for name in names_in(fact, {}):
                if name.path.startswith("site."):
                    raise LanguageError("a fact holds everywhere: it reads no policy", name.at)
            lower(fact, Scope(field_table(), derived=derived))
        derived[plain_name(key, taken_names())] = fact
    return derived


def records(document: Document) -> Iterator[Section]:
    """The records of a file of rules. Raises Refused at what is none."""
    rules = document.root.get("rules")
    if not isinstance(rules, Listing):
        refuse(rules or document.root, "rules: is a list of rules")
    return (section(node, "a rule", node) for node in rules.items)
