"""The kinds of blocks of which every report consists.

A block holds whole sentences, not yet wrapped or escaped. text.py and html.py render blocks. To
add a kind: a class here, a case in text.py, and a macro of its name in pages/blocks.html.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

# Named tuples, since every report makes all of these classes, and a dataclass takes five times as
# long to make.

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.finding import Level, Verdict
    from orderlint.report.picture.diagram import Diagram
    from orderlint.shift_plan import Plan

Texts: TypeAlias = "Heading | Paragraphs | Items | Terms | Entry | Rows | CountTable"
"""Blocks of texts alone."""
Block: TypeAlias = (
    "Texts | ReportSection | VerdictBlock | Segments | Timetable | Picture | Pictures | Timeline | "
    "Monthly | WithPicture | Columns | PageOnly | Folded | Signatures"
)


class Marked(NamedTuple):
    """A text after the name of its level, in the colour of the level.

    `label` is that name where it is another than on a report about one order, as in the two below.
    """

    level: Level
    text: str
    label: str = ""


class Heading(NamedTuple):
    """What a report without a verdict is headed by."""

    text: str


class Paragraphs(NamedTuple):
    """Paragraphs without an empty line between; `style` is a class of pages/page.css.

    In text, each line after the first is indented by `hang` columns.
    """

    texts: tuple[str | Marked, ...]
    style: str = ""
    hang: int = 0


class Items(NamedTuple):
    """A list; in text it is indented by `deeper` columns."""

    texts: tuple[str | Marked, ...]
    deeper: int = 0


class Terms(NamedTuple):
    """Names, each with its text."""

    pairs: tuple[tuple[str, str], ...]


class Entry(NamedTuple):
    """One of several things of a kind: what it is, what it says, and details."""

    head: str
    says: str
    details: tuple[str, ...] = ()


class Rows(NamedTuple):
    """A table of two columns without a head."""

    rows: tuple[tuple[str, str], ...]


class Bar(NamedTuple):
    """A bar beside a row, and an interval across its end; each from 0 to 1 of the room there is."""

    length: float
    interval: tuple[float, float] | None = None


class CountRow(NamedTuple):
    """A row of counts: what is counted, what is to be `said` of it, and the counts as texts."""

    name: str
    cells: tuple[str, ...]
    said: str = ""
    bar: Bar | None = None


class CountTable(NamedTuple):
    """A table of counts, the first column of which names what is counted.

    `heads` has a text for each column. Only a page shows the bars.
    """

    heads: tuple[str, ...]
    rows: tuple[CountRow, ...]


class ReportSection(NamedTuple):
    """A heading, with the level if it is of a finding, and the blocks under it."""

    heading: str
    body: tuple[Block, ...]
    style: str = ""
    level: Level | None = None
    label: str = ""


class VerdictBlock(NamedTuple):
    """The verdict by its `label`, what stands `beside` it on its line, and the notes under it."""

    verdict: Verdict
    label: str
    beside: str
    notes: tuple[str, ...]
    title: str


class SegmentRow(NamedTuple):
    """A segment: its ICP in the unit displayed and in the other, what happens, and its look."""

    first: str
    second: str
    action: str
    kind: str


class Segments(NamedTuple):
    """The table of segments; if there is none, `before` says why.

    `name` is that of the picture whose patterns the rows repeat.
    """

    before: str
    units: tuple[str, str]
    rows: tuple[SegmentRow, ...]
    after: tuple[str, ...]
    name: str


class Due(NamedTuple):
    """What is due at one time; `date` is empty if it is that of the line before."""

    date: str
    time: str
    said: str


class Timetable(NamedTuple):
    """What is due when."""

    dues: tuple[Due, ...]


class Picture(NamedTuple):
    """The picture of an order. Text shows it under `heading`, or not at all if that is empty.

    `name`, letters and digits, begins the ids of its elements, and is unique on a page.
    """

    diagram: Diagram
    name: str
    heading: str = ""


class Pictures(NamedTuple):
    """Pictures side by side, each with its caption: only on a page. Equal ones are drawn once."""

    diagrams: tuple[tuple[str, Diagram | None], ...]
    name: str


class Timeline(NamedTuple):
    """The picture of a plan: only on a page."""

    plan: Plan


class Month(NamedTuple):
    """The share of a month, as 2025-11, with its 95 % interval, all from 0 to 1; None if hidden."""

    month: str
    share: float | None
    low: float = 0.0
    high: float = 0.0


class Monthly(NamedTuple):
    """The picture of a share by month: only on a page.

    `title` says what of; `name`, letters and digits, begins the ids, and is unique on a page.
    """

    title: str
    months: tuple[Month, ...]
    name: str


class WithPicture(NamedTuple):
    """Blocks with a picture next to them on a page, before or after them."""

    picture: Picture | None
    blocks: tuple[Block, ...]
    is_last: bool = False


class Columns(NamedTuple):
    """Blocks side by side on a wide page."""

    blocks: tuple[Block, ...]


class PageOnly(NamedTuple):
    """Blocks that only a page has."""

    blocks: tuple[Block, ...]


class Folded(NamedTuple):
    """Blocks that a page shows when its `summary` is opened, and a text shows as they are."""

    summary: str
    blocks: tuple[Block, ...]


class Signatures(NamedTuple):
    """Lines to sign on paper: only on a page."""

    people: tuple[str, ...]


def paragraph(text: str, style: str = "") -> Paragraphs:
    """One paragraph."""
    return Paragraphs((text,), style)


def list_section(
    heading: str, texts: Iterable[str | Marked], style: str = "", without: str = "", hang: int = 2
) -> ReportSection:
    """A section with a list, or one paragraph if there is one text; `without` if there is none."""
    found = tuple(texts) or (without,)
    body = Items(found) if len(found) > 1 else Paragraphs(found, hang=hang)
    return ReportSection(heading, (body,), style)
