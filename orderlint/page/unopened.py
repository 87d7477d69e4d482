"""What is chosen or pasted to be opened, and is not opened yet.

While it waits, nothing is said of the order that the form still holds: it would be read as said of
what waits.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.page.shown import shown_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.page.sent import Sent

PASTED_TEXT = "file"
"""The name under which a form sends a pasted text."""
_PASTED = "What is pasted"
_NEXT = "The form still holds the order before; its verdict comes with the next check."
_UNTIL = (
    "The form still holds the order before; nothing is said of it until the text is opened or "
    "taken out of its box."
)


def waiting(sent: Sent) -> str:
    """What waits to be opened, in words; '' if nothing does."""
    if sent.file is not None:
        return shown_name(sent.file.name)
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
