"""An order: every leaf absent, unreadable or known, with its place, and the faults of its file.

Holds what was read. Never reads, and never compares two leaves.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import BEFORE
from orderlint.finding import Fault, NotUnderstood, Place
from orderlint.reading import quantity_text, unsafe_notation
from orderlint.reading.unsafe_notation import FILLER, UnsafeNotation
from orderlint.units import SMALL_L, SPELLING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.mentions import Mention


UNIT_LEFT_OUT = "unit left out"
"""The flag of a bare number in a field that has one unit."""
CM_ALONE = "cm alone"
CLOCK_PUT_BACK = "clock put back"
FLAGS = frozenset(
    {
        *(*quantity_text.FLAGS, *unsafe_notation.FLAGS, FILLER),
        *(SPELLING, SMALL_L, UNIT_LEFT_OUT, "abbreviated", CM_ALONE, CLOCK_PUT_BACK),
    }
)
"""Every flag that a leaf can have: of its text, unit or choice, or of a time in its zone."""

SIGNING_FIELDS = frozenset(
    {"id", "revision", "status", "written", "starts", "review_by", "prescriber", "zone"}
)
"""Fields written by whoever signs an order, whatever it was made from."""
OPTIONAL_SIGNING_FIELDS = frozenset({"zone"})
"""The signing fields that an order may omit: its times carry their own offsets."""


class State(enum.Enum):
    """Whether a leaf is absent, written but unreadable, or has a value."""

    ABSENT = "absent"
    UNREADABLE = "unreadable"
    KNOWN = "known"


INSTRUCTING_TEXTS = ("titration.goal", "notify.events", "stop_when", "instructions")
"""The free texts that can say what is to be done, and so something else than the settings."""
READ_TEXTS = ("indication", *INSTRUCTING_TEXTS)
"""Those, and the text that can say something else of the patient."""


class LocatedMention(NamedTuple):
    """A mention of a setting or an act in a free text, and its place in the file."""

    mention: Mention
    place: Place


class LocatedNotation(NamedTuple):
    """Unsafe notation in a free text, and its place in the file."""

    notation: UnsafeNotation
    place: Place


@dataclass(frozen=True, slots=True)
class Leaf:
    """One field of an order.

    `value` is ticks for a quantity, milliseconds since 1970 UTC for an instant, an integer for a
    count, otherwise the canonical choice or the text; None unless known. `unit` is the standard
    symbol of the unit written. `text` is as written, or of a text what was written in place of it,
    such as a drug in place of the section with its name. `flags` name unsafe notation, also in an
    unreadable leaf. `unsafe_notation` locates it in a free text, first to last; `mentions` are what
    an instructing text mentions of the settings. `to_be_written` is true of what a blank of an
    order set stands for: its text is not yet there. `from_policy` is true of a line of the policy's
    standing orders, of which the order itself says nothing.
    """

    path: str
    state: State = State.ABSENT
    value: int | str | None = None
    unit: str | None = None
    text: str = ""
    flags: frozenset[str] = frozenset()
    place: Place | None = None
    unsafe_notation: tuple[LocatedNotation, ...] = ()
    mentions: tuple[LocatedMention, ...] = ()
    to_be_written: bool = False
    from_policy: bool = False

    @property
    def given(self) -> bool:
        """True if anything is written, readable or not."""
        return self.state is not State.ABSENT

    @property
    def has_words(self) -> bool:
        """True if there is a text in which something can be named."""
        return bool(self.text) and not self.to_be_written

    @property
    def known(self) -> bool:
        """True if the leaf has a value."""
        return self.state is State.KNOWN

    @property
    def number(self) -> int | None:
        """The value of a quantity, an instant or a count; None unless known."""
        return self.value if isinstance(self.value, int) else None


class Note(NamedTuple):
    """A free text beside the fields of an order: its name, and as instructions are read."""

    name: str
    leaf: Leaf


@dataclass(frozen=True, slots=True)
class Order:
    """Every leaf of an order by path, the faults met in reading, and the place of each path.

    `notes` and `not_understood` are what a FHIR resource holds beside its settings. Settings seen
    at the bedside are held in the same type.
    """

    file: str
    leaves: Mapping[str, Leaf]
    faults: tuple[Fault, ...]
    places: Mapping[str, Place] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = ()

    def place_of(self, path: str) -> Place:
        """Return where `path` is written, or the nearest section that should contain it."""
        while path and path not in self.places:
            path = path.rpartition(".")[0]
        return self.places.get(path, Place(self.file, 1, 1))


def with_earlier(later: Mapping[str, Leaf], earlier: Mapping[str, Leaf]) -> Mapping[str, Leaf]:
    """Join the leaves of an order with those of an earlier one, whose paths get the prefix
    `before.`.
    """
    before = (replace(leaf, path=f"{BEFORE}{path}") for path, leaf in earlier.items())
    return {**later, **{leaf.path: leaf for leaf in before}}
