"""Orders of levels only, drawn by hypothesis: equal, adjacent, reversed and far apart."""

from __future__ import annotations

from hypothesis import strategies as st

from orderlint.fields import field_table
from orderlint.order import Leaf, State

THERAPIES = ("irrigation", "drainage", "monitoring")
# Near enough to one another that equal, adjacent and reversed levels are common; and far away.
LEVELS = st.integers(-4, 4) | st.integers(-(10**10), 10**10)
# Lower pause limit, upper pause limit, treat-above level, drain height.
ORDERED = st.tuples(LEVELS, LEVELS, LEVELS, st.none() | LEVELS)


def leaves_of(**known: int | str) -> dict[str, Leaf]:
    """Every leaf of an order, absent but for those given (`pause_upper` for pause.upper)."""
    leaves = {path: Leaf(path) for path in field_table().fields}
    for name, value in known.items():
        path = next(path for path in leaves if path.replace(".", "_") == name)
        leaves[path] = Leaf(path, State.KNOWN, value, text=str(value))
    return leaves


def order_of(therapy: str, levels: tuple[int, int, int, int | None]) -> dict[str, Leaf]:
    lower, upper, treat_above, height = levels
    leaves = leaves_of(therapy=therapy, pause_lower=lower, pause_upper=upper)
    if therapy != "monitoring":
        leaves |= {"treat_above": Leaf("treat_above", State.KNOWN, treat_above)}
    if height is not None:
        leaves |= {
            "drainage.height": Leaf("drainage.height", State.KNOWN, height),
            "drainage.scale": Leaf("drainage.scale", State.KNOWN, "mmHg"),
        }
    return leaves
