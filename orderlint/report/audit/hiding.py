"""Hides counts until no small one can be computed from what is shown and what is known of it.

A reader is taken to go through all relations between the counts, over and over, narrowing what each
hidden one can be. Never which counts an audit has, and never a word.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

Key: TypeAlias = "tuple[str, str]"
Bounds: TypeAlias = "tuple[int, int]"

_NO_LIMIT = 1 << 62
_TRIED = 12
"""Counts that are tried, one by one, before the first of them is hidden untried."""
_MOST_EFFORT = 3_000_000
"""Counts of relations that are gone through, in a few seconds, before all is hidden."""
_ROUNDS = 30
"""Times that the relations are gone through; what still moves by then stays as wide as it is."""


class Relation(NamedTuple):
    """`constant` and some counts times their factors: at least 0 or, in an equation, exactly 0.

    `is_count` says that it is a number of orders itself, which nobody is to know where it is small.
    """

    factors: Mapping[Key, int]
    constant: int = 0
    is_equation: bool = False
    is_count: bool = False


def hidden_counts(
    counts: Mapping[Key, int],
    relations: Iterable[Relation],
    min_cell: int,
    costs: Mapping[Key, int],
    together: frozenset[Key] = frozenset(),
) -> frozenset[Key]:
    """Which of the counts are to be hidden: those of 1 to `min_cell` - 1, and what gives them away.

    `costs` has the counts that may be hidden besides; those of a low cost are hidden first.
    Of those `together` one is hidden only with all, as the others would give it away. Where it
    takes too long to find out which, all of these are hidden.
    """
    hiding = _Hiding(counts, relations, min_cell, costs, together)
    try:
        return hiding.found()
    except _TooMuchError:
        small = (key for key, count in counts.items() if hiding.is_small(count))
        return frozenset((*small, *costs))


class _TooMuchError(Exception):
    """More relations were gone through than a report may take."""


@dataclass(slots=True)
class _Hiding:
    counts: Mapping[Key, int]
    relations: Iterable[Relation]
    min_cell: int
    costs: Mapping[Key, int]
    together: frozenset[Key]
    effort: int = 0
    reduced: dict[int, dict[frozenset[Key], Relation]] = field(default_factory=dict)
    of: dict[Key, list[Relation]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # One that does not hold would make bounds contradict each other, and so hide nothing.
        self.relations = tuple(r for r in self.relations if self.holds(r))
        for relation in self.relations:
            for key in relation.factors:
                self.of.setdefault(key, []).append(relation)

    def found(self) -> frozenset[Key]:
        hidden = frozenset(key for key, count in self.counts.items() if self.is_small(count))
        for secret in self.secrets() * 2:  # what hides one may let another be known no more
            hidden = self.covered(secret, hidden)
        return hidden

    def secrets(self) -> list[Relation]:
        """What nobody is to know: every small count, and what else is small."""
        derived = (r for r in self.relations if r.is_count and self.is_small(self.value(r)))
        small = sorted(key for key, count in self.counts.items() if self.is_small(count))
        return [*derived, *(Relation({key: 1}) for key in small)]

    def covered(self, secret: Relation, hidden: frozenset[Key]) -> frozenset[Key]:
        """Add the fewest hidden counts that keep a secret uncertain; none where none can."""
        more = hidden
        while self.is_known(secret, more):
            cover = self.cover_of(secret, more)
            if cover is None:
                return hidden
            more |= self.hidden_with(cover)
        for cover in sorted(more - hidden, key=self.rank, reverse=True):
            less = more - (self.hidden_with(cover) - hidden)
            if not self.is_known(secret, less):
                more = less
        return more

    def is_small(self, count: int) -> bool:
        return 0 < count < self.min_cell

    def holds(self, relation: Relation) -> bool:
        value = self.value(relation)
        return value == 0 if relation.is_equation else value >= 0

    def value(self, relation: Relation) -> int:
        sums = (factor * self.counts[key] for key, factor in relation.factors.items())
        return relation.constant + sum(sums)

    def is_known(self, secret: Relation, hidden: frozenset[Key]) -> bool:
        low, high, _ = _ranges(self.of_hidden(secret, hidden), self.bounds(secret, hidden))
        return max(low, 0) == high

    def cover_of(self, secret: Relation, hidden: frozenset[Key]) -> Key | None:
        """The count to hide next: the first that helps by itself, else the first at all."""
        near = {key for relation in self.near(secret, hidden) for key in relation.factors}
        left = sorted((k for k in near - hidden if k in self.costs), key=self.rank)
        more = {key: hidden | self.hidden_with(key) for key in left[:_TRIED]}
        helps = (key for key in more if not self.is_known(secret, more[key]))
        return next(helps, next(iter(left), None))

    def hidden_with(self, key: Key) -> frozenset[Key]:
        return self.together if key in self.together else frozenset({key})

    def rank(self, key: Key) -> tuple[int, int, Key]:
        return self.costs[key], self.counts[key], key

    def near(self, secret: Relation, hidden: frozenset[Key]) -> Sequence[Relation]:
        """The relations that bear on a secret: those of its counts, and on through hidden ones."""
        found = {id(secret): secret}
        seen: set[Key] = set()
        new = {*secret.factors}
        while new:
            seen |= new
            met = [relation for key in new for relation in self.of.get(key, ())]
            found |= {id(relation): relation for relation in met}
            new = {key for relation in met for key in relation.factors} & hidden - seen
        return [*found.values()]

    def bounds(self, secret: Relation, hidden: frozenset[Key]) -> dict[Key, Bounds]:
        """Between what a reader knows each hidden count near a secret to be."""
        near = (self.of_hidden(relation, hidden) for relation in self.near(secret, hidden))
        relations = [relation for relation in near if relation.factors]
        bounds = {key: self.first_bounds(key) for key in {k for r in relations for k in r.factors}}
        for _ in range(_ROUNDS):
            self.effort += sum(len(relation.factors) for relation in relations)
            if self.effort > _MOST_EFFORT:
                raise _TooMuchError
            moved = {key for relation in relations for key in _narrow(relation, bounds)}
            if not moved:
                break
            relations = [each for each in relations if not moved.isdisjoint(each.factors)]
        return bounds

    def of_hidden(self, relation: Relation, hidden: frozenset[Key]) -> Relation:
        """The same relation between its hidden counts alone: what is shown is a constant."""
        left = hidden.intersection(relation.factors)
        known = self.reduced.setdefault(id(relation), {})
        if left not in known:
            factors = {key: factor for key, factor in relation.factors.items() if key in left}
            shown = (f * self.counts[k] for k, f in relation.factors.items() if k not in left)
            known[left] = relation._replace(
                factors=factors, constant=relation.constant + sum(shown)
            )
        return known[left]

    def first_bounds(self, key: Key) -> Bounds:
        """A hidden count is said to be below the least that is shown, or not to be."""
        return (
            (0, self.min_cell - 1)
            if self.counts[key] < self.min_cell
            else (self.min_cell, _NO_LIMIT)
        )


def _ranges(relation: Relation, bounds: Mapping[Key, Bounds]) -> tuple[int, int, int]:
    """Between what a relation of hidden counts can be, and what one count moves it by at most."""
    low = high = relation.constant
    widest = 0
    for key, factor in relation.factors.items():
        least, most = bounds[key]
        if factor < 0:
            least, most = most, least
        least, most = factor * least, factor * most
        low, high = low + least, high + most
        widest = max(widest, most - least)
    return low, high, widest


def _ends(factor: int, of: Bounds) -> Bounds:
    low, high = of
    return (factor * low, factor * high) if factor > 0 else (factor * high, factor * low)


def _narrow(relation: Relation, bounds: dict[Key, Bounds]) -> Iterator[Key]:
    """Narrow the bounds of hidden counts by a relation, and yield those that it narrows."""
    low, high, widest = _ranges(relation, bounds)
    if high >= widest and (-low >= widest or not relation.is_equation):
        return  # it can narrow no count, as most cannot
    for key, factor in relation.factors.items():
        before = bounds[key]
        least, most = _ends(factor, before)
        room = _room(factor, (low - least, high - most), is_equation=relation.is_equation)
        now = max(before[0], room[0]), min(before[1], room[1])
        if now != before:
            bounds[key] = now
            new = _ends(factor, now)
            low, high = low - least + new[0], high - most + new[1]
            yield key


def _room(factor: int, others: Bounds, *, is_equation: bool) -> Bounds:
    """Between what a count must be for its relation to hold, if the rest of it is `others`."""
    low, high = others
    if factor > 0:
        return -(high // factor), (-low // factor if is_equation else _NO_LIMIT)
    return (-(-low // -factor) if is_equation else 0), high // -factor
