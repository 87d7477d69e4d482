"""The pages cannot lie: commands print what is shown, links lead somewhere, named files exist."""

import doctest
import re
import shlex
import subprocess
import tomllib
from pathlib import Path

import pytest
from documents import AS_SHOWN, DRAWN, PAGES, ROOT, WRITTEN, picture_on, read, shown
from documents import run as run_command
from each_case import of_each
from running import run

LONGEST = 8192
"""Bytes that README.md and DEVELOPERS.md may each have."""
_PLAIN = re.compile(
    r"(?:((?:printf|sed) [^|]+) \| )?orderlint ([^|<>;&$*]+)(?: < ([^|<>;&$* ]+))?(?: \| (.*))?"
)
"""One call of the tool: what is piped into it, its arguments, the file that it reads, and what its
output is piped through.
"""
_LINK = re.compile(r"(?<!!)\[[^\]]+\]\(([^)\s]+)\)")
_PICTURE = re.compile(r"!\[[^\]]+\]\(([^)\s]+)\)")
_FILE = re.compile(r"`([\w./-]+\.(?:css|html|json|md|py|svg|yaml))`")
_PYTHON = re.compile(r"^```pycon\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)
_BLOCK = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)


def prose(page):
    """The page without its blocks of code."""
    return _BLOCK.sub("", read(page))


def each(pattern):
    """Pairs of a page and what the pattern finds in its prose."""
    pages = [*PAGES, *WRITTEN]
    return sorted({(page, found) for page in pages for found in pattern.findall(prose(page))})


def anchor(heading):
    """The end of a link to this heading, as pages are shown where the repository is kept."""
    return re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-")


@pytest.mark.slow
@pytest.mark.usefixtures("worked_out_once", "as_shown")
@pytest.mark.parametrize(
    "command", shown(), ids=lambda command: f"{command.page}: {command.command}"
)
def test_a_page_shows_what_a_command_prints(command):
    """Those of the first page, and those that need a shell, run as whoever types them does."""
    is_plain = _PLAIN.fullmatch(command.command) if command.page != "README.md" else None
    printed = run_here(command.command) if is_plain else run_command(command.command)
    assert printed == command.output


@pytest.fixture
def as_shown(monkeypatch, tmp_path):
    """The folder and the environment in which the pages' commands run; nothing is kept of them."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    for name, value in AS_SHOWN.items():
        monkeypatch.setenv(name, value)


def run_here(command):
    """What a call of the tool prints in this process, and a shell makes of the rest of the line."""
    before, arguments, file, rest = _PLAIN.fullmatch(command).groups()
    given = piped(before, b"") if before else Path(file).read_bytes() if file else b""
    ran = run(*shlex.split(arguments), stdin=given)
    return (piped(rest, ran.out) if rest else ran.out).decode() + ran.err


def piped(command, given):
    """What a shell's command makes of some bytes."""
    return subprocess.run(command, shell=True, input=given, capture_output=True, check=True).stdout


@pytest.mark.parametrize("page", [page for page in PAGES if _PYTHON.search(read(page))])
def test_python_returns_what_a_page_shows(page, monkeypatch):
    monkeypatch.chdir(ROOT)
    shown_lines = "\n".join(_PYTHON.findall(read(page)))
    test = doctest.DocTestParser().get_doctest(shown_lines, {}, page, page, 0)
    outcome = doctest.DocTestRunner().run(test)
    assert outcome.attempted
    assert not outcome.failed


@pytest.mark.usefixtures("as_shown")
@pytest.mark.parametrize("page", WRITTEN)
def test_a_page_that_the_tool_writes_is_what_it_writes_now(page):
    assert read(page) == run_here(WRITTEN[page])


@pytest.mark.usefixtures("as_shown")
@pytest.mark.parametrize("picture", DRAWN)
def test_a_picture_is_what_the_tool_draws_now(picture):
    assert (ROOT / picture).read_text(encoding="utf-8") == picture_on(run_here(DRAWN[picture]))


def test_every_picture_that_is_kept_is_shown_and_every_one_shown_is_kept():
    kept = {f"examples/{path.name}" for path in (ROOT / "examples").glob("*.svg")}
    targets = {(ROOT / page).parent / target for page, target in each(_PICTURE)}
    assert kept == set(DRAWN)
    assert kept == {target.resolve().relative_to(ROOT).as_posix() for target in targets}


def test_every_page_is_found():
    assert {"README.md", "DEVELOPERS.md", "tests/schemas/published/README.md"} <= set(PAGES)
    assert all((ROOT / page).is_file() for page in PAGES)


@of_each(("page", "target"), each(_LINK))
def test_a_link_leads_to_a_file_and_a_heading_that_exist(page, target):
    if target.startswith("https://"):
        return
    name, _, heading = target.partition("#")
    path = ((ROOT / page).parent / name) if name else ROOT / page
    assert path.exists()
    if heading:
        found = _HEADING.findall(_BLOCK.sub("", path.read_text(encoding="utf-8")))
        assert heading in map(anchor, found)


@of_each(("page", "name"), each(_FILE))
def test_a_file_that_a_page_names_exists(page, name):
    """It counts from the page's folder or one in it, from the top of the tree, or the package."""
    beside = (ROOT / page).parent
    folders = (beside, ROOT, ROOT / "orderlint")
    assert any((folder / name).exists() for folder in folders) or any(beside.glob(f"*/{name}"))


@pytest.mark.parametrize("page", [page for page in PAGES if "\n## The modules\n" in read(page)])
def test_a_list_of_modules_has_each_module_of_its_folder(page):
    modules = {path.name for path in (ROOT / page).parent.glob("*.py")} - {"__init__.py"}
    assert modules <= set(re.findall(r"`(\w+\.py)`", prose(page)))


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_a_first_page_is_short(page):
    assert len(read(page).encode()) <= LONGEST


def test_each_folder_page_can_be_reached_by_links_from_the_first_pages():
    links = {page: set() for page in PAGES}
    for page, target in each(_LINK):
        path = ((ROOT / page).parent / target.partition("#")[0]).resolve()
        if page in links and path.is_relative_to(ROOT):
            links[page].add(path.relative_to(ROOT).as_posix())
    reached, ahead = set(), ["README.md"]
    while ahead:
        page = ahead.pop()
        reached.add(page)
        ahead.extend((links[page] & links.keys()) - reached)
    assert reached == set(PAGES)


def test_the_picture_of_the_rooms_has_each_module_at_the_height_of_its_layer():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contract = project["tool"]["importlinter"]["contracts"][0]
    drawing = next(
        block for block in _BLOCK.findall(read("DEVELOPERS.md")) if block.startswith("```\n cli")
    )
    floors = [re.findall(r"^ (\w+) ", floor, re.MULTILINE) for floor in drawing.split("\n\n")]
    layers = [re.split(r" [|:] ", layer) for layer in contract["layers"]]
    assert [sorted(floor) for floor in floors] == [sorted(layer) for layer in layers]
