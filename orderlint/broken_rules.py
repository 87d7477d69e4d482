"""Turns broken rules into findings, with their words filled in. Never judges a rule."""

from __future__ import annotations

import functools
import operator
from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Fault, Finding, NamedSetting, Place
from orderlint.language.tree import Written, atoms
from orderlint.rulebook.citation import cited
from orderlint.rulebook.rule import (
    MISSING_FAMILY,
    ConditionBase,
    Instance,
    Rule,
    Rulebook,
    subjects_of,
)
from orderlint.templates import (
    TemplateValues,
    flagged_places,
    quote,
    quote_leaf,
    quote_place,
    settled,
    template_parts,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.language.surface import Surface
    from orderlint.language.types import Scope
    from orderlint.order import Leaf, Order
    from orderlint.templates import Part


class Break:
    """That a rule is broken at some leaves: by a condition or by a fault.

    That of a condition is the same for every order, so that what is asked of it is worked out once.
    """

    def __init__(
        self,
        rule: Rule,
        paths: tuple[str, ...],
        instance: Instance | None = None,
        fault: Fault | None = None,
    ) -> None:
        self.rule = rule
        self.paths = paths
        self.instance = instance
        self.fault = fault

    @functools.cached_property
    def subjects(self) -> frozenset[str]:
        """The paths used to decide whether two findings are about the same setting."""
        if self.fault:
            return frozenset({self.fault.path, *self.fault.spoils})
        return subjects_of(self.paths, self.instance.condition if self.instance else None)

    @functools.cached_property
    def place(self) -> tuple[int, int, bool]:
        """By this it stands among others.

        The heaviest level comes first, in it what can kill, as `Harm` says, and of one harm
        administrative fields and the policy come last.
        """
        return -self.rule.level.weight, self.rule.harm.rank, self._is_administrative()

    def _is_administrative(self) -> bool:
        """Whether only administrative fields or the policy are at fault."""
        fields = field_table().fields
        of_paper = all(path in fields and fields[path].is_administrative for path in self.paths)
        return of_paper or self.rule.found_by == "policy"

    @functools.cached_property
    def flags(self) -> frozenset[str]:
        """The notation flags that its condition looks for."""
        found = atoms(self.instance.condition) if self.instance else ()
        return frozenset(atom.flag for atom in found if isinstance(atom, Written))

    @functools.cached_property
    def source(self) -> str:
        """The sources of the rule, as one text."""
        return cited(self.rule.sources)

    @functools.cached_property
    def _words(self) -> tuple[tuple[Part, ...], ...]:
        """What the rule says, expects, why, and its question, as far as no order differs in it."""
        texts, scope = _words_of(self.rule), self._scope
        if self.fault:
            return tuple(map(template_parts, texts))
        return tuple(settled(text, scope, self._figures) for text in texts)

    @functools.cached_property
    def _fixed(self) -> tuple[str, ...] | None:
        """The words of the rule, if no order differs in any of them."""
        texts = [part for parts in self._words for part in parts if isinstance(part, str)]
        return tuple(texts) if [len(parts) for parts in self._words] == [1] * len(texts) else None

    @functools.cached_property
    def settings(self) -> tuple[str, ...]:
        """The settings with one of which a finding leads: the rule's main path before others."""
        main_path = self.rule.main_path if isinstance(self.rule, ConditionBase) else None
        it = self.instance.it if self.instance else None
        return tuple(path for path in (main_path, it, *self.paths) if path)

    @functools.cached_property
    def unwritten(self) -> Finding | None:
        """The finding where none of its settings is written, without its place.

        None where orders differ in its words.
        """
        if self._fixed is None or self.fault:
            return None
        path = self.settings[0]
        lead = NamedSetting(path, field_table().display_name(path), "", None)
        return _finding(self, self._fixed, lead, (), Place("", 0, 0))

    @property
    def _details(self) -> Mapping[str, str]:
        fault = self.fault
        return {"written": quote(fault.written), **fault.details} if fault else {}

    @property
    def _figures(self) -> Mapping[str, Surface]:
        return self.rule.figures if isinstance(self.rule, ConditionBase) else {}

    @property
    def _scope(self) -> Scope:
        if self.instance:
            return self.instance.scope
        from orderlint.language.types import Scope  # noqa: PLC0415 - cold start

        return Scope(field_table())

    def said(self, leaves: Mapping[str, Leaf]) -> tuple[str, ...]:
        """What the rule says, expects, why, and its question, on one order."""
        if self._fixed is not None:
            return self._fixed
        values = TemplateValues(leaves, self._scope, self._figures, self._details, self.flags)
        return tuple([values.filled(parts) for parts in self._words])


def _words_of(rule: Rule) -> tuple[str, ...]:
    return rule.says, rule.expected, rule.why, rule.ask


def break_of_fault(fault: Fault, rulebook: Rulebook) -> Break:
    """The break of the rule that has the words of a fault."""
    return Break(rulebook.rules[fault.rule], (fault.path,), None, fault)


def to_findings(
    broken: Iterable[Break], order: Order, leaves: Mapping[str, Leaf], *, apart: bool = False
) -> tuple[Finding, ...]:
    """One finding for each rule, with every place at which it is broken; heaviest first.

    With `apart`, one finding for each place.

    Within a level what can kill comes first, as `Harm` says, and of one harm findings on
    administrative fields and on the policy come last.
    """
    groups: dict[str | int, list[Break]] = {}
    for number, item in enumerate(sorted(broken, key=operator.attrgetter("place"))):
        groups.setdefault(number if apart else item.rule.id, []).append(item)
    return tuple([_finding_of(items, order, leaves) for items in groups.values()])


def _finding_of(items: list[Break], order: Order, leaves: Mapping[str, Leaf]) -> Finding:
    first = items[0]
    if len(items) == 1:
        unwritten = first.unwritten
        if unwritten and not any(leaves[p].given for p in first.settings if p in leaves):
            place = order.place_of(unwritten.path)
            return Finding._make((*unwritten[:_PLACE], place, *unwritten[_PLACE + 1 :]))
        words: Iterable[str] = first.said(leaves)
    else:
        words = _said(items, leaves)
    lead, *others = _mentions(items, order, leaves)
    return _finding(first, words, lead, tuple(others), lead.place or order.place_of(lead.path))


_PLACE = Finding._fields.index("place")


def _finding(
    first: Break,
    words: Iterable[str],
    lead: NamedSetting,
    also: tuple[NamedSetting, ...],
    place: Place,
) -> Finding:
    rule = first.rule
    says, expected, why, ask = words
    return Finding(
        rule=rule.id,
        family=rule.family,
        level=rule.level,
        path=lead.path,
        name=lead.name,
        says=says,
        written=lead.written,
        expected=expected,
        why=why,
        ask=ask,
        ask_whom=rule.ask_whom,
        source=first.source,
        place=place,
        also=also,
    )


def _said(items: list[Break], leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """Each of the words for every setting at which the rule is broken, one after another."""
    of_each = zip(*(item.said(leaves) for item in items), strict=True)
    for text, said in zip(_words_of(items[0].rule), of_each, strict=True):
        yield (" " if text.endswith((".", "?")) else "; ").join(dict.fromkeys(said))


def _mentions(
    items: list[Break], order: Order, leaves: Mapping[str, Leaf]
) -> Iterator[NamedSetting]:
    """The setting that a finding names first, then the others that are written."""
    faults: dict[str, list[Fault]] = {}
    for fault in (item.fault for item in items if item.fault):
        faults.setdefault(fault.path, []).append(fault)
    flags, name_of = items[0].flags, field_table().display_name
    lead = _lead(items[0], leaves)
    for path in dict.fromkeys([lead, *(path for item in items for path in item.paths)]):
        leaf = leaves.get(path)
        if path in faults:
            for fault in faults[path]:
                yield NamedSetting(path, name_of(path), quote(fault.written), fault.place)
        elif leaf is not None and (marked := flagged_places(leaf, flags)):
            for mark, place in marked:
                yield NamedSetting(path, name_of(path), quote_place(leaf.text, mark), place)
        elif leaf is not None and leaf.given and path != CHECKED_AT:
            yield NamedSetting(path, name_of(path), quote_leaf(leaf), leaf.place)
        elif path == lead:
            yield NamedSetting(path, name_of(path), "", order.place_of(path))


def _lead(item: Break, leaves: Mapping[str, Leaf]) -> str:
    """The first that is written of the settings with which a finding may lead.

    A section is named as a whole.
    """
    main_path = item.rule.main_path if isinstance(item.rule, ConditionBase) else None
    if main_path and main_path not in leaves:
        return main_path
    if item.instance and item.instance.it and item.rule.family == MISSING_FAMILY:
        return item.instance.it  # what is missing leads, whatever else says that it is due
    for path in () if item.fault else item.settings:
        if path in leaves and leaves[path].given:
            return path
    return item.settings[0] if item.settings else ""
