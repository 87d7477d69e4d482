"""Site policies made from texts, and refusals held against the place of a mark in the text."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from rule_files import MARK, place_of_mark

from orderlint.finding import Refused
from orderlint.reading import read
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from orderlint.rulebook.rule import Rulebook

LOCAL = "source: {kind: local-policy}"
RULE = """rules:
  - rule: demo
    level: clarify
    require: pause.upper - pause.lower >= wide
    limits: {wide: 8 mmHg}
    says: The band is {pause.lower} to {pause.upper}.
    why: Invented.
    ask: What?
    ask_whom: prescriber
    source: {kind: local-policy}
"""


def site_policy(parts: str) -> str:
    return f"document: site-policy\nformat: 1\ntitle: a demo unit\n{parts}"


def local(parts: str) -> Rulebook:
    """The rulebook under a policy of some parts."""
    return load("order", read(site_policy(parts).encode(), "unit.yaml", "site-policy"))


def refused(parts: str) -> str:
    """The message with which a policy is refused, at the very place of the mark in it."""
    with pytest.raises(Refused) as caught:
        local(parts.replace(MARK, "", 1))
    assert caught.value.place == place_of_mark(site_policy(parts), "unit.yaml")
    return caught.value.message


def suppression(rule: str, **changes: str | None) -> str:
    """A good suppression of one rule with some keys changed, added, or with None left out."""
    keys = {
        "rule": rule,
        "reason": "invented",
        "approved_by": "a committee",
        "until": "2030-01-01T00:00:00Z",
        **changes,
    }
    said = ", ".join(f"{key}: {value}" for key, value in keys.items() if value is not None)
    return f"suppressions:\n  - {{{said}}}\n"
