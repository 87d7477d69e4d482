"""Orders drawn by hypothesis: every leaf absent, unreadable or known, in either unit.

Values are drawn at and beside the literals of the rules, where mistakes in a comparison show.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from orderlint.fields import field_table
from orderlint.language.tree import Compare, Multiple, atoms
from orderlint.language.types import CHECKED_AT
from orderlint.order import FLAGS, Leaf, State
from orderlint.rulebook.load import built_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.fields import Field

NOW = 1_772_480_000_000
EVERYDAY = {
    "pressure": [81_570_600, 135_951_000, 299_092_200, 100_000_000],
    "flow": [60_000, 90_000],
    "volume": [1_000_000, 20_000],
    "duration": [3_600_000, 86_400_000],
}


def _literals() -> Mapping[str, list[int]]:
    """By dimension, the ticks at which some comparison of some rule turns."""
    fields = field_table().fields
    found: dict[str, set[int]] = defaultdict(set)
    for rule in built_in().rules.values():
        for instance in rule.instances:
            for atom in atoms(instance.sound):
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


def _leaves(paths: tuple[str, ...]) -> dict[str, st.SearchStrategy[Leaf]]:
    literals, fields = _literals(), field_table().fields
    return {path: _leaf(fields[path], literals) for path in paths}


def orders() -> st.SearchStrategy[dict[str, Leaf]]:
    """All the leaves of an order, and the time of checking."""
    leaves = _leaves(tuple(field_table().fields))
    now = st.just(Leaf(CHECKED_AT, State.KNOWN, NOW))
    return st.fixed_dictionaries({**leaves, CHECKED_AT: now})
