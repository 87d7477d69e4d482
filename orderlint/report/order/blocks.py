"""The report on one verified order as blocks, and those that other verbs take from it.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import text
from orderlint.report.blocks import (
    Beside,
    Block,
    Items,
    OnPage,
    Picture,
    Section,
    Signatures,
    Terms,
    VerdictBlock,
    listed,
    paragraph,
)
from orderlint.report.order import words
from orderlint.report.order.table import behaviour_words
from orderlint.report.picture.diagram import NORMAL_ICP_SOURCE, scene_of
from orderlint.report.words import ALREADY_RUNNING, CAUTION, digest_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Finding, Inactive, Suppressed
    from orderlint.report.picture.diagram import Scene
    from orderlint.verification import Verified

SIGNATURES = Signatures(("Verified by", "Checked again by", "Asked, and answered by"))


def as_text(verified: Verified, *, color: bool, width: int, at: int | None = None) -> str:
    """The whole report on one order, ending in a line feed.

    `width` is in columns; `at` is the instant of checking in milliseconds since 1970 UTC, named
    in the report where it is given.
    """
    return text.render(blocks(verified, at), color=color, width=width)


def as_page(
    verified: Iterable[Verified], unread: Iterable[str], digests: Mapping[str, str], at: int
) -> str:
    """A page of all orders given, and why other files were not checked.

    `digests` are the SHA-256 of each file's bytes by its name; `at` is the instant of checking in
    milliseconds since 1970 UTC.
    """
    from orderlint.report.html import page  # noqa: PLC0415 - cold start

    found = list(verified)
    title = "; ".join(f"{words.verdict_words(item)[0]}: {item.file}" for item in found)
    reports = (
        blocks(item, at, digests[item.file], f"order{number}")
        for number, item in enumerate(found, 1)
    )
    return page(title or "Nothing was checked", reports, unread)


def blocks(
    verified: Verified, at: int | None, digest: str = "", name: str = "order1"
) -> Iterator[Block]:
    """The report. `name` tells its picture's ids from those of others on a page.

    `digest` is the SHA-256 of the file's bytes, in hexadecimal digits, if it is to be named.
    """
    scene = scene_of(verified.behaviour, verified.order.leaves)
    yield from opening(verified)
    yield Beside(
        Picture(scene, name, words.PICTURE) if scene else None,
        (*findings(verified.assessment.findings), behaviour(verified, name)),
    )
    yield from additive(verified)
    yield from closing(verified, at, digest, _sources(verified.assessment.findings, scene))
    yield SIGNATURES


def opening(verified: Verified) -> Iterator[Block]:
    """What not to do with an order that may be running, the document and the verdict."""
    yield from running(words.may_be_running(verified))
    yield paragraph(words.document_words(verified), "document")
    yield VerdictBlock(verified.assessment.verdict, tuple(words.verdict_notes(verified)))


def running(may_be: object) -> Iterator[Block]:
    """What not to do, where an order may be running."""
    if may_be:
        yield paragraph(ALREADY_RUNNING, "running")


def findings(found: Iterable[Finding]) -> Iterator[Section]:
    """Each finding, heaviest first; missing parts in one list, at its heaviest level's end."""
    for group in words.in_order(found):
        if group[0].family == words.MISSING_FAMILY:
            yield missing(group)
        else:
            yield finding_block(group[0])


def finding_block(finding: Finding, title: str = "", body: Sequence[Block] = ()) -> Section:
    """A finding with all that is said of it; `body` stands in place of what it says."""
    said = body or (paragraph(finding.says),)
    terms = Terms(tuple(words.named_details(finding)))
    style = f"finding {finding.level.value}"
    return Section(title or words.heading(finding), (*said, terms), style, finding.level)


def missing(found: Sequence[Finding]) -> Section:
    """Settings not written, a line for each level and section."""
    lines = Items(tuple(words.missing_words(found)))
    return Section(words.missing_heading(found), (lines,), f"finding {found[0].level.value}")


def behaviour(verified: Verified, name: str) -> Section:
    """What the controller would do; `name` is that of the picture beside the table."""
    table = behaviour_words(verified.behaviour, verified.order.leaves, name)
    return Section(words.BEHAVIOUR, (table,))


def additive(verified: Verified) -> Iterator[Section]:
    """What runs in of the additive; no part where there is none that can be reckoned."""
    if verified.additive is not None:
        yield listed(words.ADDITIVE, words.additive_words(verified.additive))


def closing(
    verified: Verified, at: int | None, digest: str = "", sources: Iterable[str] = ()
) -> Iterator[Block]:
    """What was not checked, suppressed, not asked and checked, and the caution: each report's end.

    `at` is the instant of checking in milliseconds since 1970 UTC, if it is to be named.
    """
    unchecked = words.unchecked_words(verified.assessment.unchecked, verified.order.leaves)
    yield listed(words.UNCHECKED, unchecked, without=words.ALL_CHECKED)
    yield from suppressed(verified.assessment.suppressed)
    yield not_asked(verified.assessment.inactive)
    yield checked(words.checked_words(verified, at), digest)
    if said := tuple(sources):
        yield OnPage((listed("Sources", said, "small"),))
    yield CAUTION_BLOCK


CAUTION_BLOCK = paragraph(CAUTION, "caution")


def suppressed(items: Iterable[Suppressed]) -> Iterator[Section]:
    """What the policy keeps from being a finding. Only a policy file can; else there is no part."""
    if entries := tuple(words.suppressed_entry(item) for item in items):
        yield Section(words.SUPPRESSED, entries)


def not_asked(inactive: Iterable[Inactive]) -> Section:
    """The rules that were not asked, a paragraph for each reason, or that there is none."""
    lines = words.inactive_words(inactive)
    return listed(words.NOT_ASKED, lines, "small", "None was left out by the policy.")


def checked(said: str, digest: str = "") -> Section:
    """What was checked, and the digest of its bytes if it is to be named."""
    lines = [said, digest_words(digest)] if digest else [said]
    return listed(words.CHECKED, lines, "small", hang=0)


def _sources(found: Iterable[Finding], scene: Scene | None) -> Iterator[str]:
    """Where what is said comes from, each once."""
    yield from dict.fromkeys(finding.source for finding in found if finding.source)
    if scene and scene.normal:
        yield NORMAL_ICP_SOURCE
