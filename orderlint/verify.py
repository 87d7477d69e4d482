"""One order in; findings, what could not be checked, and what the controller would do out.

Joins reading, rulebook and behaviour. Never prints, and never reads a file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.behaviour import Behaviour, behaviour_of
from orderlint.fields import field_table
from orderlint.finding import (
    Finding,
    Inactive,
    Mention,
    Suppressed,
    Unchecked,
    Verdict,
    verdict_of,
)
from orderlint.language.evaluate import evaluate, missing
from orderlint.language.tree import Written, atoms
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.order import Leaf, State, read_order
from orderlint.reading import read
from orderlint.rulebook.load import at_hand
from orderlint.wording import Words, around, marked, quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Fault
    from orderlint.order import Order
    from orderlint.rulebook.rule import Instance, Rule, Rulebook, Suppression


@dataclass(frozen=True, slots=True)
class Verified:
    """All that is said of one order, heaviest finding first.

    `order` holds every leaf as read; `rules` counts the rules asked; `policy` is the title of the
    policy they rest on, `suppressed` what that policy keeps from being shown as a finding.
    """

    file: str
    order: Order
    verdict: Verdict
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    inactive: tuple[Inactive, ...]
    behaviour: Behaviour
    rules: int
    policy: str
    suppressed: tuple[Suppressed, ...] = ()
    weaker: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Break:
    """A rule broken at some leaves, before covers and before words."""

    rule: Rule
    paths: tuple[str, ...]
    subjects: frozenset[str]
    instance: Instance | None = None
    fault: Fault | None = None


def verify(data: bytes, file: str, at: int, rulebook: Rulebook | None = None) -> Verified:
    """Check one order.

    `data` is the file's bytes, YAML or JSON; `file` its name for places; `at` the instant of
    checking in milliseconds since 1970 UTC. Raises Refused where the file is not a readable order.
    """
    return verify_order(read_order(read(data, file, "order")), at, rulebook or at_hand())


def verify_order(order: Order, at: int, rulebook: Rulebook) -> Verified:
    """Check an order that has been read."""
    leaves = {**order.leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, at)}
    broken, unchecked = _judge(rulebook, leaves)
    broken.extend(_of_fault(fault, rulebook) for fault in order.faults)
    broken, silenced = _without_suppressed(broken, rulebook, at)
    faults = [*rulebook.faults, *_expired(rulebook, at)]
    broken.extend(_of_fault(fault, rulebook) for fault in faults)
    ranks = {rule: rank for rank, rule in enumerate(rulebook.rules)}
    broken.sort(key=lambda item: ranks[item.rule.id])
    findings = _in_words(_shown(broken), order, leaves)
    suppressed = tuple(_suppressed(silenced, order, leaves))
    inactive = [Inactive(r.id, reason) for r in rulebook.rules.values() for reason in r.inactive]
    asked = sum(1 for rule in rulebook.rules.values() if rule.instances or _on_reading(rule))
    return Verified(
        order.file,
        order,
        verdict_of(findings, unchecked, suppressed),
        findings,
        unchecked,
        tuple(inactive),
        behaviour_of(leaves, rulebook.outflow),
        asked,
        rulebook.policy,
        suppressed,
        tuple(_weaker(rulebook, leaves)),
    )


def findings_of(
    faults: Iterable[Fault], order: Order, at: int, rulebook: Rulebook
) -> tuple[tuple[Finding, ...], tuple[Suppressed, ...]]:
    """Faults that another room found beside an order, in words, and those the policy suppresses."""
    broken, silenced = _without_suppressed([_of_fault(f, rulebook) for f in faults], rulebook, at)
    suppressed = tuple(_suppressed(silenced, order, order.leaves))
    return _in_words(_shown(broken), order, order.leaves), suppressed


def worded(faults: Iterable[Fault], order: Order, rulebook: Rulebook) -> tuple[Finding, ...]:
    """The findings of faults that are not of one order, such as those of an order set.

    Heaviest first; `order` says where a setting stands.
    """
    ranks = {rule: rank for rank, rule in enumerate(rulebook.rules)}
    broken = [_of_fault(fault, rulebook) for fault in faults]
    broken.sort(key=lambda item: ranks[item.rule.id])
    return _in_words(_shown(broken), order, order.leaves)


def _without_suppressed(
    broken: list[_Break], rulebook: Rulebook, at: int
) -> tuple[list[_Break], dict[Suppression, list[_Break]]]:
    """What is left to be shown, and what each suppression that still runs takes out of it."""
    silenced: dict[Suppression, list[_Break]] = {}
    for suppression in rulebook.suppressions:
        if at < suppression.until:
            silenced[suppression] = [
                item for item in broken if suppression.matches(item.rule.id, item.paths)
            ]
    taken = {id(item) for items in silenced.values() for item in items}
    return [item for item in broken if id(item) not in taken], silenced


def _weaker(rulebook: Rulebook, leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """The policy's values with which more orders pass; of a table, if they may bear on this one."""
    for item in rulebook.weaker:
        if item.bears is None or evaluate(item.bears, leaves) is not False:
            yield item.fault.details["value"]


