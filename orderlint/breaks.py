"""A broken rule at the settings where it is broken, and the finding that says so in words.

Never judges a condition, and never decides what is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Finding, Mention
from orderlint.language.tree import Written, atoms
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.templates import Words, around, marked, quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Fault
    from orderlint.order import Leaf, Order
    from orderlint.rulebook.rule import Instance, Rule, Rulebook


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


def subjects_of(paths: tuple[str, ...]) -> frozenset[str]:
    """The leaves by which findings overlap: a choice is mostly the setting of the scene."""
    fields = field_table().fields
    measured = [path for path in paths if path in fields and fields[path].kind != "choice"]
    return frozenset(measured or paths)


def of_fault(fault: Fault, rulebook: Rulebook) -> Break:
    """The rule that has the words of a fault, broken where it lies."""
    subjects = frozenset({fault.path, *fault.spoils})
    return Break(rulebook.rules[fault.rule], (fault.path,), subjects, None, fault)


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
    found = atoms(item.instance.sound) if item.instance else ()
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
    if item.rule.leads and item.rule.leads not in leaves:
        return item.rule.leads
    it = item.instance.it if item.instance else None
    paths = [path for path in (item.rule.leads, it, *item.paths) if path]
    written = [path for path in paths if path in leaves and leaves[path].given]
    return next(iter([] if item.fault else written), paths[0] if paths else "")
