"""The message to one person, as text, page and JSON (schemas/message.schema.json).

Four parts, in the order in which hospitals teach such a call: situation, background, assessment,
request. The caller fills in the blanks. Never chooses what is asked: that is `orderlint.message`.
Never a dose or a level of our own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Level
from orderlint.message import Message, Point, count_words
from orderlint.report import blocks as b
from orderlint.report.order import blocks as of_order
from orderlint.report.order.json import not_checked_members, report_text
from orderlint.report.order.words import verdict_notes
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.visible_text import safe
from orderlint.report.words import BLANK, CAUTION, counted, digest_words, instant_words
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.report.order.json import Member

BACKGROUND = (
    f"ICP now {BLANK}, pupils {BLANK}, GCS {BLANK} (before: {BLANK}), in the last hour in {BLANK} "
    f"and out {BLANK}, irrigating: {BLANK}, drain open: {BLANK}."
)
CLOSING = (
    f"Answer, read back: {BLANK}. Confirmed by: {BLANK}. Time: {BLANK}. Next to call: {BLANK}."
)
HOLD = "Is irrigation to be held until then?"
NOBODY = "There is nothing to ask."
OPEN = "There is no question about what was found; what could not be checked is no pass."
MOST_OF_NAME = 2
"""Words that an order's name may have in a message."""
AGAIN = "Have the answers written into the order and check it again; then ask the rest."


def blocks(message: Message, digest: str = "") -> Iterator[b.Block]:
    """The message; `digest` is the SHA-256 of the order's bytes, if it is to be shown."""
    verified = message.verified
    yield from of_order.running_warning(message.running and message.points)
    yield b.paragraph(addressed(message), "document")
    notes = (*verdict_notes(verified), *_to_call(message))
    yield of_order.verdict_block(verified.assessment.verdict, verified.not_checked, notes)
    diagram = diagram_of(verified.behaviour, verified.order.leaves)
    yield b.WithPicture(
        b.Picture(diagram, "order") if diagram else None, tuple(_parts(message)), is_last=True
    )
    yield of_order.CAUTION_BLOCK
    if digest:
        yield b.paragraph(digest_words(digest), "small")


def _parts(message: Message) -> Iterator[b.Block]:
    """What to say, how to end the call, and what is not in this message."""
    if message.points:
        said = background(message)
        yield _part("Situation", [situation(message)])
        yield from [_part("Background", [said])] if said else []
        yield _part("Assessment", assessment(message))
        yield _part("Request", request(message))
    yield b.ReportSection("", (b.paragraph(_ending(message)),))
    if others := [*_others(message)]:
        yield b.list_section("Not in this message", others)


def _part(heading: str, texts: list[str]) -> b.ReportSection:
    hang = 3 if len(texts) > 1 else 0
    return b.ReportSection(heading, (b.Paragraphs(tuple(texts), hang=hang),))


def addressed(message: Message) -> str:
    """About which file the message is, and to whom."""
    return f"{message.verified.file}: to the {message.whom}."


def _to_call(message: Message) -> Iterator[str]:
    """Whom to call, the one who can answer the heaviest finding first; nothing for nobody."""
    if message.to_call:
        yield f"To call: {', then '.join(f'the {whom}' for whom in message.to_call)}."


def _ending(message: Message) -> str:
    """What is read back at the end, or why there is nothing to say to this person."""
    if message.points:
        return CLOSING
    if message.to_call:
        return f"None of it is for the {message.whom} to answer."
    return OPEN if message.verified.assessment.unchecked else NOBODY


def _others(message: Message) -> Iterator[str]:
    """What is not in this message: deferred points, and who else is to be asked."""
    if message.deferred:
        points = counted(len(message.deferred), "more point")
        yield f"{points} for the {message.whom}. {AGAIN}"
    for whom, count in message.for_others:
        yield f"{counted(count, 'point')} for the {whom}: orderlint ask --whom '{whom}'."


def situation(message: Message) -> str:
    """Who calls, about which order, and how much it weighs."""
    leaf = message.verified.order.leaves["id"]
    order = f"order {quote(leaf.text)}" if leaf.given else "an order without an identifier"
    if count_words(order) > MOST_OF_NAME:
        order = "an order"  # as the report names it: a longer name is not read aloud
    heaviest = message.points[0].level
    if message.running:
        state = "is running, and something in it needs an answer now"
    elif heaviest is Level.DO_NOT_START:
        state = "must not be started before you answer"
    elif heaviest is Level.CLARIFY:
        state = "needs an answer before it is started"
    else:
        state = "has a point to look at"
    return f"{BLANK} calling, bed {BLANK}: {order} {state}."


def background(message: Message) -> str:
    """What only the caller can see at the bedside; '' for those who need not know it."""
    return BACKGROUND if message.whom == "prescriber" else ""


def assessment(message: Message) -> list[str]:
    """What is written, point by point, with its number where there are several."""
    return [
        f"{number}. {point.says}" if len(message.points) > 1 else point.says
        for number, point in enumerate(message.points, 1)
    ]


def request(message: Message) -> list[str]:
    """The questions, each after the numbers of the points that it is about.

    For an order that runs the first is whether irrigation is to be held.
    """
    asked: dict[str, list[str]] = {}
    for number, point in enumerate(message.points, 1):
        asked.setdefault(point.ask, []).append(str(number))
    several = len(message.points) > 1
    lines = [f"{', '.join(of)}. {ask}" if several else ask for ask, of in asked.items()]
    return [*([HOLD] if message.ask_to_hold else []), *lines]


def render(message: Message, at: int) -> str:
    """The message, ending in a line feed. `at` is the instant of checking, in ms since 1970 UTC."""
    verified = message.verified
    said = bool(message.points)
    members: dict[str, Member] = {
        "file": safe(verified.file),
        "document": "order",
        "checked_at": instant_words(at),
        "verdict": verified.assessment.verdict.value,
        "not_checked": not_checked_members(verified.not_checked),
        "to": message.whom,
        "running": message.running,
        "situation": safe(situation(message)) if said else "",
        "background": background(message) if said else "",
        "assessment": [safe(text) for text in assessment(message)],
        "request": [safe(text) for text in request(message)] if said else [],
        "closing": CLOSING if said else "",
        "points": [_point(point) for point in message.points],
        "left": [_point(point) for point in message.deferred],
        "elsewhere": [{"to": whom, "points": count} for whom, count in message.for_others],
        "caution": CAUTION,
    }
    return report_text(members)


def _point(point: Point) -> Member:
    return {
        "level": point.level.value,
        "rules": [*point.rules],
        "says": safe(point.says),
        "ask": safe(point.ask),
    }
