"""From rules and the leaves they read to findings in words: broken, covered, suppressed.

What every check of orders shares. Never which rules are asked, and never a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Finding, Inactive, Mention, Suppressed, Unchecked
from orderlint.language.evaluate import evaluate, missing
from orderlint.language.tree import And, Not, Or, Written, atoms
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.templates import Words, around, marked, quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Fault
    from orderlint.order import Leaf, Order
    from orderlint.rulebook.rule import Instance, Rule, Rulebook, Suppression


@dataclass(frozen=True, slots=True)
class Break:
    """A rule broken at some leaves, before covers and before words.

    `subjects` are the leaves by which it overlaps with another.
    """

    rule: Rule
    paths: tuple[str, ...]
    subjects: frozenset[str]
    instance: Instance | None = None
    fault: Fault | None = None


def judge(
    asked: Iterable[tuple[Rule, tuple[Instance, ...]]], leaves: Mapping[str, Leaf]
) -> tuple[list[Break], tuple[Unchecked, ...]]:
    """Rules with the conditions asked of some leaves: where broken, and which unchecked."""
    broken: list[Break] = []
    unchecked = []
    for rule, instances in asked:
        lacking: dict[str, None] = {}
        for instance in instances:
            sound = evaluate(instance.condition, leaves)
            if sound is False:
                subjects = _subjects(instance.paths)
                broken.append(Break(rule, instance.paths, subjects, instance))
            elif sound is None:
                lacking.update(dict.fromkeys(missing(instance.condition, leaves)))
        if lacking:
            unchecked.append(Unchecked(rule.id, rule.level, tuple(lacking)))
    return broken, tuple(unchecked)


def not_asked(rules: Iterable[Rule], leaves: Mapping[str, Leaf]) -> Iterator[Inactive]:
    """The rules that are not asked of an order, with the reasons; not those of other patients."""
    for rule in rules:
        for item in dict.fromkeys(rule.skipped):
            if item.applies_if is None or evaluate(item.applies_if, leaves) is not False:
                yield Inactive(rule.id, item.reason)


def _subjects(paths: tuple[str, ...]) -> frozenset[str]:
    """The leaves by which findings overlap: a choice is mostly the setting of the scene."""
    fields = field_table().fields
    measured = [path for path in paths if path in fields and fields[path].kind != "choice"]
    return frozenset(measured or paths)


def of_fault(fault: Fault, rulebook: Rulebook) -> Break:
    """The rule that has the words of a fault, broken where it lies."""
    subjects = frozenset({fault.path, *fault.spoils})
    return Break(rulebook.rules[fault.rule], (fault.path,), subjects, None, fault)


def shown(broken: list[Break]) -> list[Break]:
    """What is left when each finding is silent that a shown one covers, at a leaf they share."""
    coverers = {
        item.rule.id: [other for other in broken if item.rule.id in other.rule.covers]
        for item in {item.rule.id: item for item in broken}.values()
    }
    seen: dict[int, bool] = {}

    def is_shown(item: Break) -> bool:
        if id(item) not in seen:
            seen[id(item)] = not any(
                item.subjects & other.subjects and is_shown(other)
                for other in coverers[item.rule.id]
            )
        return seen[id(item)]

    return [item for item in broken if is_shown(item)]


def apart(rule: Rule, rulebook: Rulebook, at: int) -> tuple[Rule, Rule]:
    """A rule as two: with the conditions that no suppression silences, and with the others.

    Else an order that breaks it where the policy accepts that would hide one that breaks it
    elsewhere.
    """
    running = [item for item in rulebook.suppressions if at < item.until]
    hidden = tuple(
        each
        for each in rule.instances
        if any(item.matches(rule.id, each.paths) for item in running)
    )
    if not hidden:
        return rule, rule._replace(instances=())
    asked = tuple(each for each in rule.instances if each not in hidden)
    return rule._replace(instances=asked), rule._replace(instances=hidden)


def known(rule: Rule) -> Rule:
    """The rule that each condition of another is known to be kept or broken."""
    # In an `and`, so that no part of it is taken for the rule's `when`.
    asked = (
        each._replace(condition=And((Or((each.condition, Not(each.condition))),)))
        for each in rule.instances
    )
    return rule._replace(instances=tuple(asked))


def speaking_for(
    rule: str,
    paths: Iterable[str],
    found: Iterable[Finding],
    suppressed: Iterable[Suppressed],
    rulebook: Rulebook,
) -> Finding | Suppressed:
    """What is said of a rule that is broken at some settings.

    First its own finding there, then one that covers it there, then one that the policy suppresses
    there. RuntimeError where nothing is said of it, which is a fault of ours.
    """
    told = _subjects(tuple(paths))
    own: list[Finding | Suppressed] = []
    covering: list[Finding | Suppressed] = []
    for finding in found:
        if finding.rule == rule:
            own.append(finding)
        elif rule in rulebook.rules[finding.rule].covers:
            covering.append(finding)
    hidden = [item for item in suppressed if item.finding.rule == rule]
    every = [*own, *covering, *hidden]
    # A finding names what is written, so that one at a setting left out may not name it.
    said = next(iter([*(each for each in every if _is_at(each, told)), *every]), None)
    if said is None:
        raise RuntimeError(f"verify says nothing of an order that breaks {rule}")
    return said


def _is_at(said: Finding | Suppressed, paths: frozenset[str]) -> bool:
    """Whether a finding names one of some settings, or a section with one of them in it."""
    finding = said.finding if isinstance(said, Suppressed) else said
    named = (finding.path, *(item.path for item in finding.also))
    return any(f"{path}.".startswith(f"{each}.") for each in named for path in paths)


def without_suppressed(
    broken: list[Break], rulebook: Rulebook, at: int
) -> tuple[list[Break], dict[Suppression, list[Break]]]:
    """What is left to be shown, and what each suppression that still runs takes out of it."""
    silenced: dict[Suppression, list[Break]] = {}
    for suppression in rulebook.suppressions:
        if at < suppression.until:
            silenced[suppression] = [
                item for item in broken if suppression.matches(item.rule.id, item.paths)
            ]
    taken = {id(item) for items in silenced.values() for item in items}
    return [item for item in broken if id(item) not in taken], silenced


def suppressed_of(
    silenced: Mapping[Suppression, list[Break]], order: Order, leaves: Mapping[str, Leaf]
) -> Iterator[Suppressed]:
    """The findings that each suppression keeps from being shown, with what the policy says."""
    for item, broken in silenced.items():
        for finding in in_words(broken, order, leaves):
            yield Suppressed(finding, item.reason, item.approved_by, item.until_text, item.place)


def in_words(
    broken: Iterable[Break], order: Order, leaves: Mapping[str, Leaf]
) -> tuple[Finding, ...]:
    """One finding a rule, with every place at which it is broken; heaviest first.

    At one level, what is about settings stands before what is about the paper they stand on.
    """
    by_rule: dict[str, list[Break]] = {}
    for item in sorted(broken, key=_aside):
        by_rule.setdefault(item.rule.id, []).append(item)
    findings = [_finding(items, order, leaves) for items in by_rule.values()]
    return tuple(sorted(findings, key=lambda finding: -finding.level.weight))


def _aside(item: Break) -> bool:
    """Whether nothing that is set, hung or given is broken."""
    fields = field_table().fields
    of_paper = all(path in fields and fields[path].aside for path in item.paths)
    return of_paper or item.rule.found_by == "policy"


def _finding(items: list[Break], order: Order, leaves: Mapping[str, Leaf]) -> Finding:
    rule = items[0].rule
    words = [_words(item, leaves) for item in items]
    lead, *others = _mentions(items, order, leaves)
    return Finding(
        rule=rule.id,
        family=rule.family,
        level=rule.level,
        path=lead.path,
        name=lead.name,
        says=_each(words, rule.says),
        written=lead.written,
        expected=_each(words, rule.expected),
        why=_each(words, rule.why),
        ask=_each(words, rule.ask),
        ask_whom=rule.ask_whom,
        source="; ".join(source.text for source in rule.sources),
        place=lead.place or order.place_of(lead.path),
        also=tuple(others),
    )


def _words(item: Break, leaves: Mapping[str, Leaf]) -> Words:
    scope = item.instance.scope if item.instance else Scope(field_table())
    fault = item.fault
    details = {"written": quoted(fault.written), **fault.details} if fault else {}
    return Words(leaves, scope, item.rule.figures or {}, details, _flags(item))


def _flags(item: Break) -> frozenset[str]:
    """The notation flags that a condition looks for."""
    found = atoms(item.instance.condition) if item.instance else ()
    return frozenset(atom.flag for atom in found if isinstance(atom, Written))


def _each(words: list[Words], text: str) -> str:
    """The text filled for each setting at which the rule is broken, one sentence after another."""
    filled = list(dict.fromkeys(word.fill(text) for word in words))
    return (" " if text.endswith((".", "?")) else "; ").join(filled)


def _mentions(items: list[Break], order: Order, leaves: Mapping[str, Leaf]) -> Iterator[Mention]:
    """The setting that a finding leads with, then the others involved that are written."""
    faults = {item.fault.path: item.fault for item in items if item.fault}
    flags = _flags(items[0])
    lead = _lead(items[0], leaves)
    for path in dict.fromkeys([lead, *(path for item in items for path in item.paths)]):
        name = field_table().trade_name(path)
        if path in faults:
            fault = faults[path]
            yield Mention(path, name, quoted(fault.written), fault.place)
        elif path in leaves and marked(leaves[path], flags):
            for mark, place in marked(leaves[path], flags):
                yield Mention(path, name, around(leaves[path].text, mark), place)
        elif path != CHECKED_AT and path in leaves and leaves[path].given:
            yield Mention(path, name, quoted(leaves[path].text), leaves[path].place)
        elif path == lead:
            yield Mention(path, name, "", order.place_of(path))


def _lead(item: Break, leaves: Mapping[str, Leaf]) -> str:
    """The first setting that is written, of the one the rule leads with and all it compares.

    A section leads as a whole, whichever of its settings are written.
    """
    if item.rule.main_path and item.rule.main_path not in leaves:
        return item.rule.main_path
    it = item.instance.it if item.instance else None
    paths = [path for path in (item.rule.main_path, it, *item.paths) if path]
    written = [path for path in paths if path in leaves and leaves[path].given]
    return next(iter([] if item.fault else written), paths[0] if paths else "")
