"""The three walkers agree on any tree there can be, and not only on those of the rulebook."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from walkers import by_evaluate, by_solve, by_sql

from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Not,
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
SMALL = st.integers(-4, 4)


def terms() -> st.SearchStrategy[tuple[Term, ...]]:
    paths = st.one_of(
        st.sampled_from(NUMBERS).map(lambda path: (path,)),
        st.tuples(st.sampled_from(FLOWS), st.sampled_from(TIMES)),
        st.just(("irrigation.rate", "irrigation.rate")),
    )
    return st.lists(st.builds(Term, SMALL, paths), max_size=3).map(tuple)


def subjects() -> st.SearchStrategy[Subject]:
    return st.one_of(
        st.sampled_from(CHOICES).map(Subject),
        st.sampled_from(UNITS).map(lambda path: Subject(path, is_unit=True)),
    )


ATOMS = st.one_of(
    st.builds(Given, st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=3).map(tuple)),
    st.builds(Written, st.sampled_from(UNITS), st.sampled_from(sorted(FLAGS))),
    st.builds(Compare, terms(), st.sampled_from(["<", "<=", "=="]), st.integers(-20, 20)),
    st.builds(Multiple, st.sampled_from(NUMBERS), st.integers(1, 4)),
    st.builds(
        Member,
        subjects(),
        st.lists(st.sampled_from(["mmHg", "cmH2O", "it's"]), min_size=1, max_size=2).map(tuple),
    ),
    st.builds(Same, subjects(), subjects()),
)
TREES = st.recursive(
    ATOMS,
    lambda inner: st.one_of(
        inner.map(Not),
        st.lists(inner, min_size=1, max_size=3).map(tuple).map(And),
        st.lists(inner, min_size=1, max_size=3).map(tuple).map(Or),
    ),
    max_leaves=8,
)


def leaf(path: str) -> st.SearchStrategy[Leaf]:
    choice = path in CHOICES
    values = st.sampled_from(["mmHg", "cmH2O"]) if choice else SMALL
    unit = st.sampled_from(["mmHg", "cmH2O"]) if path in UNITS else st.none()
    flags = st.frozensets(st.sampled_from(sorted(FLAGS)), max_size=2)
    return st.one_of(
        st.just(Leaf(path)),
        st.builds(lambda f: Leaf(path, State.UNREADABLE, None, None, "x", f), flags),
        st.builds(lambda v, u, f: Leaf(path, State.KNOWN, v, u, "x", f), values, unit, flags),
    )


LEAVES = st.fixed_dictionaries({path: leaf(path) for path in (*NUMBERS, *CHOICES, *UNITS)})


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(TREES, min_size=1, max_size=6), LEAVES)
def test_the_walkers_agree_on_any_tree(trees, leaves):
    meant = [by_evaluate(tree, leaves) for tree in trees]
    assert by_solve(trees, leaves) == meant
    assert by_sql(trees, [leaves]) == [meant]
