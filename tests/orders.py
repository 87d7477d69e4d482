"""Orders drawn by hypothesis: every leaf absent, unreadable or known, in either unit.

Values are drawn at and beside the literals of the rules, where mistakes in a comparison show.
"""

from __future__ import annotations

import functools
from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from orderlint.fields import CHECKED_AT, field_table
from orderlint.language.tree import Compare, Multiple, atoms
from orderlint.order import FLAGS, Leaf, State, with_earlier
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.field import Field

NOW = 1_772_480_000_000
EVERYDAY = {
    "pressure": [81_570_600, 135_951_000, 299_092_200, 100_000_000],
    "flow": [60_000, 90_000],
    "volume": [1_000_000, 20_000],
    "duration": [3_600_000, 86_400_000],
}


@functools.cache
def _literals() -> Mapping[str, list[int]]:
    """By dimension, the ticks at which some comparison of some rule turns."""
    fields = field_table().fields
    found: dict[str, set[int]] = defaultdict(set)
    for rule in load("all").order_rules:
        for instance in rule.instances:
            for atom in atoms(instance.condition):
                if isinstance(atom, Compare):
                    for term in atom.terms:
                        field = fields.get(term.paths[0])  # none for the time of checking
                        dimension = field.dimension if field else None
                        found[dimension or "instant"].add(atom.bound // term.coefficient)
                elif isinstance(atom, Multiple):
                    found[fields[atom.path].dimension or ""].add(atom.step)
    return {key: sorted({*values, *EVERYDAY.get(key, [])}) for key, values in found.items()}


def _values(field: Field, literals: Mapping[str, list[int]]) -> st.SearchStrategy[int | str]:
    if field.kind == "choice":
        return st.sampled_from(field.choices)
    if field.kind == "zone":
        return st.sampled_from(["America/Chicago", "Europe/London", "UTC"])
    if field.kind in {"text", "label"}:
        return st.just("a text")
    if field.kind == "count":
        return st.integers(0, 9)
    pool = literals.get(field.dimension or "instant", [NOW])
    low, high = (field.lowest, field.highest) if field.dimension else (0, 2 * NOW)
    near = sorted({v + d for v in pool for d in (-1, 0, 1) if low <= v + d <= high})
    return st.sampled_from(near) if near else st.integers(low, high)


def _leaf(field: Field, literals: Mapping[str, list[int]]) -> st.SearchStrategy[Leaf]:
    unit = st.sampled_from(tuple(field.decimals)) if field.decimals else st.none()
    flags = st.frozensets(st.sampled_from(sorted(FLAGS)), max_size=2)
    path = st.just(field.path)
    known = st.builds(
        Leaf, path, st.just(State.KNOWN), _values(field, literals), unit, st.just("x"), flags
    )
    return st.one_of(
        known,
        known,
        st.just(Leaf(field.path)),
        st.builds(Leaf, path, st.just(State.UNREADABLE), st.none(), st.none(), st.just("x"), flags),
    )


def settings(paths: tuple[str, ...]) -> st.SearchStrategy[dict[str, Leaf]]:
    """All the leaves of an order, of which only those at `paths` may be written."""
    absent = {path: st.just(Leaf(path)) for path in field_table().fields}
    return st.fixed_dictionaries({**absent, **_leaves(paths)})


# A strategy is made once: to make one takes longer than to draw from it.
@functools.cache
def _leaf_at(path: str) -> st.SearchStrategy[Leaf]:
    return _leaf(field_table().fields[path], _literals())


def _leaves(paths: tuple[str, ...]) -> dict[str, st.SearchStrategy[Leaf]]:
    return {path: _leaf_at(path) for path in paths}


@functools.cache
def orders() -> st.SearchStrategy[dict[str, Leaf]]:
    """All the leaves of an order, and the time of checking."""
    leaves = _leaves(tuple(field_table().fields))
    now = st.just(Leaf(CHECKED_AT, State.KNOWN, NOW))
    return st.fixed_dictionaries({**leaves, CHECKED_AT: now})


_FACTORS = st.lists(
    st.sampled_from([None, 1, 1, 2, 10, 100]),
    min_size=len(field_table().fields),
    max_size=len(field_table().fields),
)
"""How many times as much each setting is in the later order; None where it is another."""


@st.composite
def changed_orders(draw) -> dict[str, Leaf]:
    """Two orders, the earlier under `before.`: many leaves the same, or some times as much."""
    later, earlier = draw(orders()), draw(orders())
    factors = draw(_FACTORS)
    for (path, leaf), factor in zip(later.items(), factors, strict=False):
        if factor is None or path == CHECKED_AT:
            continue
        field = field_table().fields[path]
        if factor == 1:
            earlier[path] = leaf
        elif isinstance(leaf.value, int) and field.lowest <= leaf.value * factor <= field.highest:
            earlier[path] = replace(leaf, value=leaf.value * factor)
    now = later.pop(CHECKED_AT)
    del earlier[CHECKED_AT]
    first, second = (earlier, later) if draw(st.booleans()) else (later, earlier)
    return {**with_earlier(second, first), CHECKED_AT: now}
