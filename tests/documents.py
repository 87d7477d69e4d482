"""The pages of the project and the commands that they show with their output.

Pages are DEVELOPERS.md and each README.md of the tree. A block marked `console` shows commands
after `$ ` and beneath each what it prints, run from the top of the tree. Some pages are such an
output whole, and pictures are cut out of pages that a command writes. Run as a script this file
writes them anew: `python tests/documents.py`.
"""

from __future__ import annotations

import functools
import os
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
WRITTEN = {
    "examples/fhir-bundle.json": (
        "orderlint convert --to fhir examples/drain-above-treat-above.yaml"
    ),
    "examples/rulebook.md": "orderlint rules --format markdown",
}
"""The files that the tool writes whole, each with the command that prints it."""
DRAWN = {
    "examples/clean.svg": "orderlint verify --format html examples/clean.yaml",
    "examples/drain-above-treat-above.svg": (
        "orderlint verify --format html examples/drain-above-treat-above.yaml"
    ),
    "examples/clean-plan.svg": (
        "orderlint plan --format html --from 2026-03-02T15:00:00-06:00 examples/clean.yaml"
    ),
}
"""The pictures that pages show, each with the command whose page has it first."""
AS_SHOWN = {"COLUMNS": "80", "LC_ALL": "C.UTF-8", "NO_COLOR": "1"}
"""What there is in the environment of each command."""
_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def _pages() -> list[str]:
    """Paths from the top of the tree; hidden folders and virtual environments are left out."""
    folders = [
        folder
        for folder in sorted(ROOT.iterdir())
        if folder.is_dir() and folder.name[0] != "." and not (folder / "pyvenv.cfg").exists()
    ]
    inside = [page for folder in folders for page in sorted(folder.rglob("README.md"))]
    return ["README.md", "DEVELOPERS.md", *(page.relative_to(ROOT).as_posix() for page in inside)]


PAGES = _pages()


@dataclass(frozen=True)
class Shown:
    """One command of a page with the output that stands beneath it."""

    page: str
    command: str
    output: str


def shown() -> list[Shown]:
    """Every command that a page shows with its output."""
    return [
        Shown(page, command, output)
        for page in PAGES
        for block in _BLOCK.findall(read(page))
        for command, output in _commands(block)
    ]


def _commands(block: str) -> list[tuple[str, str]]:
    parts = re.split(r"^\$ (.*)\n", block, flags=re.MULTILINE)[1:]
    return list(zip(parts[::2], parts[1::2], strict=True))


@functools.cache
def run(command: str) -> str:
    """What the command prints, run from the top of the project with this Python's commands."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("COV_")}
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    with tempfile.TemporaryDirectory() as state:  # a read-back that a page stops is kept there
        environment = {**kept, "PATH": path, "XDG_STATE_HOME": state, **AS_SHOWN}
        done = subprocess.run(  # noqa: PLW1510 - the project's own pages
            command, shell=True, cwd=ROOT, env=environment, capture_output=True, text=True
        )
    return done.stdout + done.stderr


def picture_on(page: str) -> str:
    """The first picture on a page that a command writes, as a file of its own."""
    return page[page.index("<svg") : page.index("</svg>")] + "</svg>\n"


def read(page: str) -> str:
    return (ROOT / page).read_text(encoding="utf-8")


def write_anew(page: str) -> None:
    def block(match: re.Match[str]) -> str:
        commands = [command for command, _ in _commands(match[1])]
        return "```console\n" + "".join(f"$ {c}\n{run(c)}" for c in commands) + "```"

    (ROOT / page).write_text(_BLOCK.sub(block, read(page)), encoding="utf-8")


if __name__ == "__main__":
    for name, command in WRITTEN.items():
        (ROOT / name).write_text(run(command), encoding="utf-8")
    for name, command in DRAWN.items():
        (ROOT / name).write_text(picture_on(run(command)), encoding="utf-8")
    for name in PAGES:
        write_anew(name)