def _expired(rulebook: Rulebook, at: int) -> Iterator[Fault]:
    expired = [item for item in rulebook.suppressions if at >= item.until]
    if expired:
        from orderlint.rulebook.suppress import fault  # noqa: PLC0415 - cold start

        yield from (fault("suppression-expired", item) for item in expired)


def _suppressed(
    silenced: Mapping[Suppression, list[_Break]], order: Order, leaves: Mapping[str, Leaf]
) -> Iterator[Suppressed]:
    for item, broken in silenced.items():
        for finding in _in_words(broken, order, leaves):
            yield Suppressed(finding, item.reason, item.approved_by, item.until_text, item.place)


def _on_reading(rule: Rule) -> bool:
    """Whether reading an order finds this, rather than a condition."""
    return rule.found_by in {"reading", "schema", "units"}


def _judge(
    rulebook: Rulebook, leaves: Mapping[str, Leaf]
) -> tuple[list[_Break], tuple[Unchecked, ...]]:
    broken: list[_Break] = []
    unchecked = []
    for rule in rulebook.rules.values():
        lacking: dict[str, None] = {}
        for instance in rule.instances:
            sound = evaluate(instance.sound, leaves)
            if sound is False:
                subjects = _subjects(instance.paths)
                broken.append(_Break(rule, instance.paths, subjects, instance))
            elif sound is None:
                lacking.update(dict.fromkeys(missing(instance.sound, leaves)))
        if lacking:
            unchecked.append(Unchecked(rule.id, rule.level, tuple(lacking)))
    return broken, tuple(unchecked)


def _subjects(paths: tuple[str, ...]) -> frozenset[str]:
    """The leaves by which findings overlap: a choice is mostly the setting of the scene."""
    fields = field_table().fields
    measured = [path for path in paths if path in fields and fields[path].kind != "choice"]
    return frozenset(measured or paths)


def _of_fault(fault: Fault, rulebook: Rulebook) -> _Break:
    subjects = frozenset({fault.path, *fault.spoils})
    return _Break(rulebook.rules[fault.rule], (fault.path,), subjects, None, fault)


def _shown(broken: list[_Break]) -> list[_Break]:
    """What is left when each finding is silent that a shown one covers, at a leaf they share."""
    coverers = {
        item.rule.id: [other for other in broken if item.rule.id in other.rule.covers]
        for item in {item.rule.id: item for item in broken}.values()
    }
    seen: dict[int, bool] = {}

    def is_shown(item: _Break) -> bool:
        if id(item) not in seen:
            seen[id(item)] = not any(
                item.subjects & other.subjects and is_shown(other)
                for other in coverers[item.rule.id]
            )
        return seen[id(item)]

    return [item for item in broken if is_shown(item)]


def _in_words(
    broken: Iterable[_Break], order: Order, leaves: Mapping[str, Leaf]
) -> tuple[Finding, ...]:
    """One finding a rule, with every place at which it is broken; heaviest first."""
    by_rule: dict[str, list[_Break]] = {}
    for item in broken:
        by_rule.setdefault(item.rule.id, []).append(item)
    findings = [_finding(items, order, leaves) for items in by_rule.values()]
    return tuple(sorted(findings, key=lambda finding: -finding.level.weight))


def _finding(items: list[_Break], order: Order, leaves: Mapping[str, Leaf]) -> Finding:
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


def _words(item: _Break, leaves: Mapping[str, Leaf]) -> Words:
    scope = item.instance.scope if item.instance else Scope(field_table())
    fault = item.fault
    details = {"written": quoted(fault.written), **fault.details} if fault else {}
    return Words(leaves, scope, item.rule.figures or {}, details, _flags(item))


def _flags(item: _Break) -> frozenset[str]:
    """The notation flags that a condition looks for."""
    found = atoms(item.instance.sound) if item.instance else ()
    return frozenset(atom.flag for atom in found if isinstance(atom, Written))


def _each(words: list[Words], text: str) -> str:
    """The text filled for each setting at which the rule is broken, one sentence after another."""
    filled = list(dict.fromkeys(word.fill(text) for word in words))
    return (" " if text.endswith((".", "?")) else "; ").join(filled)


def _mentions(items: list[_Break], order: Order, leaves: Mapping[str, Leaf]) -> Iterator[Mention]:
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


def _lead(item: _Break, leaves: Mapping[str, Leaf]) -> str:
    """The first setting that is written, of the one the rule leads with and all it compares.

    A section leads as a whole, whichever of its settings are written.
    """
    if item.rule.leads and item.rule.leads not in leaves:
        return item.rule.leads
    it = item.instance.it if item.instance else None
    paths = [path for path in (item.rule.leads, it, *item.paths) if path]
    written = [path for path in paths if path in leaves and leaves[path].given]
    return next(iter([] if item.fault else written), paths[0] if paths else "")
