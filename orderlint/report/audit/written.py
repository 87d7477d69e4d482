"""What is said of the files of rows that an audit wrote.

Never writes one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.blocks import Block, list_section

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


class Written(NamedTuple):
    """What was written: how many rows, and the columns in which cells are not as in the table."""

    file: str
    rows: int
    changed: tuple[str, ...] = ()
    shortened: tuple[str, ...] = ()


def written_section(written: Sequence[Written]) -> Iterator[Block]:
    """The files, and which of their columns are not as in the table."""
    if written:
        said = (sentence for item in written for sentence in written_words(item))
        yield list_section("Rows written", said)


def written_words(written: Written) -> list[str]:
    """What was written, and which columns are not as they were; a sentence each."""
    rows = f"{written.rows:,} row{'' if written.rows == 1 else 's'}"
    return [f"{rows} written to {written.file}.", *changed_words(written)]


def changed_words(written: Written) -> list[str]:
    """Which columns of a file are not as they were; a sentence each."""
    said = []
    if written.changed:
        said.append(
            f"In {written.file}, column {', '.join(written.changed)}, an apostrophe stands before "
            "what a spreadsheet would compute, so that it stays text. Parquet has it as it was."
        )
    if written.shortened:
        said.append(
            f"In {written.file}, column {', '.join(written.shortened)}, texts were too long for a "
            "cell and are cut."
        )
    return said
