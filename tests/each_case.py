"""Many cases of a millisecond in one test, whose failure names each that fails.

Of thousands of tests that each try one small thing, most of the time goes into counting them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

Item = TypeVar("Item")


def holds_of_each(items: Iterable[Item], check: Callable[[Item], None]) -> None:
    """Check every item though some fail; the failure names each that does."""
    failed: list[BaseException] = []
    for item in items:
        try:
            check(item)
        except (Exception, pytest.fail.Exception) as error:
            error.add_note(f"of {item}")
            failed.append(error)
    if failed:
        message = "; ".join(error.__notes__[-1] for error in failed)
        raise BaseExceptionGroup(message, failed)


def of_each(names: str | Sequence[str], cases: Iterable[Any]) -> Callable[..., Callable[[], None]]:
    """Written as `parametrize` is, it makes one test of all the cases; no fixture is asked for."""
    each = list(cases)
    assert each
    keys = [names] if isinstance(names, str) else names

    def made(check: Callable[..., None]) -> Callable[[], None]:
        def test() -> None:
            holds_of_each(each, tried)

        def tried(case: Any) -> None:
            values = (case,) if isinstance(names, str) else case
            check(**dict(zip(keys, values, strict=True)))

        test.__name__, test.__doc__ = check.__name__, check.__doc__
        test.__module__ = check.__module__
        return test

    return made
