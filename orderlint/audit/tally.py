"""A tally: numbers under names, of one part of a table or of several added up.

Parts are joined by addition in any order, and kept as plain data. Nothing here looks at rows.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

Key: TypeAlias = tuple[str, ...]
"""The name of a count, such as ("rule", "0", "drain-margin-small", "broken")."""

FIRST = 20
"""How many refused rows are listed."""


class Drawn(NamedTuple):
    """A row drawn for a rule: how often its order was met, and where first.

    `file` is the number of the file, `row` that of the row in it, from 1.
    """

    times: int
    file: int
    row: int
    cells: Mapping[str, str]


class RefusedAt(NamedTuple):
    """A refused row, ordered by its place."""

    file: int
    row: int
    column: str
    reason: str


class Tally:
    """What is counted. `drawn` has, by rule, rows by their key; the lowest keys stay."""

    def __init__(self) -> None:
        self.counts: Counter[Key] = Counter()
        self.refused: list[RefusedAt] = []
        self.drawn: dict[str, dict[int, Drawn]] = {}

    def add(self, other: Tally, most: int) -> None:
        """Add what another part has counted, which keeps its own."""
        self.counts.update(other.counts)
        self.refused = sorted([*self.refused, *other.refused])[:FIRST]
        for rule, rows in other.drawn.items():
            own = self.drawn.setdefault(rule, {})
            for key, row in rows.items():
                own[key] = _joined(own[key], row) if key in own else row
            self.drawn[rule] = {key: own[key] for key in sorted(own)[:most]}

    def as_data(self) -> dict[str, Any]:
        """The tally as what JSON can hold, the same for the same counts."""
        return {
            "counts": [[*key, count] for key, count in sorted(self.counts.items())],
            "refused": [[*row] for row in self.refused],
            "drawn": {
                rule: [[key, *row[:3], dict(row.cells)] for key, row in sorted(rows.items())]
                for rule, rows in sorted(self.drawn.items())
            },
        }


def _joined(one: Drawn, other: Drawn) -> Drawn:
    """The same order met twice: it stands where it was met first."""
    first = min(one, other, key=lambda row: (row.file, row.row))
    return first._replace(times=one.times + other.times)


def tally_of(data: Mapping[str, Any]) -> Tally:
    """The tally that `as_data` made such data of."""
    tally = Tally()
    tally.counts.update({tuple(key): count for *key, count in data["counts"]})
    tally.refused = [RefusedAt(*row) for row in data["refused"]]
    tally.drawn = {
        rule: {key: Drawn(*row) for key, *row in rows} for rule, rows in data["drawn"].items()
    }
    return tally
