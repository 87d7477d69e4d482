"""What the page keeps while it runs: in memory alone, each thing under a name nobody can guess."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class NewestKept(Generic[T]):
    """At most `most` things; the oldest makes room."""

    most: int
    things: OrderedDict[str, T] = field(default_factory=OrderedDict)
    lock: threading.RLock = field(default_factory=threading.RLock)

    def keep(self, thing: T) -> str:
        """Keep one; its name is returned."""
        name = secrets.token_urlsafe(16)
        with self.lock:
            self.things[name] = thing
            while len(self.things) > self.most:
                self.things.popitem(last=False)
        return name

    def get(self, name: str) -> T | None:
        """The thing of that name; None if none is kept, or no longer."""
        with self.lock:
            return self.things.get(name)

    def change(self, name: str, thing: T) -> None:
        """Keep another thing under a name that there is."""
        with self.lock:
            self.things[name] = thing
