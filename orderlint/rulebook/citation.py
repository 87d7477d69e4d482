"""The sources of rules and values, as findings show them. Never how one is read."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable


class Source(NamedTuple):
    """The source of a rule or a value.

    `kind` is logic, common-practice, local-policy or published; `text` is the citation as shown,
    with its `note` where it has one.
    """

    kind: str
    text: str
    note: str | None = None


def cited(sources: Iterable[Source]) -> str:
    """Sources as one text."""
    return "; ".join(source.text for source in sources)
