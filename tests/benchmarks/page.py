"""The page of results: sections with tables, and where a peer did better. Measures nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence


@dataclass(frozen=True, slots=True)
class Comparison:
    """How many times as much of `kind` (time, memory) as a peer our `subject` takes."""

    subject: str
    kind: str
    peer: str
    factor: float


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the page: a table below some words, with what it compares.

    `absent` are the peers that were not measured, each with the reason.
    """

    title: str
    words: str
    head: tuple[str, ...]
    rows: list[tuple[str, ...]]
    comparisons: tuple[Comparison, ...] = ()
    absent: tuple[str, ...] = ()

    def __str__(self) -> str:
        missing = [f"Not measured: {each}." for each in self.absent]
        shown = [table(self.head, self.rows)] if self.rows else []
        return "\n\n".join([f"## {self.title}", self.words, *shown, *missing])


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table; the first column is text, all others are figures."""
    rule = ["---", *["---:"] * (len(head) - 1)]
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, rule, *rows))


def page(machine: str, sections: Sequence[Section]) -> str:
    """The whole page."""
    return "\n\n".join(["# Benchmarks", machine, *map(str, sections), *_behind(sections)]) + "\n"


def _behind(sections: Sequence[Section]) -> Iterator[str]:
    """Where we lose, from the figures alone."""
    compared = [each for section in sections for each in section.comparisons]
    lost = sorted((each for each in compared if each.factor > 1), key=lambda each: -each.factor)
    yield "## Where a peer does better"
    yield f"Of {len(compared)} comparisons above, {len(lost)} go against orderlint."
    if lost:
        rows = [(e.subject, e.kind, e.peer, f"{figure(e.factor)} ×") for e in lost]
        yield table(("what", "of", "peer", "orderlint takes"), rows)


def figure(value: float) -> str:
    """A number with three digits that count, thousands apart."""
    if value >= 100:
        return f"{value:,.0f}"
    if value >= 10:
        return f"{value:.1f}"
    return f"{value:.2f}" if value >= 0.1 else f"{value:.2g}"


def with_spread(middle: float, half: tuple[float, float]) -> str:
    """A median with the middle half of the runs: `4.2 (4.0–4.7)`."""
    low, high = sorted(half)
    return f"{figure(middle)} ({figure(low)}–{figure(high)})"
