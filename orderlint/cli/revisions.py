"""Reads a file as it stands in another file or in a revision of its git repository.

By git's own commands that only read; no hook, filter or setting of the repository is run, and the
work tree is left as it is. Never what the bytes mean.
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import click

from orderlint.api.sources import Content
from orderlint.cli.inputs import read_content
from orderlint.finding import Refused
from orderlint.reading.unicode_checks import LARGEST_FILE

_ENVIRONMENT = {
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_TERMINAL_PROMPT": "0",
    "LC_ALL": "C",
}
_NO_PROGRAMS = ("-c", "core.fsmonitor=false", "-c", "core.hooksPath=/dev/null")


def read_earlier(against: str, file: str) -> Content | None:
    """`file` as it is in the file `against` or, if there is no such file, in that revision.

    None where the revision has no such file. Raises UsageError for what cannot be a revision, and
    Refused where nothing can be read.
    """
    if against.startswith("-"):
        raise click.UsageError(f"--against {against}: a revision does not begin with a hyphen.")
    if file == "-":
        raise click.UsageError("Standard input is in no revision; --against is of a file.")
    if os.path.lexists(against):
        return read_content(against)
    path = Path(file).absolute()
    commit = _commit(against, path.parent)
    name = f"{against}:{file}"
    blob = f"{commit}:./{path.name}"
    if not _output(path.parent, "ls-tree", "--name-only", commit, "--", f"./{path.name}").strip():
        return None
    if int(_output(path.parent, "cat-file", "-s", blob)) > LARGEST_FILE:
        raise Refused("The file is larger than an order or order set may be.", name)
    return Content(name, _output(path.parent, "cat-file", "blob", blob))


def earlier_policy(against: str, policy: str | None) -> Content | None:
    """The site policy as it was in the revision, where that is another than now.

    None where `against` is a file, and where the revision has no such policy.
    """
    if policy is None or policy == "-" or os.path.lexists(against):
        return None
    try:
        earlier = read_earlier(against, policy)
    except Refused:  # it lies in no repository
        return None
    return earlier if earlier and earlier.data != read_content(policy).data else None


def _commit(revision: str, folder: Path) -> str:
    """The full name of the commit that a revision names."""
    _output(folder, "rev-parse", "--git-dir")
    asked = ("rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
    try:
        return _output(folder, *asked).decode("ascii").strip()
    except Refused:
        message = (
            "This is no file, and no revision of the repository as it is here; was it fetched?"
        )
        raise Refused(message, revision) from None


def _output(folder: Path, *arguments: str) -> bytes:
    """What git writes. Raises Refused, with git's own reason, where it fails or is not there."""
    environment = {**os.environ, **_ENVIRONMENT}
    call = ["git", "--no-pager", *_NO_PROGRAMS, "-C", str(folder), *arguments]
    try:
        ran = subprocess.run(call, env=environment, capture_output=True, check=False)
    except OSError as error:
        raise Refused(f"git could not be run: {error.strerror}.", str(folder)) from None
    if ran.returncode != 0:
        reason = ran.stderr.decode("utf-8", "replace").strip().splitlines()
        raise Refused(reason[0] if reason else "git found nothing.", str(folder))
    return ran.stdout
