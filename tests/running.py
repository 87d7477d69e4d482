"""The command line, run in this process or in one of its own."""

from __future__ import annotations

import functools
import io
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest

from orderlint.cli import main

CLEAN = Path(__file__).parents[1] / "examples/clean.yaml"
# Between `starts` and `review_by` of the clean order.
AT = ("--at", "2026-03-02T15:30:00-06:00")


def all_kept() -> list[Path]:
    """All that stands in the folder where read-backs are kept."""
    folder = Path(os.environ["XDG_STATE_HOME"], "orderlint")
    return [*folder.iterdir()] if folder.exists() else []


def the_kept() -> Path:
    """The only whole file there."""
    (kept,) = [path for path in all_kept() if path.suffix == ".json"]
    return kept


@dataclass(frozen=True)
class Ran:
    """How a run ended, and what it wrote."""

    status: int
    out: bytes
    err: str

    @functools.cached_property
    def text(self) -> str:
        """What it wrote to standard output, on one line."""
        return " ".join(self.out.decode().split())


def run(*arguments: str | Path, stdin: bytes | io.BytesIO = b"", encoding: str = "utf-8") -> Ran:
    """Run in this process; `encoding` is that of standard output."""
    source = io.BytesIO(stdin) if isinstance(stdin, bytes) else stdin
    streams = {
        "stdin": io.TextIOWrapper(source),
        "stdout": io.TextIOWrapper(io.BytesIO(), encoding),
        "stderr": io.TextIOWrapper(io.BytesIO(), "utf-8", "backslashreplace"),
    }
    with mock.patch.multiple(sys, **streams), pytest.raises(SystemExit) as caught:
        main([str(argument) for argument in arguments])
    for name in ("stdout", "stderr"):
        streams[name].flush()
    written = {name: streams[name].buffer.getvalue() for name in ("stdout", "stderr")}
    status = caught.value.code
    assert isinstance(status, int)
    return Ran(status, written["stdout"], written["stderr"].decode())


def started(*arguments: str | bytes | Path, **options: object) -> subprocess.Popen[bytes]:
    """Start in a process of its own."""
    streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **options}
    return subprocess.Popen([sys.executable, "-P", "-m", "orderlint", *arguments], **streams)
