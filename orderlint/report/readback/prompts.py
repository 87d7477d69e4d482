"""The prompts of a read-back: where to stand, questions, and why an entry is not taken.

INVARIANT: the words depend on what is asked and entered, and on nothing that is ordered.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from orderlint.assessment import findings_of_faults
from orderlint.field import in_sentence
from orderlint.readback.checklist import ADDITIVE_NAME, STATIONS
from orderlint.readback.dialogue import NOBODY, PEOPLE, Entered, Question
from orderlint.readback.findings import INDEPENDENT
from orderlint.readback.observed import nothing_seen, seen_table
from orderlint.readback.saved_answers import Saved, settings_kept
from orderlint.report.words import counted
from orderlint.schema_check import join_or

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Fault
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
NOT_SHOWN = "Stopped before the whole comparison was written."
NOT_WRITTEN = "The comparison could not be written."
NOT_READ = "Nobody read the whole comparison."
YES_OR_NO = "Enter yes or no."
OTHERS = (
    "It was somebody else who keyed in or checked, so all is asked anew; what they entered is "
    "still kept."
)
NOTHING_TO_RESUME = (
    "No read-back of this order, as it is now, is kept for going on with. To see all that are "
    "kept: orderlint readback --resume"
)
OTHER_ORDER = "This was entered beside another order, or before the order changed."
NONE_KEPT = "No read-back that was stopped is kept."
KEPT_HEADING = "Read-backs that were stopped, the latest first:"
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


def is_yours(saved: Saved) -> str:
    """The question whether somebody goes on with what is kept."""
    return (
        f"A read-back of this order was stopped. {_whose(saved.entered)} Is it yours, to go on "
        "with? Enter yes, or no to begin anew; what is kept then stays."
    )


def resumed(entered: Entered, anew: tuple[str, ...], longest: str | None) -> list[str]:
    """What counts already of a read-back that goes on, when it was entered, and what does not."""
    kept = [*settings_kept(entered).items()]
    days = [
        f"on {day}: {', '.join(f'{_name(path)} {time[11:16]}' for path, time in of_day)}"
        for day, of_day in itertools.groupby(kept, lambda answer: answer[1][:10])
    ]
    said = ["Going on with a read-back that was stopped."]
    said += [f"Entered already, {'; '.join(days)}."] if days else []
    if anew:
        why = "entered later than now" if longest is None else f"not entered in the last {longest}"
        names = ", ".join(map(_name, anew))
        said.append(f"Asked anew, with what stands beside it, as it was {why}: {names}.")
    return said


def kept_words(why: str) -> str:
    """What is shown when a read-back ends early, before the command that resumes it."""
    return f"{why} What was entered is kept. Go on with:"


def changed_since(saved: Saved) -> str:
    """Why what is kept is left alone, where the order's file is another by now."""
    return (
        f"A read-back of this file was stopped, and the order has changed since, so all is asked "
        f"anew. {_whose(saved.entered)}"
    )


def kept_entry(saved: Saved) -> str:
    """One of the read-backs that are kept."""
    return f"{saved.order}. {_whose(saved.entered)}"


def kept_in(folder: str) -> str:
    """Where the read-backs that were listed are."""
    return f"They are kept in {folder}. Delete there what nobody goes on with."


def not_deleted(file: str, reason: str) -> str:
    """What is said when what is kept could not be deleted after the comparison."""
    return (
        f"What was entered is still in {file}, and could not be deleted: {reason}. Delete it; "
        "it has what was seen at a patient."
    )


def _whose(entered: Entered) -> str:
    keyed, by = (entered.first.get(person, "nobody yet") for person in PEOPLE)
    count = counted(len(settings_kept(entered)), "setting")
    return (
        f"It began at {entered.seen_at}, with {count} entered. Keyed in by: {keyed}. "
        f"Checked by: {by}."
    )


def _name(path: str) -> str:
    return in_sentence(seen_table().display_name(path))


def not_kept(reason: str) -> str:
    """What is said when what is entered cannot be kept."""
    return f"What is entered cannot be kept: {reason} When you stop, it is shown, to be copied."


def unkept_words(why: str, entries: Mapping[str, str]) -> list[str]:
    """What was entered, where it could be kept nowhere else."""
    lines = [f"{_name(path)}: {text}" for path, text in entries.items()]
    return [f"{why} What was entered could not be kept. It was:", *lines]
