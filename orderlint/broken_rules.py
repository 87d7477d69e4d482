"""Turns broken rules into findings, with their words filled in. Never judges a rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Finding, Mention
from orderlint.language.tree import Names, Written, atoms
from orderlint.rulebook.rule import ConditionRule
from orderlint.rulebook.source import cited
from orderlint.templates import TemplateValues, flagged_places, quote, quote_leaf, quote_place

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Fault
    from orderlint.language.tree import Tree
    from orderlint.order import Leaf, Order
    from orderlint.rulebook.rule import Instance, Rule, Rulebook


@dataclass(frozen=True, slots=True)
class Break:
    """A rule that is broken at some leaves: by a condition or by a fault.

    `subjects`: paths used to decide whether two findings are about the same setting.
    """

    rule: Rule
    paths: tuple[str, ...]
    subjects: frozenset[str]
    instance: Instance | None = None
    fault: Fault | None = None


def subjects_of(paths: tuple[str, ...], condition: Tree | None = None) -> frozenset[str]:
    """The paths used to decide whether two findings are about the same setting.

    Choices, and texts in which the condition looks for a name, only count if there is nothing
    else: most conditions read one as context.
    """
    fields = field_table().fields
    found = atoms(condition) if condition is not None else ()
    named = {atom.path for atom in found if isinstance(atom, Names)}
    measured = [
        p
        for p in paths
        if p == CHECKED_AT or (p in fields and fields[p].kind != "choice" and p not in named)
    ]
    return frozenset(measured or paths)


def break_of_fault(fault: Fault, rulebook: Rulebook) -> Break:
    """The break of the rule that has the words of a fault."""
    subjects = frozenset({fault.path, *fault.spoils})
    return Break(rulebook.rules[fault.rule], (fault.path,), subjects, None, fault)


def to_findings(
    broken: Iterable[Break], order: Order, leaves: Mapping[str, Leaf], *, apart: bool = False
) -> tuple[Finding, ...]:
    """One finding for each rule, with every place at which it is broken; heaviest first.

    With `apart`, one finding for each place.

    Within a level what can kill comes first, as `Harm` says, and of one harm findings on
    administrative fields and on the policy come last.
    """
    groups: dict[str | int, list[Break]] = {}
    for number, item in enumerate(sorted(broken, key=_place_in_level)):
        groups.setdefault(number if apart else item.rule.id, []).append(item)
    findings = [_finding(items, order, leaves) for items in groups.values()]
    return tuple(sorted(findings, key=lambda finding: -finding.level.weight))


def _place_in_level(item: Break) -> tuple[int, bool]:
    return item.rule.harm.rank, _is_administrative(item)


def _is_administrative(item: Break) -> bool:
    """Whether only administrative fields or the policy are at fault."""
    fields = field_table().fields
    of_paper = all(path in fields and fields[path].is_administrative for path in item.paths)
    return of_paper or item.rule.found_by == "policy"


def _finding(items: list[Break], order: Order, leaves: Mapping[str, Leaf]) -> Finding:
    rule = items[0].rule
    words = [_words_of(item, leaves) for item in items]
    lead, *others = _mentions(items, order, leaves)
    return Finding(
        rule=rule.id,
        family=rule.family,
        level=rule.level,
        path=lead.path,
        name=lead.name,
        says=_filled(words, rule.says),
        written=lead.written,
        expected=_filled(words, rule.expected),
        why=_filled(words, rule.why),
        ask=_filled(words, rule.ask),
        ask_whom=rule.ask_whom,
        source=cited(rule.sources),
        place=lead.place or order.place_of(lead.path),
        also=tuple(others),
    )


def _words_of(item: Break, leaves: Mapping[str, Leaf]) -> TemplateValues:
    from orderlint.language.types import Scope  # noqa: PLC0415 - cold start

    scope = item.instance.scope if item.instance else Scope(field_table())
    figures = item.rule.figures if isinstance(item.rule, ConditionRule) else {}
    fault = item.fault
    details = {"written": quote(fault.written), **fault.details} if fault else {}
    return TemplateValues(leaves, scope, figures, details, _notation_flags(item))


def _notation_flags(item: Break) -> frozenset[str]:
    """The notation flags that a condition looks for."""
    found = atoms(item.instance.condition) if item.instance else ()
    return frozenset(atom.flag for atom in found if isinstance(atom, Written))


def _filled(words: list[TemplateValues], text: str) -> str:
    """The text filled in for each setting at which the rule is broken, one after another."""
    filled = list(dict.fromkeys(word.fill(text) for word in words))
    return (" " if text.endswith((".", "?")) else "; ").join(filled)


def _mentions(items: list[Break], order: Order, leaves: Mapping[str, Leaf]) -> Iterator[Mention]:
    """The setting that a finding names first, then the others that are written."""
    faults = {item.fault.path: item.fault for item in items if item.fault}
    flags = _notation_flags(items[0])
    lead = _lead(items[0], leaves)
    for path in dict.fromkeys([lead, *(path for item in items for path in item.paths)]):
        name = field_table().display_name(path)
        if path in faults:
            fault = faults[path]
            yield Mention(path, name, quote(fault.written), fault.place)
        elif path in leaves and flagged_places(leaves[path], flags):
            for mark, place in flagged_places(leaves[path], flags):
                yield Mention(path, name, quote_place(leaves[path].text, mark), place)
        elif path != CHECKED_AT and path in leaves and leaves[path].given:
            yield Mention(path, name, quote_leaf(leaves[path]), leaves[path].place)
        elif path == lead:
            yield Mention(path, name, "", order.place_of(path))


def _lead(item: Break, leaves: Mapping[str, Leaf]) -> str:
    """The first that is written of the rule's main path and the settings that it reads.

    A section is named as a whole.
    """
    main_path = item.rule.main_path if isinstance(item.rule, ConditionRule) else None
    if main_path and main_path not in leaves:
        return main_path
    it = item.instance.it if item.instance else None
    paths = [path for path in (main_path, it, *item.paths) if path]
    written = [path for path in paths if path in leaves and leaves[path].given]
    return next(iter([] if item.fault else written), paths[0] if paths else "")
