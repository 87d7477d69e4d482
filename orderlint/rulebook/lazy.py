"""Mappings and scopes that are made when they are first looked into. Never what is in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any

    from orderlint.language.types import Scope

T = TypeVar("T")


class Later(Mapping[str, T]):
    """A mapping that is made when it is first looked into."""

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], Mapping[str, T]]) -> None:
        self._make = make
        self._made: Mapping[str, T] | None = None

    def _whole(self) -> Mapping[str, T]:
        if self._made is None:
            self._made = self._make()
        return self._made

    def __getitem__(self, key: str) -> T:
        return self._whole()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._whole())

    def __len__(self) -> int:
        return len(self._whole())

    def __reduce__(self) -> tuple[Any, ...]:
        return dict, (dict(self),)


class ScopeLater:
    """A scope that is made when a name is first looked up in it, which only words do."""

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], Scope]) -> None:
        self._make = make
        self._made: Scope | None = None

    def whole(self) -> Scope:
        """The scope itself."""
        if self._made is None:
            self._made = self._make()
        return self._made

    def __getattr__(self, name: str) -> Any:
        return getattr(self.whole(), name)

    def __eq__(self, other: object) -> bool:
        return self.whole() == (other.whole() if isinstance(other, ScopeLater) else other)

    def __hash__(self) -> int:  # as of a scope, which has mappings and raises TypeError
        return hash(self.whole())

    def __reduce__(self) -> tuple[Any, ...]:
        return _itself, (self.whole(),)


def _itself(scope: Scope) -> Scope:
    return scope
