"""Runs one read-back: from a file or from answers to a comparison, with the answers saved.

Imported when the verb runs. Never a question, and never its wording.
"""

from __future__ import annotations

import contextlib
import shlex
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from orderlint.cli.exit_status import USAGE
from orderlint.cli.inputs import read_content, read_input
from orderlint.cli.output_files import write_file
from orderlint.cli.outputs import CannotWrite, print_errors
from orderlint.cli.readback_prompts import ask_all
from orderlint.finding import Place, Refused
from orderlint.readback import read_back
from orderlint.readback.dialogue import SET_ALONE, Entered, first_of_two_looks, settings_seen
from orderlint.readback.observed import (
    is_nothing,
    judge_entry,
    nothing_seen,
    read_seen,
    with_entry,
)
from orderlint.readback.saved_answers import KEPT, entered_from, saved_text
from orderlint.reading import read
from orderlint.report.layout import wrap_paragraph
from orderlint.report.readback import prompts as words
from orderlint.report.words import instant_words

if TYPE_CHECKING:
    from orderlint.cli.readback_prompts import Keep, Stopped
    from orderlint.order import Order
    from orderlint.readback import ReadBack
    from orderlint.rulebook.rule import Rulebook


def compare_given(
    order: Order, seen_file: str | None, settings: dict[str, str], rulebook: Rulebook, at: int
) -> ReadBack:
    """The comparison with what a file and --set give."""
    seen = nothing_seen(SET_ALONE)
    if seen_file is not None:
        seen = read_seen(read_content(seen_file).read("settings-seen"))
    for path, text in settings.items():
        judged = judge_entry(path, text, Place(SET_ALONE, 1, 1))
        if not is_nothing(text) and judged.fault is not None:
            raise Refused(words.objection_words(judged.fault, rulebook), f"--set {path}")
        seen = with_entry(seen, path, None if is_nothing(text) else judged.leaf)
    return read_back(order, seen, at, rulebook)


def compare_asked(  # noqa: PLR0913 - what a comparison needs, and where it is kept
    order: Order, digest: str, rulebook: Rulebook, at: int, kept: str, *, new: bool
) -> tuple[ReadBack, int]:
    """The comparison with what is entered now, and its instant."""
    source = click.get_current_context().get_parameter_source("at")
    fixed = source is not click.core.ParameterSource.DEFAULT
    if new:
        entered = _begun(at, fixed=fixed)
    else:
        entered = entered_from(read(read_input(kept), kept, KEPT), digest)
    entered = ask_all(entered, order, rulebook, _keeping(kept, digest))
    if not fixed:
        at = time.time_ns() // 10**9 * 1000
    return read_back(order, settings_seen(entered), at, rulebook, first_of_two_looks(entered)), at


def _begun(at: int, *, fixed: bool) -> Entered:
    """Nothing entered yet, as of now or, with --at, as of then."""
    now = instant_words(at) if fixed else datetime.now().astimezone().isoformat(timespec="seconds")
    return Entered(now, {}, {})


def _keeping(kept: str, digest: str) -> Keep:
    return lambda entered: write_file(saved_text(entered, digest), kept, private=True)


def report_stopped(stopped: Stopped, file: str, digest: str, kept: str, policy: str | None) -> int:
    """Say where what was entered is kept or, where it cannot be, what it was."""
    entered = stopped.entered
    try:
        if entered.first:
            _keeping(kept, digest)(entered)
            _tell(words.kept_words(kept), _again(file, kept, policy))
        else:
            _tell(words.NOTHING_YET)
    except CannotWrite:
        _tell(*words.lost_words(dict(entered.last)))
    return stopped.status


def report_begun(file: str, kept: str, policy: str | None) -> int:
    """Say that answers are saved already; nothing is asked, so that they are not overwritten."""
    _tell(words.begun_already(kept), _again(file, kept, policy))
    return USAGE


def _again(file: str, kept: str, policy: str | None) -> str:
    """The command that goes on with what is kept."""
    under = ["--policy", policy] if policy else []
    return shlex.join(["orderlint", "readback", file, *under, "--resume", kept])


def _tell(*texts: str) -> None:
    """Paragraphs on standard error, after a prompt; a command stays on one line, to be copied."""
    folded = (text if text.startswith("orderlint ") else wrap_paragraph(text, 79) for text in texts)
    print_errors("", *(line for text in folded for line in text.split("\n")))


def discard_answers(kept: str, *, whole: bool) -> None:
    """Delete the saved answers if the whole report was written; else say where they are."""
    if whole:
        with contextlib.suppress(OSError):
            Path(kept).unlink()
    else:
        _tell(f"{words.NOT_READ} {kept}.")
