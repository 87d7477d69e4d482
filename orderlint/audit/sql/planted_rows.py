"""Orders on which it is known what each rule comes to, to be tried before any other is counted.

Made from the examples that the records of the rules carry. Never an order of a patient.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit.sql.outcomes import RowOutcome, outcome_of, trees_of
from orderlint.audit.texts import read_cell
from orderlint.fields import CHECKED_AT
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Member, Names, atoms
from orderlint.local_time import fixed_clock, wall_time
from orderlint.order import Leaf, Order, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.examples import examples_of
from orderlint.rulebook.rule import Instance, OrderRule, Rule, Rulebook, context_of
from orderlint.rulebook.standing_orders import StandingOrders, filled
from orderlint.tables.row_document import document_of
from orderlint.tables.table_map import HEAD_PATHS
from orderlint.utc_offset_check import with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    Texts = Mapping[str, str]


class PlantedRow(NamedTuple):
    """An order, the texts by path and the time of checking, and what a rule comes to on it."""

    rule: str
    expected: RowOutcome
    texts: Texts


class Planted(NamedTuple):
    """The planted rows of a rulebook.

    `unbroken` are the rules, each with its paths, of which some setting is broken by no row.
    """

    rows: tuple[PlantedRow, ...]
    unbroken: tuple[str, ...]


def planted_rows(rulebook: Rulebook, faults: Iterable[str]) -> Planted:
    """Every example of the rules on one order, and for each setting a row that breaks it there.

    `rulebook` is one read with its examples, `faults` are those of its rules that a text breaks in
    being read.
    """
    made = _Maker(rulebook)
    rows: list[PlantedRow] = []
    unbroken: list[str] = []
    for rule in rulebook.order_rules:
        found, bare = made.rows_of(rule)
        rows.extend(found)
        unbroken.extend(bare)
    for fault in faults:
        of_fault = list(_rows_of_fault(rulebook.rules[fault]))
        rows.extend(of_fault)
        if RowOutcome.BROKEN not in {row.expected for row in of_fault}:
            unbroken.append(fault)
    return Planted(tuple(rows), tuple(dict.fromkeys(unbroken)))


def _rows_of_fault(rule: Rule) -> Iterator[PlantedRow]:
    """The examples of a rule that a text breaks in being read."""
    for example in examples_of(rule):
        texts = _texts(example.order, example.at)
        is_broken = rule.id in {fault.rule for fault in _order(texts).faults}
        yield PlantedRow(rule.id, RowOutcome.BROKEN if is_broken else RowOutcome.KEPT, texts)


def verified_leaves(texts: Texts, standing: StandingOrders | None) -> Mapping[str, Leaf]:
    """The leaves of an order as `verify` reads it, with the time of checking."""
    order = filled(_order(texts), standing)
    at = read_cell("written", texts[CHECKED_AT]).leaf.value
    state = State.ABSENT if at is None else State.KNOWN
    return {**with_clock_change(order.leaves), CHECKED_AT: Leaf(CHECKED_AT, state, at)}


def _order(texts: Texts) -> Order:
    own = {path: text for path, text in texts.items() if path != CHECKED_AT}
    return read_order(read(document_of(own), "planted", "order", json=True))


class _Maker:
    """Makes rows of one rulebook."""

    def __init__(self, rulebook: Rulebook) -> None:
        self.standing = rulebook.standing_orders
        self.examples = {
            rule.id: [_texts(example.order, example.at) for example in examples_of(rule)]
            for rule in rulebook.order_rules
        }
        self.read: dict[tuple[tuple[str, str], ...], Mapping[str, Leaf]] = {}
        self.pool: dict[str, dict[str, None]] = {}
        for texts in (each for every in self.examples.values() for each in every):
            for path, text in texts.items():
                self.pool.setdefault(path, {})[text] = None

    def rows_of(self, rule: OrderRule) -> tuple[list[PlantedRow], list[str]]:
        """The rows of one rule, and its settings that none of them breaks."""
        every = list(self.examples[rule.id])
        broken = {number for texts in every for number in self._broken_alone(rule, texts)}
        bare = []
        for number, instance in enumerate(rule.instances):
            if number in broken:
                continue
            found = self._breaking(rule, number)
            if found is None:
                bare.append(" ".join([rule.id, *([instance.it] if instance.it else [])]))
            else:
                every.append(found)
        trees = trees_of(rule)
        rows = [PlantedRow(rule.id, outcome_of(trees, self._leaves(t)), t) for t in every]
        return rows, bare

    def _leaves(self, texts: Texts) -> Mapping[str, Leaf]:
        key = tuple(texts.items())
        if key not in self.read:
            self.read[key] = verified_leaves(texts, self.standing)
        return self.read[key]

    def _broken_alone(self, rule: OrderRule, texts: Texts) -> list[int]:
        """The setting at which an order breaks the rule, if it is one alone."""
        leaves = self._leaves(texts)
        found = [n for n, i in enumerate(rule.instances) if evaluate(i.condition, leaves) is False]
        return found if len(found) == 1 else []

    def _breaking(self, rule: OrderRule, number: int) -> Texts | None:
        """An order that breaks the rule at one setting alone; None if no change of one does."""
        instance = rule.instances[number]
        for texts in self.examples[rule.id]:
            for changed in filter(_can_be_written, self._changed(rule, instance, texts)):
                if evaluate(instance.condition, self._leaves(changed)) is not False:
                    continue
                if self._broken_alone(rule, changed) == [number]:
                    return changed
        return None

    def _changed(self, rule: OrderRule, instance: Instance, texts: Texts) -> Iterator[Texts]:
        """An example written for the instance's own setting, key of a table, and numbers."""
        for moved in _moved(rule, instance, texts):
            yield moved
            keyed = {**moved, **_keyed(rule, instance)}
            yield keyed
            for path in instance.paths:
                for text in self.pool.get(path, ()):
                    yield {**keyed, path: text}


def _can_be_written(texts: Texts) -> bool:
    """Whether no section is written as one text beside a setting of its own."""
    return not any(path.startswith(f"{at}.") for at in texts for path in texts)


def _moved(rule: OrderRule, instance: Instance, texts: Texts) -> Iterator[Texts]:
    """The texts, and those with one of the rule's settings written at the instance's instead."""
    yield texts
    for path in rule.over if instance.it else ():
        if path in texts and path != instance.it:
            others = {at: text for at, text in texts.items() if at != path}
            yield {**others, str(instance.it): texts[path]}


def _keyed(rule: OrderRule, instance: Instance) -> Texts:
    """Texts with which the rule is asked for the instance's key of a table."""
    context = context_of(rule, instance)
    keyed: dict[str, str] = {}
    for atom in atoms(context) if context is not None else ():
        if isinstance(atom, Names):
            keyed[atom.path] = atom.listed[0]
        elif isinstance(atom, Member) and not atom.subject.is_unit:
            keyed[atom.subject.path] = atom.among[0]
    return keyed


def _texts(order: Order, at: int) -> Texts:
    """The texts of an order by path, and the time of checking."""
    # A leaf without a place is spoilt by a text that stands elsewhere.
    written = {
        path: leaf.text
        for path, leaf in order.leaves.items()
        if leaf.given and leaf.place is not None and leaf.text and path not in HEAD_PATHS
    }
    when = wall_time(fixed_clock(0), at).isoformat(timespec="milliseconds")
    return {**written, CHECKED_AT: when}
