"""Small order sets and rules, drawn by hypothesis, and every order that one yields.

The enumeration goes through the meaning of an order set and of a condition alone, and so does the
cost of an order: both are written here a second time, from the words.
"""

from __future__ import annotations

import itertools
from typing import NamedTuple

from drawn_trees import CHOICES, EVERY, UNITS, known_leaf, leaf, trees_over
from hypothesis import strategies as st

from orderlint.fields import FieldTable
from orderlint.finding import Level, Place
from orderlint.language.evaluate import evaluate
from orderlint.language.surface import Name
from orderlint.language.tree import And, Compare, Not, Or, atoms
from orderlint.language.types import Scope
from orderlint.order_set.model import Gate, OfferedSection, OrderSet, Slot, Span, order_of, within
from orderlint.proof.prover import LIMITS, Prover
from orderlint.proof.search_space import example_of, leaf_in_range
from orderlint.rulebook.citation import Source
from orderlint.rulebook.rule import CodeRule, Instance, OrderRule, Rulebook

HERE = Place("set.yaml", 1, 1)
NAME = Name("therapy", 0)
SCOPE = Scope(FieldTable({}, {}, {}, {}))
FLAGS = ("trailing zero", "unit spelling")
SECTIONS = ("pause", "pause.lower", "irrigation", "monitoring", "titration.max", "display_unit")
TURNS = "a comparison turns more than once within an unbounded blank"
"""Why a proof is given up on by design: a square over a range that goes below zero, or from which
another is taken."""


def squares_a_range(order_set, rulebook):
    """Whether a condition multiplies by itself what can be anything within bounds."""
    trees = [gate.tree for gate in order_set.gates]
    trees += [item.condition for rule in rulebook.order_rules for item in rule.instances]
    ranges = {path for path, slot in order_set.slots.items() if slot.span}
    compared = (atom for tree in trees for atom in atoms(tree) if isinstance(atom, Compare))
    return any(
        term.paths.count(path) > 1 for atom in compared for term in atom.terms for path in ranges
    )


def rule_of(name, *trees, when=None, level=Level.DO_NOT_START):
    """A rule with an instance for each tree, which is its `require` where there is a `when`."""
    sounds = [Or((Not(when), tree)) if when is not None else tree for tree in trees]
    made = tuple(Instance(None, sound, (), SCOPE) for sound in sounds)
    written = NAME if when is not None else None
    return OrderRule(**common_of(name, level), instances=made, require=NAME, when=written)


def code_rule_of(name, found_by):
    return CodeRule(**common_of(name, Level.CLARIFY), found_by=found_by)


def common_of(name, level):
    """What every rule has."""
    words = dict.fromkeys(("says", "expected", "why", "ask"), "")
    source = (Source("logic", "logic"),)
    beside = {"ask_whom": "prescriber", "sources": source, "place": HERE}
    return {"id": name, "family": "made up", "level": level, **words, **beside}


def rulebook_of(*rules):
    return Rulebook({rule.id: rule for rule in rules}, "a policy", None)


def set_of(slots, sections=(), gates=()):
    """A set; `slots` by path or in a list, `sections` and `gates` in lists."""
    listed = {slot.path: slot for slot in slots}
    offered = {section.path: section for section in sections}
    return OrderSet("set.yaml", {}, listed, offered, tuple(gates))


def decide(order_set, rulebook, limits=LIMITS):
    """What is proved of every rule on one order, in the order of the rulebook."""
    prover = Prover(order_set, rulebook.order_rules, limits)
    return tuple(prover.decide(rule) for rule in rulebook.order_rules)


def spans():
    ends = st.tuples(st.integers(-3, 1), st.integers(2, 6))
    steps = st.sampled_from([{}, {"": 2}, {"": 3}])
    return st.builds(lambda pair, step: Span(pair[0], pair[1], {"": 1}, step), ends, steps)


def pressure_spans():
    ends = st.tuples(st.integers(-3, 1), st.integers(2, 6))
    grids = st.sampled_from([{"mmHg": 1, "cmH2O": 2}, {"mmHg": 3, "cmH2O": 2}])
    steps = st.sampled_from([{}, {"mmHg": 3, "cmH2O": 4}])
    return st.builds(lambda pair, *more: Span(pair[0], pair[1], *more), ends, grids, steps)


@st.composite
def slots(draw, path, most, spanned_too):
    values = st.integers(0, 4) if draw(st.booleans()) else st.integers(-4, 4)
    one = known_leaf(path, values, FLAGS, ("x", "y"))
    any_leaf = leaf(path, values, FLAGS, ("x", "y"))
    options = draw(st.lists(st.one_of(one, one, any_leaf), min_size=1, max_size=most))
    span = None
    if spanned_too and path not in CHOICES and draw(st.integers(0, 7)) == 0:
        span = draw(pressure_spans() if path in UNITS else spans())
    preset = draw(st.one_of(st.none(), st.integers(0, len(options) - 1)))
    return Slot(path, tuple(options), preset, span)


