"""What our readers make of the cases of one suite, and the report on it."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Callable

    from orderlint.reading.node import Node

MOST_NAMED = 6
NO_SYNTAX = "This cannot be read as"
"""How a refusal begins where the parser itself takes the text for none of its language."""


@dataclass
class Suite:
    """`found` has, by what became of them and why, the names of cases; `failures` what is wrong."""

    title: str
    found: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    failures: list[str] = field(default_factory=list)

    def add(self, outcome: str, case: str) -> None:
        self.found[outcome].append(case)

    def fail(self, case: str, why: str) -> None:
        self.failures.append(f"{case}: {why}")

    def report(self) -> str:
        total = sum(map(len, self.found.values()))
        lines = [f"{self.title}: {total} cases, {len(self.failures)} failures"]
        if not total:
            self.fail(self.title, "the folder has no case of it")
        by_count = sorted(self.found.items(), key=lambda item: (-len(item[1]), item[0]))
        lines += [f"  {len(names):4} {outcome}{_named(names)}" for outcome, names in by_count]
        return "\n".join([*lines, *(f"  FAILURE {failure}" for failure in self.failures)])


def _named(names: list[str]) -> str:
    return f": {', '.join(names)}" if len(names) <= MOST_NAMED else ""


def outcome_of(reading: Callable[[], Node | None]) -> tuple[Node | None, str]:
    """The tree that was read and "", or None and the message of its refusal."""
    try:
        return reading(), ""
    except Refused as refused:
        return None, refused.message


def reason_of(message: str) -> str:
    """The message of a refusal without what differs from case to case."""
    if message.startswith(NO_SYNTAX):
        return "the parser does not read it"
    message = re.sub(r"^Byte .* is not UTF-8", "A byte is not UTF-8", message)
    message = re.sub(r"U\+.*(?=, which)", "a character", message)
    return message.split(". ")[0].removesuffix(".")
