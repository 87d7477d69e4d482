"""The effort that all questions of one run share, so that it ends, and who watches it.

Never what is asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

T = TypeVar("T")

MILLION = 1_000_000
USUAL = 100
"""Millions of steps for one run; a processor takes about a minute for them."""
SPENT = "the effort for the whole run was used up"
"""Why a question was given up for which there was no effort left."""


class Budget:
    """What is left for the questions to come, in z3's steps: the same on every machine."""

    CORNER = 250
    """The steps that take as long as to evaluate a condition at one corner."""
    QUESTION = 1_000
    """The steps that take as long as to put a question to z3."""

    def __init__(self, millions: int = USUAL, whole: Budget | None = None) -> None:
        """With `whole`, a part of it: what is spent is taken from both."""
        self._left = millions * MILLION
        self._whole = whole

    @property
    def left(self) -> int:
        """Steps that can still be taken."""
        return self._left if self._whole is None else min(self._left, self._whole.left)

    def spend(self, steps: int) -> None:
        """Take from what is left."""
        self._left -= steps
        if self._whole is not None:
            self._whole.spend(steps)

    @property
    def is_spent(self) -> bool:
        """Whether nothing is left, so that nothing more is asked."""
        return self.left <= 0


class Watched(Protocol):
    """Yields what it is given again, so that a caller can show how far a run has come."""

    def __call__(self, items: Sequence[T], /) -> Iterable[T]:
        """Each in turn."""
