"""The manual page says what --help says, in the macros of man(7), and is not stale."""

from __future__ import annotations

from manual import PAGE, manual
from running import run

from orderlint.cli import program

# Of man(7), from memory: what a line may begin with that is a macro and no text.
MACROS = {"TH", "SH", "PP", "TP", "B", "nf", "fi"}


def read(text: str) -> str:
    """What is read of a page or of help, its words alone, one blank between them."""
    lines = [line for line in text.splitlines() if line not in {".PP", ".TP", ".nf", ".fi"}]
    words = " ".join(line.removeprefix(".B ") for line in lines)
    return " ".join(words.replace("\\-", "-").replace("\\&", "").replace("\\e", "\\").split())


def test_the_page_is_as_the_commands_are_now():
    assert PAGE.read_text(encoding="utf-8") == manual()  # anew: python tests/manual.py


def test_every_macro_is_one_of_the_manuals():
    lines = manual().splitlines()
    assert {line[1:].split()[0] for line in lines if line.startswith(".")} == MACROS
    assert not any(line.startswith("'") for line in lines)


def test_the_page_has_every_word_of_help():
    page = set(read(manual()).split())
    for verb in program.list_commands(None):
        told = run(verb, "--help").out.decode()
        assert set(told.split()) - page == {"Usage:", "Options:"}
        assert told.replace("\n", "").isprintable()
