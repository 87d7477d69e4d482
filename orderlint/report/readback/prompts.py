"""The prompts of a read-back: where to stand, questions, and why an entry is not taken.

INVARIANT: the words depend on what is asked and entered, and on nothing that is ordered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.assessment import findings_of_faults
from orderlint.field import in_sentence
from orderlint.readback.checklist import ADDITIVE_NAME, STATIONS
from orderlint.readback.dialogue import NOBODY, PEOPLE
from orderlint.readback.findings import INDEPENDENT
from orderlint.readback.observed import nothing_seen, seen_table
from orderlint.schema_check import join_or

if TYPE_CHECKING:
    from orderlint.finding import Fault
    from orderlint.readback.dialogue import Entered, Question
    from orderlint.rulebook.rule import Rulebook

OPENING = (
    "Put the order away. Enter what you see, each number with the unit that is shown beside it. "
    "Type “not set” where there is nothing to see, “back” for the entry before, “stop” to go on "
    "later, “help” for these words."
)
PEOPLE_HEADING = "Who keys in and who checks"
AGAIN = "All is entered. Look once more, without the order, and enter what you see there now."
EMPTY = "Nothing was entered. Enter what you see, or “not set” where there is nothing."
NO_ONE = "Nothing was entered. Enter a role or a name."
TOO_LONG = "That is too long for one setting."
HIDDEN = "That has characters that do not show, or is no text."
DONE = "All is entered, and it is compared with the order now."
STOPPED = "Stopped; nothing was compared."
NOTHING_YET = f"{STOPPED} Nothing had been entered."
NOT_READ = "Nobody read the whole comparison, so what was entered is still kept in"
NOT_BACK = "There is no entry before this one to go back to."
SAME_PERSON = "Whoever keyed the settings in cannot check them. Who else does?"
_PROMPTS = {
    "keyed_by": "Who keyed the settings in, by role or name?",
    "seen_by": "Who checks now, alone, by role or name?",
    "irrigation.fluid": "Irrigation fluid, as the label has it, or “not set” if no bag hangs:",
    ADDITIVE_NAME: "Additive, as the label has it, or “none”:",
}


def station_words(asked: Question) -> str:
    """Where to stand for a question."""
    if asked.path in PEOPLE:
        return PEOPLE_HEADING
    return next(station.where for station in STATIONS if asked.path in station.paths)


def prompt(asked: Question) -> str:
    """A question. At a second look it names the setting, as at the first."""
    if asked.path in _PROMPTS:
        return _PROMPTS[asked.path]
    field = seen_table().fields[asked.path]
    if field.kind == "quantity":
        return f"{field.name}, number and unit:"
    if field.kind == "choice":
        return f"{field.name} ({join_or(field.choices)}):"
    return f"{field.name}, as the label has it:"


def nothing_entered(asked: Question) -> str:
    """Why Enter alone is no answer."""
    return NO_ONE if asked.path in PEOPLE else EMPTY


def objection_words(fault: Fault, rulebook: Rulebook) -> str:
    """Why an entry is not taken, and what form one has."""
    if fault.rule == INDEPENDENT:
        return SAME_PERSON
    if fault.rule == NOBODY:
        return NO_ONE
    # A policy may suppress a finding; why an entry was not taken is said in any case.
    findings = findings_of_faults((fault,), nothing_seen(fault.place.file), rulebook)
    said = " ".join(finding.says for finding in findings)
    return f"{said} Enter {fault.details['form']}."


def resumed(entered: Entered) -> str:
    """Whose read-back is resumed, as somebody else may resume it."""
    keyed, by = (entered.first.get(person, "nobody yet") for person in PEOPLE)
    return (
        f"Going on with a read-back that was stopped. Keyed in by: {keyed}. Checked by: {by}. "
        "Whoever else checks begins anew, without that file."
    )


def kept_words(file: str) -> str:
    """What is shown when a read-back stops, before the command that resumes it."""
    return f"{STOPPED} What was entered is kept in {file}. Go on with:"


def begun_already(file: str) -> str:
    """Why nothing is asked where an earlier read-back was stopped, before the same command."""
    return (
        f"A read-back was stopped here, and what was entered is kept in {file}. Remove that file "
        "to begin anew, or go on with:"
    )


def not_kept(reason: str) -> str:
    """What is said when what is entered cannot be kept."""
    return f"What is entered cannot be kept: {reason} When you stop, it is shown, to be copied."


def lost_words(entries: dict[str, str]) -> list[str]:
    """What was entered, where it could be kept nowhere else."""
    lines = [f"{in_sentence(seen_table().display_name(p))}: {text}" for p, text in entries.items()]
    return [f"{STOPPED} What was entered could not be kept. It was:", *lines]
