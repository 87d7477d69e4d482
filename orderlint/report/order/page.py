"""One verified order as part of a page: the picture after the verdict, else as the text has it.

Gathers words and markup for the templates. Never a word of its own beside a few headings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.order import words
from orderlint.report.order.table import acts_in, behaviour_words, units_of
from orderlint.report.page import View, markup, page
from orderlint.report.picture.diagram import NORMAL_ICP_SOURCE, scene_of
from orderlint.report.picture.drawing import picture_of, pictures_of
from orderlint.report.picture.segment_kinds import kind_of
from orderlint.report.picture.svg import svg, swatch
from orderlint.report.words import ALREADY_RUNNING, CAUTION, LEVELS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from typing import Any

    from markupsafe import Markup

    from orderlint.finding import Finding
    from orderlint.report.picture.diagram import Scene
    from orderlint.verification import Verified

SIGNATURES = ("Verified by", "Checked again by", "Asked, and answered by")


class Group(NamedTuple):
    """A finding, or those of missing parts together, as the template has it."""

    level: str
    label: str
    heading: str
    says: tuple[str, ...] = ()
    details: tuple[tuple[str, str], ...] = ()
    lines: tuple[str, ...] = ()


class Row(NamedTuple):
    """A line of the table of segments, with a field that looks as in the picture."""

    first: str
    second: str
    action: str
    swatch: Markup


def render(
    verified: Iterable[Verified],
    unread: Iterable[str],
    digests: Mapping[str, str],
    at: int,
) -> str:
    """A page of all orders given, and why other files were not checked.

    `digests` are the SHA-256 of each file's bytes by its name; `at` is the instant of checking in
    milliseconds since 1970 UTC.
    """
    found = list(verified)
    views = [
        View("verify.html", order_values(item, f"order{number}", digests[item.file], at))
        for number, item in enumerate(found, 1)
    ]
    said = [f"{words.verdict_words(item)[0]}: {item.file}" for item in found]
    return page("; ".join(said) or "Nothing was checked", views, unread)


def order_values(verified: Verified, name: str, digest: str, at: int) -> dict[str, Any]:
    """All that templates say of one order. `name` tells its picture's ids from those of others."""
    leaves = verified.order.leaves
    scene = scene_of(verified.behaviour, leaves)
    return {
        **opening_values(verified),
        "findings": list(groups(verified.assessment.findings)),
        **behaviour_values(verified, name),
        **closing_values(verified, at),
        "checked": [words.checked_words(verified, at), digest_words(digest)],
        "sources": list(_sources(verified.assessment.findings, scene)),
        "signatures": SIGNATURES,
    }


def opening_values(verified: Verified) -> dict[str, Any]:
    """The verdict, and what stands around it."""
    return {
        "running": ALREADY_RUNNING if words.may_be_running(verified) else "",
        "document": words.document_words(verified),
        "seen": "",
        "verdict": verified.assessment.verdict.value,
        "label": words.verdict_words(verified)[0],
        "notes": words.verdict_notes(verified),
    }


def picture_markup(scene: Scene | None, name: str) -> Markup | None:
    """The picture, if there is anything to draw."""
    return markup(svg(picture_of(scene), name)) if scene else None


def pair_of(
    one: tuple[str, Scene | None], other: tuple[str, Scene | None], name: str
) -> tuple[tuple[str, Markup], ...]:
    """Two pictures side by side, each with its caption; one alone where both are alike."""
    shown = (one,) if one[1] == other[1] else (one, other)
    drawn = [(caption, scene) for caption, scene in shown if scene]
    pictures = pictures_of([scene for _, scene in drawn]) if drawn else ()
    return tuple(
        (caption, markup(svg(picture, f"{name}{index}")))
        for index, ((caption, _), picture) in enumerate(zip(drawn, pictures, strict=True))
    )


def groups(findings: Iterable[Finding]) -> Iterator[Group]:
    """Findings in their order, those of missing parts as one."""
    for found in words.in_order(findings):
        first = found[0]
        if first.family == words.MISSING_FAMILY:
            yield missing_group(found)
        else:
            yield Group(
                first.level.value,
                LEVELS[first.level],
                words.heading(first),
                (first.says,),
                tuple(words.named_details(first)),
            )


def missing_group(found: Sequence[Finding]) -> Group:
    """The findings of missing parts, a line for each level and section."""
    lines = (f"{LEVELS[level]}: {text}" for level, text in words.missing_words(found))
    heading = words.missing_heading(found)
    return Group(found[0].level.value, "", heading, lines=tuple(lines))


def behaviour_values(verified: Verified, name: str) -> dict[str, Any]:
    """The picture `name` and the table of segments, whose fields look as the segments do in it."""
    leaves = verified.order.leaves
    table = behaviour_words(verified.behaviour, leaves)
    acts = acts_in(verified.behaviour.segments)
    rows = [
        Row(row.first, row.second, row.action, markup(swatch(kind_of(row.segment, acts), name)))
        for row in table.rows
    ]
    picture = picture_markup(scene_of(verified.behaviour, leaves), name)
    return {
        "picture": picture,
        "table": table,
        "rows": rows,
        "units": units_of(leaves),
        "headings": words,
    }


def closing_values(verified: Verified, at: int) -> dict[str, Any]:
    """What each report ends with."""
    return {
        "unchecked": words.unchecked_words(verified.assessment.unchecked, verified.order.leaves),
        "suppressed": [words.suppressed_words(item) for item in verified.assessment.suppressed],
        "not_asked": words.not_asked_words(verified.assessment.inactive),
        "checked": [words.checked_words(verified, at)],
        "sources": [],
        "caution": CAUTION,
    }


def digest_words(digest: str) -> str:
    """The digest of a file, by which a sheet of paper is told from that of another revision."""
    return f"SHA-256 of the file: {digest}"


def _sources(findings: Iterable[Finding], scene: Scene | None) -> Iterator[str]:
    """Where what is said comes from, each once."""
    yield from dict.fromkeys(finding.source for finding in findings if finding.source)
    if scene and scene.normal:
        yield NORMAL_ICP_SOURCE
