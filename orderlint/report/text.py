"""Renders blocks as plain text, readable in a terminal and by a screen reader.

How every report looks in a terminal. Never what it says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, assert_never

from orderlint.report import blocks as b
from orderlint.report.visible_text import safe
from orderlint.report.words import LEVELS, file_not_checked_words
from orderlint.report.wrapping import NARROWEST, colored, wrap_paragraph

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.report.unchecked_files import Unread


def render_blocks(blocks: Iterable[b.Block], *, width: int, color: bool = False) -> str:
    """The report, ending in a line feed; `width` is in columns.

    The text holds no control character but line feeds and, with `color`, colour.
    """
    return "\n\n".join(render_each(blocks, width=width, color=color)) + "\n"


def render_each(blocks: Iterable[b.Block], *, width: int, color: bool = False) -> Iterator[str]:
    """The text of each block that text shows."""
    writer = _TextWriter(width, color)
    for block in _in_order(blocks):
        if lines := [*writer.lines(block, 0)]:
            yield "\n".join(lines)


def render_unread(item: Unread, *, width: int) -> str:
    """The report on a file that was not checked, ending in a line feed."""
    return wrap_paragraph(file_not_checked_words(str(item)), width) + "\n"


def _in_order(blocks: Iterable[b.Block]) -> Iterator[b.Block]:
    """Put what a page sets side by side one after another."""
    for block in blocks:
        if isinstance(block, b.WithPicture):
            yield from [block.picture] if block.picture else []
            yield from block.blocks
        elif isinstance(block, b.Columns | b.Folded):
            yield from block.blocks
        else:
            yield block


_SHORTEST_NAME = 12
"""Columns that the names in a table have, at least."""


class _TextWriter(NamedTuple):
    """Wraps blocks to `width` columns, with or without colour."""

    width: int
    color: bool

    def lines(self, block: b.Block, indent: int) -> Iterator[str]:
        """A block, each paragraph wrapped; nothing for a block that only a page shows."""
        match block:
            case b.ReportSection():
                yield from self.section(block, indent)
            case b.VerdictBlock():
                yield from self.verdict(block, indent)
            case b.Segments():
                yield from self.segments(block, indent)
            case b.Timetable():
                yield from self.timetable(block, indent)
            case b.Picture():
                yield from self.picture(block, indent)
            case b.WithPicture() | b.Columns() | b.Folded():
                for part in _in_order([block]):
                    yield from self.lines(part, indent)
            case b.PageOnly() | b.Pictures() | b.Timeline() | b.Monthly() | b.Signatures():
                return
            case _:
                yield from self.texts(block, indent)

    def texts(self, block: b.Texts, indent: int) -> Iterator[str]:
        """A block of texts alone."""
        match block:
            case b.Heading(text):
                yield self.line(text, indent)
            case b.Paragraphs(texts, _, hang):
                yield from (self.line(text, indent, hang) for text in texts)
            case b.Items(texts, deeper):
                yield from (self.line(text, indent + deeper) for text in texts)
            case b.Terms(pairs):
                yield from (self.line(f"{name}: {text}", indent) for name, text in pairs)
            case b.Entry(head, says, details):
                yield self.line(head, indent)
                yield self.line(says, indent + 2, 0)
                yield from (self.line(text, indent + 2) for text in details)
            case b.Rows(rows):
                for name, text in rows:
                    yield from self.texts(b.Entry(name, text), indent)
            case b.CountTable():
                yield from self.counts(block, indent)
            case _:
                assert_never(block)

    def counts(self, block: b.CountTable, indent: int) -> Iterator[str]:
        """A line for each row, the counts in columns; a row whose name is too long takes two.

        Where there is no room for columns, each count stands after its head.
        """
        written = (block.heads, *((row.name, *row.cells) for row in block.rows))
        table = [[*map(safe, row)] for row in written]
        widths = [max(map(len, column)) for column in zip(*(row[1:] for row in table), strict=True)]
        room = max(self.width, NARROWEST) - indent - sum(widths) - 2 * len(widths)
        if room < _SHORTEST_NAME:
            yield from self.counts_in_words(block, indent)
            return
        names = min(max(len(row[0]) for row in table), room)
        said = ("", *(row.said for row in block.rows))
        for (name, *cells), text in zip(table, said, strict=True):
            if len(name) > names:
                yield self.line(name, indent)
            beside = f"{'' if len(name) > names else name:<{names}}"
            aligned = (f"  {cell:>{width}}" for cell, width in zip(cells, widths, strict=True))
            yield f"{' ' * indent}{beside}{''.join(aligned)}".rstrip()
            yield from [self.line(text, indent + 2, 0)] if text else []

    def counts_in_words(self, block: b.CountTable, indent: int) -> Iterator[str]:
        """A paragraph for each row."""
        for row in block.rows:
            cells = zip(block.heads[1:], row.cells, strict=True)
            said = "; ".join(f"{head} {cell}" for head, cell in cells if cell)
            yield self.line(f"{row.name}: {said}", indent)
            yield from [self.line(row.said, indent + 2, 0)] if row.said else []

    def line(self, text: str | b.Marked, indent: int, hang: int = 2) -> str:
        """A paragraph, its level in colour if it has one."""
        if isinstance(text, str):
            return wrap_paragraph(text, self.width, indent, hang)
        label = text.label or LEVELS[text.level]
        said = wrap_paragraph(f"{label}: {text.text}", self.width, indent, hang)
        return colored(said, label, text.level, self.color)

    def verdict(self, block: b.VerdictBlock, indent: int) -> Iterator[str]:
        """The verdict in its colour, and its notes indented."""
        said = f"{block.title}: {block.label}{block.beside}"
        line = wrap_paragraph(said, self.width, indent)
        yield colored(line, block.label, block.verdict, self.color)
        yield from (self.line(note, indent + 2, 0) for note in block.notes)

    def picture(self, block: b.Picture, indent: int) -> Iterator[str]:
        """The picture in characters, where it has a heading and there is room."""
        from orderlint.report.picture.text import picture_lines  # noqa: PLC0415 - cold start

        drawn = picture_lines(block.diagram, self.width) if block.heading else []
        yield from [self.line(block.heading, indent, 0), *drawn] if drawn else []

    def section(self, block: b.ReportSection, indent: int) -> Iterator[str]:
        """A heading, and its blocks indented."""
        if block.level:
            yield self.line(b.Marked(block.level, block.heading, block.label), indent)
        elif block.heading:
            yield self.line(block.heading, indent, 0)
        for part in block.body:
            yield from self.lines(part, indent + 2 if block.heading else indent)

    def segments(self, block: b.Segments, indent: int) -> Iterator[str]:
        """A line with the ICP in both units, if there is room, and one with what happens."""
        edge = " " * indent
        column = max((len(row.first) for row in block.rows), default=0)
        yield self.line(block.before, indent, 0)
        for row in block.rows:
            beside = f"{edge}{row.first:<{column}}   {row.second}"
            fits = len(beside) <= max(self.width, NARROWEST)
            yield beside if fits else f"{edge}{row.first}\n{edge}{row.second}"
            yield self.line(row.action, indent + 4, 0)
        yield from (self.line(text, indent, 0) for text in block.after)

    def timetable(self, block: b.Timetable, indent: int) -> Iterator[str]:
        """Each date once, and under it what is due at each time."""
        for due in block.dues:
            if due.date:
                yield self.line(due.date, indent, 0)
            yield self.line(f"{due.time}  {due.said}", indent + 2, 7)
