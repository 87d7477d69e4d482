"""What is shown of a file that was opened, the ticks set beside it, and what waits to be opened.

While something waits, nothing is said of the order that the form still holds: it would be read as
said of what waits. Never the words of a page, and nothing is judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.page.entries import as_typed
from orderlint.page.opening import Opened, OpenedTable, where_of
from orderlint.page.origin import CONFIRMED, LEFT_OUT, first_ticks
from orderlint.report.form.model import SourceOf
from orderlint.report.form.pages import OpenedShown, RestShown, TableShown
from orderlint.report.visible_text import safe
from orderlint.rulebook.yaml_fields import most_like

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.page.sent import Sent
    from orderlint.tables.order_table import Row

YES = "yes"
PASTED = "pasted"
"""What a pasted order is called in places."""
PASTED_TEXT = "file"
"""The name under which a form sends a pasted text."""
_PASTED = "What is pasted"
_NEXT = "The form still holds the order before; its verdict comes with the next check."
_UNTIL = (
    "The form still holds the order before; nothing is said of it until the text is opened or "
    "taken out of its box."
)
_TELLING = ("id", "therapy")
"""The settings that tell what an order of a table is; the others have their names beside them."""
_MOST_TOLD, _LONGEST_TOLD = 3, 60
_NOTHING_TOLD = "nothing by which to tell it"


def name_without_folders(name: str) -> str:
    """The name of a file without its folders, so that it can be shown."""
    return safe(name.replace("\\", "/").rpartition("/")[2])[:80] or "file"


def ticks_in(sent: Mapping[str, str]) -> frozenset[str]:
    """The names of the ticks that are set in a form."""
    return frozenset(
        name for name, text in sent.items() if name.startswith((CONFIRMED, LEFT_OUT)) and text
    )


def form_texts(opened: Opened, key: str) -> dict[str, str]:
    """An opened order as the form would send it; `key` is the name under which it is kept."""
    return {**opened.values, **dict.fromkeys(first_ticks(opened), YES), "opened": key}


def origins_of(opened: Opened | None, ticks: frozenset[str]) -> dict[str, SourceOf]:
    """For each path that a text has lines of, where it says so."""
    lines: dict[str, list[tuple[int, str]]] = {}
    for line in opened.draft.lines if opened and opened.draft else ():
        lines.setdefault(line.path, []).append((line.source.line, line.source.text))
    return {
        path: SourceOf(tuple(said), f"{CONFIRMED}{path}" in ticks) for path, said in lines.items()
    }


def opened_title(opened: Opened, values: Mapping[str, str]) -> str:
    """What the form was filled from, and whether a setting differs from it since."""
    name = "what was pasted" if opened.name == PASTED else opened.name
    title = f"Opened from {name}{opened.row and f', {safe(opened.row)}'}"
    # As a form would send it, without space at its ends.
    return title if as_typed(opened.values) == values else f"{title}, changed since"


def unread_words(opened: Opened | None) -> str:
    """That columns of a table were not read, by name, so that what they hold may be missing."""
    if opened is None or not opened.unread:
        return ""
    names = ", ".join(safe(f"“{name}”{_perhaps(name)}") for name in opened.unread)
    name = "what was pasted" if opened.name == PASTED else opened.name
    return (
        f"Not read of {name}: the columns {names}. What is said to be missing may stand there: "
        "look there before anybody is asked for it."
    )


def _perhaps(column: str) -> str:
    """The setting that the name of a column is most like; '' if none is."""
    table = field_table()
    known = {
        name.lower(): path for path, field in table.fields.items() for name in (path, field.name)
    }
    found = most_like(column.lower(), known)
    return f" (perhaps {table.display_name(known[found])})" if found else ""


def opened_shown(
    key: str, opened: Opened | None, ticks: frozenset[str], values: Mapping[str, str]
) -> OpenedShown | None:
    """What is said of the file that the form was filled from; None where it was filled by hand.

    `values` are the texts by path that stand in the form now.
    """
    if opened is None:
        return None
    rest = [*_rest_of_text(opened, ticks), *_rest_of_bundle(opened)]
    title = opened_title(opened, values)
    return OpenedShown(key, title, opened.said, rest, opened.draft is not None)


def _rest_of_text(opened: Opened, ticks: frozenset[str]) -> Iterator[RestShown]:
    for number, item in enumerate(opened.draft.rest if opened.draft else ()):
        tick, where = f"{LEFT_OUT}{number}", f"line {item.source.line}"
        yield RestShown(where, safe(item.source.text), item.why, tick, tick in ticks)


def _rest_of_bundle(opened: Opened) -> Iterator[RestShown]:
    for item in opened.bundle.not_understood if opened.bundle else ():
        yield RestShown(safe(item.place.where), safe(item.written), item.why)


def table_shown(key: str, table: OpenedTable | None) -> TableShown | None:
    """A table of which a row is to be picked."""
    if table is None:
        return None
    rows = table.read().rows
    apart = _apart(rows)
    told = [(n, safe(f"{where_of(row)}: {_told(row, apart)}")) for n, row in enumerate(rows)]
    return TableShown(key, table.name, told)


def _apart(rows: Sequence[Row]) -> list[str]:
    """The settings of a table, those first that differ between its orders."""
    texts: dict[str, set[str]] = {}
    every = dict.fromkeys(path for row in rows for path in row.cells if path not in _TELLING)
    for path in every:
        texts[path] = {row.cells[path].text if path in row.cells else "" for row in rows}
    return sorted(every, key=lambda path: len(texts[path]) == 1)


def _told(row: Row, apart: Sequence[str]) -> str:
    """The words that tell a row: what it is, and a few of its settings as they are written."""
    texts = [row.cells[path].text for path in _TELLING if path in row.cells]
    few = [path for path in apart if path in row.cells][:_MOST_TOLD]
    named = (f"{field_table().display_name(path)} {row.cells[path].text}" for path in few)
    return "; ".join(each[:_LONGEST_TOLD] for each in (*texts, *named)) or _NOTHING_TOLD


def waiting(sent: Sent) -> str:
    """What waits to be opened, in words; '' if nothing does."""
    if sent.file is not None:
        return name_without_folders(sent.file.name)
    return _PASTED if sent.texts.get(PASTED_TEXT, "").strip() else ""


def is_not_opened(what: str) -> str:
    """What is said of it as long as it waits."""
    return f"{what} is not opened."


def not_done(what: str) -> str:
    """Why nothing is done with the order in the form while `what` waits."""
    said = is_not_opened(what)
    return f"Not done: {said} Open it, or take it back: the form still holds the order before."


def why_not_checked(said: str, sent: Mapping[str, str], *, has_order: bool) -> str:
    """Why no verdict stands beside what was not opened, as is `said`."""
    if not has_order:
        return said
    return f"{said} {_UNTIL if sent.get(PASTED_TEXT, '').strip() else _NEXT}"
