"""Any tree there can be, and any leaf that it may meet, drawn by hypothesis."""

from __future__ import annotations

from hypothesis import strategies as st

from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    OneKind,
    Or,
    Same,
    Subject,
    Term,
    Written,
)
from orderlint.order import FLAGS, Leaf, State

FLOWS = ("irrigation.rate", "titration.max")
TIMES = ("monitoring.output_every", "monitoring.icp_every")
INSTANTS = ("starts", "review_by")
NUMBERS = (*FLOWS, *TIMES, *INSTANTS, "revision")
CHOICES = ("display_unit", "drainage.scale")
UNITS = ("pause.lower", "pause.upper")
EVERY = (*NUMBERS, *CHOICES, *UNITS)
SMALL = st.integers(-4, 4)
LISTS = (("x",), ("y", "x z"), ("mmHg",))
"""Lists of names for trees over leaves whose texts are x, y or a unit."""
PRESSURE_UNITS = ("mmHg", "cmH2O")
KINDS = ((("mmHg",), ("cmH2O",)), (("mmHg",),), (PRESSURE_UNITS,))
"""Kinds of units, as if pressures in mmHg and in cmH2O could not be compared."""
EVERY_FLAG = tuple(sorted(FLAGS))


def _some(paths, among):
    return [path for path in paths if path in among]


def _terms(paths):
    numbers, flows, times = (_some(paths, kind) for kind in (NUMBERS, FLOWS, TIMES))
    drawn = [st.sampled_from(numbers).map(lambda path: (path,))]
    if flows and times:
        drawn.append(st.tuples(st.sampled_from(flows), st.sampled_from(times)))
    if "irrigation.rate" in flows:
        drawn.append(st.just(("irrigation.rate", "irrigation.rate")))
    return st.lists(st.builds(Term, SMALL, st.one_of(drawn)), max_size=3).map(tuple)


def _subjects(paths):
    choices, units = _some(paths, CHOICES), _some(paths, UNITS)
    drawn = []
    if choices:
        drawn.append(st.sampled_from(choices).map(Subject))
    if units:
        drawn.append(st.sampled_from(units).map(lambda path: Subject(path, is_unit=True)))
    return st.one_of(drawn)


@st.composite
def _compares_of_one_kind(draw, units, signs):
    """A comparison of leaves whose units must be of one kind."""
    terms = st.builds(Term, SMALL, st.sampled_from(units).map(lambda path: (path,)))
    drawn = draw(st.lists(terms, min_size=1, max_size=2).map(tuple))
    paths = tuple(dict.fromkeys(path for term in drawn for path in term.paths))
    kinds = draw(st.sampled_from(KINDS))
    return Compare(drawn, draw(signs), draw(st.integers(-20, 20)), OneKind(paths, kinds))


def atoms_over(paths, flags=EVERY_FLAG):
    """Every kind of atom that can read these paths, of which one is a choice and one a number."""
    numbers, units = _some(paths, NUMBERS), _some(paths, UNITS)
    words = st.lists(st.sampled_from([*PRESSURE_UNITS, "it's"]), min_size=1, max_size=2)
    signs = st.sampled_from(["<", "<=", "=="])
    drawn = [st.builds(Given, st.lists(st.sampled_from(paths), min_size=1, max_size=3).map(tuple))]
    if units:
        drawn.append(_compares_of_one_kind(units, signs))
        drawn.append(st.builds(Written, st.sampled_from(units), st.sampled_from(flags)))
    if numbers:
        bounds = st.integers(-20, 20)
        drawn.append(st.builds(Compare, _terms(paths), signs, bounds, st.none()))
        drawn.append(st.builds(Multiple, st.sampled_from(numbers), st.integers(1, 4)))
    if _some(paths, CHOICES):
        named = st.sampled_from(_some(paths, CHOICES))
        drawn.append(st.builds(Names, named, st.sampled_from(LISTS)))
    if units or _some(paths, CHOICES):
        drawn.append(st.builds(Member, _subjects(paths), words.map(tuple)))
        drawn.append(st.builds(Same, _subjects(paths), _subjects(paths)))
    return st.one_of(drawn)


def trees_over(paths, flags=EVERY_FLAG, max_leaves=8):
    """Trees that read these paths alone."""
    return st.recursive(
        atoms_over(paths, flags),
        lambda inner: st.one_of(
            inner.map(Not),
            st.lists(inner, min_size=1, max_size=3).map(tuple).map(And),
            st.lists(inner, min_size=1, max_size=3).map(tuple).map(Or),
        ),
        max_leaves=max_leaves,
    )


def known_leaf(path, values=SMALL, flags=EVERY_FLAG, texts=("x",)):
    """A leaf that has a value."""
    value = st.sampled_from(PRESSURE_UNITS) if path in CHOICES else values
    unit = st.sampled_from(PRESSURE_UNITS) if path in UNITS else st.none()
    raised = st.frozensets(st.sampled_from(flags), max_size=2)
    known = st.just(State.KNOWN)
    return st.builds(Leaf, st.just(path), known, value, unit, st.sampled_from(texts), raised)


def leaf(path, values=SMALL, flags=EVERY_FLAG, texts=("x",)):
    """A leaf in any of its states."""
    raised = st.frozensets(st.sampled_from(flags), max_size=2)
    return st.one_of(
        st.just(Leaf(path)),
        st.builds(lambda f: Leaf(path, State.UNREADABLE, None, None, "x", f), raised),
        known_leaf(path, values, flags, texts),
    )
