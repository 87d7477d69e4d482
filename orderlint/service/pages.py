"""Keeps what is behind the link of a card for a while: in memory, under a name nobody can guess.

Bounded in number, in size and in age. Never on disk, and never what a page looks like.
"""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_PAGES = 1_000
MOST_CHARACTERS = 16_000_000
"""Of all texts together."""
LONGEST_KEPT = 3_600
"""Seconds: a card is read when it is shown."""


class KeptPage(NamedTuple):
    """What a page is made of: the text of a Bundle, and which of its orders is meant (from 0).

    `at` is the instant of checking in milliseconds since 1970 UTC. `why` says why nothing in the
    text could be checked; '' where that was possible. `of` is how many pages share the text.
    `patient` is the id of the one whose record was open.
    """

    text: str
    number: int
    at: int
    why: str = ""
    of: int = 1
    patient: str = ""

    @property
    def characters(self) -> int:
        """The share of the page in the text."""
        return len(self.text) // self.of


class KeptPages:
    """Pages by their names. `clock` gives seconds, and never goes back."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._pages: OrderedDict[str, tuple[float, KeptPage]] = OrderedDict()
        self._characters = 0

    def keep(self, page: KeptPage) -> str:
        """The new name of a page; the oldest make room for it."""
        name = secrets.token_urlsafe(24)
        with self._lock:
            self._pages[name] = (self._clock() + LONGEST_KEPT, page)
            self._characters += page.characters
            self._make_room()
        return name

    def get(self, name: str) -> KeptPage | None:
        """The page of a name; None if there is none, or no longer."""
        with self._lock:
            self._make_room()
            found = self._pages.get(name)
        return found[1] if found else None

    def _make_room(self) -> None:
        while self._pages and self._is_oldest_to_go():
            _, (_, page) = self._pages.popitem(last=False)
            self._characters -= page.characters

    def _is_oldest_to_go(self) -> bool:
        until, _ = next(iter(self._pages.values()))
        too_many = len(self._pages) > MOST_PAGES or self._characters > MOST_CHARACTERS
        return too_many or until <= self._clock()