@st.composite
def sets(draw, most=3, spanned_too=True):
    """A set of up to `most` + 1 slots of up to `most` options, two sections and two gates."""
    paths = draw(st.lists(st.sampled_from(EVERY), min_size=2, max_size=most + 1, unique=True))
    made = [draw(slots(path, most, spanned_too)) for path in paths]
    sections = [
        OfferedSection(section, draw(st.booleans()), HERE)
        for section in draw(st.lists(st.sampled_from(SECTIONS), max_size=2, unique=True))
        if any(within(path, section) for path in paths)
    ]
    hides = draw(st.lists(st.sampled_from(SECTIONS), max_size=2))
    gates = []
    for number, section in enumerate(hides):
        late = hides[number:]
        free = [path for path in paths if not any(within(path, other) for other in late)]
        if free:
            tree = draw(trees_over(free, FLAGS, max_leaves=3))
            gates.append(Gate(section, tree, NAME, HERE))
    return set_of(made, sections, gates)


@st.composite
def sets_and_rules(draw, most=3, spanned_too=True):
    """A set, and a rulebook of three rules over its slots."""
    order_set = draw(sets(most, spanned_too))
    paths = list(order_set.slots)
    rules = []
    for number in range(3):
        trees = draw(st.lists(trees_over(paths, FLAGS, max_leaves=5), min_size=1, max_size=2))
        when = draw(st.one_of(st.none(), trees_over(paths, FLAGS, max_leaves=2)))
        level = draw(st.sampled_from([Level.DO_NOT_START, Level.CLARIFY]))
        when = And((when,)) if when is not None else None
        rules.append(rule_of(f"rule-{number}", *trees, when=when, level=level))
    return order_set, rulebook_of(*rules)


class Signed(NamedTuple):
    """One way to pick, and the order that it yields."""

    chosen: dict[str, object]
    sections_on: dict[str, bool]
    leaves: dict[str, object]


def choices(slot):
    """Everything that can stand at a slot: indices of options, and values of a span as leaves."""
    found = list(range(len(slot.options)))
    if slot.span is not None:
        for unit, grid in slot.span.grids.items():
            values = range(slot.span.lowest, slot.span.highest + 1)
            found += [leaf_in_range(slot.path, v, unit) for v in values if v % grid == 0]
    return found


def every_order(order_set):
    """All the ways to pick, each with its order."""
    slots_, sections = order_set.slots, list(order_set.offered_sections)
    for taken in itertools.product((False, True), repeat=len(sections)):
        sections_on = dict(zip(sections, taken, strict=True))
        for picked in itertools.product(*(choices(slot) for slot in slots_.values())):
            chosen = dict(zip(slots_, picked, strict=True))
            leaves = {
                p: slots_[p].options[c] if isinstance(c, int) else c for p, c in chosen.items()
            }
            yield Signed(chosen, sections_on, order_of(order_set, leaves, sections_on))


def outcome(rule, orders):
    """The result of a rule by trying every order, as a word."""
    truths = {evaluate(i.condition, order.leaves) for i in rule.instances for order in orders}
    if False in truths:
        return "broken"
    if None in truths:
        return "undetermined"
    if rule.when is None:
        return "proved"
    whens = [instance.condition.items[0].item for instance in rule.instances]
    speaks = any(evaluate(when, order.leaves) for when in whens for order in orders)
    return "proved" if speaks else "vacuous"


def is_broken(rule, order):
    return any(evaluate(i.condition, order.leaves) is False for i in rule.instances)


def distance(order_set, order):
    """Departures, steps, then what the words say of ties: a key of which the least is nearest."""
    departures, walked, departing, ranks = 0, 0, [], []
    seen = set()
    for path, slot in order_set.slots.items():
        for section in order_set.offered_sections.values():
            if within(path, section.path) and section.path not in seen:
                seen.add(section.path)
                differs = order.sections_on[section.path] != section.preset
                departures += differs
                departing.append(not differs)
                ranks.append((order.sections_on[section.path],))
        choice = order.chosen[path]
        start = 0 if slot.preset is None else slot.preset
        blank = slot.preset is None or slot.span or not slot.options[start].given
        differs = not blank and choice != start
        departures += differs
        departing.append(not differs)
        if isinstance(choice, int):
            walked += abs(choice - start)
            ranks.append((0, choice))
        else:
            units = list(slot.span.grids)
            far = abs(choice.value - example_of(path))
            unit = choice.unit or ""
            off = choice.value % slot.span.steps.get(unit, 1) > 0
            ranks.append((1, off, units.index(unit), far, choice.value))
    return departures, walked, departing, ranks
