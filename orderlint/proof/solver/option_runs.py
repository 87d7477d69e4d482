"""Options in a row whose values grow by the same step, so that the solver is told of few things."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence


class Run(NamedTuple):
    """Options in a row, from first to last, of which the value grows by the same step."""

    first: int
    last: int
    value: int
    step: int


def runs(listed: Sequence[tuple[int, int]]) -> list[Run]:
    """Numbers by the index of their option, as runs of options in a row with one step."""
    found: list[Run] = []
    for index, number in listed:
        run = found[-1] if found else None
        step = number - (run.value + run.step * (run.last - run.first)) if run else 0
        if run and index == run.last + 1 and (run.first == run.last or step == run.step):
            found[-1] = Run(run.first, index, run.value, step)
        else:
            found.append(Run(index, index, number, 0))
    return found
