"""Runs one read-back: from a file or from answers to a comparison, with the answers kept.

Imported when the verb runs. Never a question, and never its wording.
"""

from __future__ import annotations

import shlex
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from orderlint.cli.inputs import read_content
from orderlint.cli.options import clock_of, present
from orderlint.cli.outputs import print_errors
from orderlint.cli.readback_prompts import ask_all, ask_people, say
from orderlint.cli.readback_resume import choose, known_as
from orderlint.finding import Place, Refused
from orderlint.own_files import CannotWrite
from orderlint.readback import ReadBack, dialogue, observed, read_back
from orderlint.readback.findings import longest_age
from orderlint.readback.saved_answers import Saved, resume, same_people, saved_text
from orderlint.report.readback import prompts as words
from orderlint.report.words import instant_words
from orderlint.report.wrapping import wrap_paragraph

if TYPE_CHECKING:
    from orderlint.cli.kept_files import KeptFolder
    from orderlint.order import Order
    from orderlint.rulebook.rule import Rulebook


def compare_given(
    order: Order, seen_file: str | None, settings: dict[str, str], rulebook: Rulebook, at: int
) -> ReadBack:
    """The comparison with what a file and --set give."""
    seen = observed.nothing_seen(dialogue.SET_ALONE)
    if seen_file is not None:
        seen = observed.read_seen(read_content(seen_file).read("settings-seen"))
    for path, text in settings.items():
        judged = observed.judge_entry(path, text, Place(dialogue.SET_ALONE, 1, 1))
        if not observed.is_nothing(text) and judged.fault is not None:
            raise Refused(words.objection_words(judged.fault, rulebook), f"--set {path}")
        seen = observed.with_entry(seen, path, None if observed.is_nothing(text) else judged.leaf)
    return read_back(order, seen, at, rulebook)


class Ordered(NamedTuple):
    """The order that is read back, and under what: the files as they were named."""

    file: str
    policy: str | None
    concept_map: str | None
    order: Order
    digest: str
    rulebook: Rulebook


class Session:
    """One read-back at the bedside: what is entered so far, and the file that keeps it."""

    def __init__(self, of: Ordered, folder: KeptFolder, at: int) -> None:
        self._clock = clock_of(at)
        self._of, self._folder = of, folder
        self._kept = folder.new(of.digest)
        self._entered = dialogue.Entered(self._now(), {}, {})

    def ask(self, resumed: str | None) -> None:
        """Ask until all is entered. Raises NoMore and Refused.

        `resumed` is the kept file to go on with, '' for the latest of this order, None where the
        nurse is asked.
        """
        of = self._of
        self._begin(resumed)
        self._entered = ask_all(self._entered, of.order, of.rulebook, self._keep, self._now)

    def compared(self) -> tuple[ReadBack, int]:
        """The comparison with what was entered, as of now, and its instant."""
        of, entered, at = self._of, self._entered, self._clock()
        looks = dialogue.first_of_two_looks(entered)
        return read_back(of.order, dialogue.settings_seen(entered), at, of.rulebook, looks), at

    def _begin(self, resumed: str | None) -> None:
        """Find out who is there, and what was entered already."""
        of = self._of
        chosen = choose(self._folder, of.file, of.digest, resumed)
        if chosen is None:
            say(words.OPENING)
            return
        self._kept, saved = chosen
        self._entered = saved.entered
        say(words.OPENING)
        now = self._now()
        left = resume(saved.entered, now, of.rulebook)
        entered = ask_people(left.entered, of.rulebook, self._now)
        if same_people(entered, saved.entered):
            longest = longest_age(of.rulebook)
            say("", *words.resumed(entered, left.anew, longest.text if longest else None))
            self._entered = entered
        else:
            say("", words.OTHERS)
            self._kept.close()
            self._kept = self._folder.new(of.digest)
            people = {person: entered.first[person] for person in dialogue.PEOPLE}
            self._entered = dialogue.Entered(now, people, {}, entered.times)

    def _now(self) -> str:
        """The time as it is written: that of --at where it is given."""
        if self._clock is not present:
            return instant_words(self._clock())
        return datetime.now().astimezone().isoformat(timespec="seconds")

    def _keep(self, entered: dialogue.Entered) -> None:
        self._entered = entered
        of = self._of
        self._kept.save(saved_text(Saved(known_as(of.file), of.digest, entered)))

    def tell(self, why: str) -> None:
        """Say how to go on with what is kept or, where it cannot be kept, what was entered."""
        try:
            if self._entered.first:
                self._keep(self._entered)
                _tell(words.kept_words(why), self._again())
            else:
                _tell(words.NOTHING_YET)
        except CannotWrite:
            _tell(*words.unkept_words(why, self._entered.last))

    def _again(self) -> str:
        """The command that goes on with what is kept; the file is named where there are several."""
        of = self._of
        under = ["--policy", of.policy] if of.policy else []
        under += ["--concept-map", of.concept_map] if of.concept_map else []
        several = len(self._folder.names(of.digest)) > 1
        name = [self._kept.name] if several else []
        return shlex.join(["orderlint", "readback", of.file, *under, "--resume", *name])

    def discard(self) -> None:
        """Delete what is kept; where it is still there then, say so."""
        reason = self._kept.discard()
        if reason is not None:
            _tell(words.not_deleted(self._kept.path, reason))

    def close(self) -> None:
        """Let go of the kept file."""
        self._kept.close()


def _tell(*texts: str) -> None:
    """Paragraphs on standard error, after a prompt; a command stays on one line, to be copied."""
    folded = (text if text.startswith("orderlint ") else wrap_paragraph(text, 79) for text in texts)
    print_errors("", *(line for text in folded for line in text.split("\n")))
