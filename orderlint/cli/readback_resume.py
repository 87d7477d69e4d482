"""Finds the read-backs that were stopped: the one to go on with, or all of them.

Never what counts of one.
"""

from __future__ import annotations

import os
import shlex

from orderlint.cli.kept_files import InUse, KeptFile, KeptFolder
from orderlint.cli.outputs import print_errors
from orderlint.cli.readback_prompts import ask_yes, say
from orderlint.finding import Refused
from orderlint.readback.saved_answers import KEPT, Saved, saved_from
from orderlint.reading import read
from orderlint.reading.limits import LONG_DIGITS
from orderlint.report.readback import prompts as words
from orderlint.report.visible_text import safe
from orderlint.report.wrapping import wrap_paragraph

_WIDTH = 79


def known_as(file: str) -> str:
    """The name of an order's file from anywhere, as it is kept: as a document may have it."""
    try:
        name = os.path.abspath(file)  # noqa: PTH100 - a folder that is gone has no name
    except OSError:
        name = file
    return LONG_DIGITS.sub("…", safe(name))


def choose(
    folder: KeptFolder, file: str, digest: str, resumed: str | None
) -> tuple[KeptFile, Saved] | None:
    """The kept file to go on with, None to begin anew. Raises Refused and NoMore.

    `resumed` is a file's name, '' for the latest of the order, None where the nurse is asked.
    """
    if resumed:
        return _taken(folder, folder.name_of(resumed), digest)
    found = _latest(folder, digest)
    if found is None:
        if resumed is not None:
            raise Refused(words.NOTHING_TO_RESUME, file)
        _say_if_changed(folder, file, digest)
    elif resumed is None and not _is_wanted(*found):
        return None
    return found


def _is_wanted(kept: KeptFile, saved: Saved) -> bool:
    wanted = False
    try:
        wanted = ask_yes(words.is_yours(saved))
    finally:
        if not wanted:
            kept.close()
    return wanted


def _latest(folder: KeptFolder, digest: str) -> tuple[KeptFile, Saved] | None:
    """The latest that nobody has; what is refused on the way is told."""
    for name in folder.names(digest):
        try:
            return _taken(folder, name, digest)
        except InUse:
            continue
        except Refused as reason:
            print_errors(str(reason))
    return None


def _taken(folder: KeptFolder, name: str, digest: str) -> tuple[KeptFile, Saved]:
    kept = folder.take(name)
    try:
        saved = _saved(folder, name)
        if saved.digest != digest:
            raise Refused(words.OTHER_ORDER, kept.path)
    except BaseException:
        kept.close()
        raise
    return kept, saved


def _saved(folder: KeptFolder, name: str) -> Saved:
    return saved_from(read(folder.read(name), str(folder.path / name), KEPT))


def _say_if_changed(folder: KeptFolder, file: str, digest: str) -> None:
    """Say where a read-back of this file was stopped before its order changed."""
    for name in folder.names():
        try:
            saved = _saved(folder, name)
        except Refused:
            continue
        if saved.order == known_as(file) and saved.digest != digest:
            say(words.changed_since(saved))
            return


def list_of_kept(folder: KeptFolder) -> str:
    """All read-backs that are kept, each with the command that goes on with it, as a text."""
    names = folder.names()
    entries = [_entry(folder, name) for name in names]
    heading = words.KEPT_HEADING if names else words.NONE_KEPT
    foot = [wrap_paragraph(words.kept_in(str(folder.path)), _WIDTH)] if names else []
    return "\n\n".join([heading, *entries, *foot]) + "\n"


def _entry(folder: KeptFolder, name: str) -> str:
    try:
        saved = _saved(folder, name)
    except Refused as reason:
        return wrap_paragraph(str(reason), _WIDTH)
    command = shlex.join(["orderlint", "readback", saved.order, "--resume", name])
    return f"{wrap_paragraph(words.kept_entry(saved), _WIDTH)}\n{command}"
