"""Findings, their levels and places, and the verdict: the data that every other module uses."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping


_NONE: Mapping[str, Any] = {}


class Level(enum.StrEnum):
    """How much a finding weighs, heaviest first."""

    DO_NOT_START = "do-not-start"
    CLARIFY = "clarify"
    NOTE = "note"

    @property
    def weight(self) -> int:
        """Higher is heavier."""
        return len(Level) - [*Level].index(self)


class Harm(enum.StrEnum):
    """What can come of it if a rule is broken. Of one level, the first of these is shown first."""

    DRUG = "drug"
    RETAINED_FLUID = "retained-fluid"
    REBLEEDING = "rebleeding"
    OVER_DRAINAGE = "over-drainage"
    OTHER = "other"
    THIN_MARGIN = "thin-margin"
    UNITS = "units"
    PAPER = "paper"
    ROUTINE = "routine"

    @property
    def rank(self) -> int:
        """Lower is shown first."""
        return [*Harm].index(self)


class Verdict(enum.StrEnum):
    """The verdict on a document, heaviest first."""

    DO_NOT_START = "do-not-start"
    CLARIFY = "clarify"
    INCOMPLETE = "incomplete"
    NOTE = "note"
    CLEAR = "clear"


class Place(NamedTuple):
    """Where something is written. Line and column count from 1, in characters.

    `element` is the FHIRPath of the element of a FHIR resource; '' in any other file.
    """

    file: str
    line: int
    column: int
    element: str = ""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"

    @property
    def where(self) -> str:
        """The place for people: with the element, if there is one."""
        return f"{self}, {self.element}" if self.element else str(self)


class Refused(Exception):  # noqa: N818 - the tool refuses a file; the file is not an error of ours
    """A file that cannot be read, or is not what it says. Exit status 2, never a finding.

    `place` is where, or only a file name when there is no line to point at; `also` is the other
    place involved, such as the first of two equal keys.
    """

    def __init__(self, message: str, place: Place | str, also: Place | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.place = place
        self.also = also

    def __str__(self) -> str:
        also = f" (the other is at {self.also})" if self.also else ""
        return f"{self.place}: {self.message}{also}"


class RuleFileRefused(Refused):
    """A rule file of the tool's own with a mistake, in a checkout, where it is being changed."""


class Fault(NamedTuple):
    """A mistake that code found. The rule with the id `rule` has the words for it.

    `details` fill the names in these words. `spoils` are the leaves that cannot be read because of
    the mistake.
    """

    rule: str
    path: str
    written: str
    place: Place
    details: Mapping[str, str] = _NONE
    spoils: tuple[str, ...] = ()


class NamedSetting(NamedTuple):
    """A setting that a finding names: its path, display name, text and place."""

    path: str
    name: str
    written: str
    place: Place | None


class Finding(NamedTuple):
    """One thing to put right or to ask about, in words.

    `path` and `name` are the setting it leads with; `also` are the others involved. `place` is
    where the leading setting is written, or where it should have been. `breaks` is the id of the
    rule that an order from a set breaks, where the finding is on the set for that.
    """

    rule: str
    family: str
    level: Level
    path: str
    name: str
    says: str
    written: str
    expected: str
    why: str
    ask: str
    ask_whom: str
    source: str
    place: Place
    also: tuple[NamedSetting, ...] = ()
    breaks: str = ""

    @property
    def about(self) -> str:
        """The rule that a program knows it by: the one that is broken, by an order or by a set."""
        return self.breaks or self.rule


class Unchecked(NamedTuple):
    """A rule that could not be checked, and the settings that are missing for it.

    `why` is the reason in words where it is another than that they are missing.
    """

    rule: str
    level: Level
    missing: tuple[str, ...]
    why: str = ""


class NotUnderstood(NamedTuple):
    """An element of a FHIR resource that may change the order, as it is written, and why it is not
    understood. A setting may stand in it where it `may_hold_setting`; `name` is what it is called.
    """

    element: str
    written: str
    why: str
    place: Place
    may_hold_setting: bool = True
    name: str = "elements of the resource"


class NotChecked(NamedTuple):
    """A free text that is not understood whole, or says something else than the settings."""

    path: str
    name: str
    text: str
    place: Place


class Inactive(NamedTuple):
    """A rule that was not asked, and why."""

    rule: str
    reason: str


class Suppressed(NamedTuple):
    """A finding that the policy suppresses: why, by whom, until when, and where it says so."""

    finding: Finding
    reason: str
    approved_by: str
    until: str
    place: Place


def heaviest_verdict(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict on several documents: the heaviest of theirs, `clear` where there is none."""
    return min(verdicts, key=[*Verdict].index, default=Verdict.CLEAR)


def verdict_by(levels: Collection[Level], hidden: Collection[Level], *, is_open: bool) -> Verdict:
    """The verdict by the heaviest of the levels found; where a rule is unchecked, and the verdict
    `is_open`, at least `incomplete`.

    It is never `clear` if do-not-start is among the `hidden`, of findings that the policy
    suppresses.
    """
    if Level.DO_NOT_START in levels:
        return Verdict.DO_NOT_START
    if Level.CLARIFY in levels:
        return Verdict.CLARIFY
    if is_open:
        return Verdict.INCOMPLETE
    return Verdict.NOTE if levels or Level.DO_NOT_START in hidden else Verdict.CLEAR
