"""Makes blocks of one verified order, and the blocks that other reports share with it.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.report import blocks as b
from orderlint.report.order import checked, segment_words, words
from orderlint.report.words import ALREADY_RUNNING, BRIEF_CAUTION, CAUTION, LABELS, digest_words
from orderlint.rulebook.rule import MISSING_FAMILY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Finding, Inactive, NotChecked, Suppressed, Verdict
    from orderlint.order import Leaf
    from orderlint.report.picture.diagram import Diagram
    from orderlint.report.unchecked_files import Unread
    from orderlint.verification import Verified

SIGNATURES = b.Signatures(("Verified by", "Checked again by", "Asked, and answered by"))
_FORM = ("document", "format")
"""What says that a file is an order, and nothing of the order itself."""


def as_page(
    verified: Iterable[Verified], unread: Iterable[Unread], digests: Mapping[str, str], at: int
) -> str:
    """A page of all orders given, and why the files `unread` were not checked.

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
    verified: Verified, at: int, digest: str = "", name: str = "order1"
) -> Iterator[b.Block]:
    """The report on one order, as of `at`, milliseconds since 1970 UTC.

    `digest` is the SHA-256 of the file's bytes in hexadecimal, if it is to be shown. `name` begins
    the ids in the picture, and is unique on a page.
    """
    from orderlint.report.picture.diagram import diagram_of  # noqa: PLC0415 - cold start

    diagram = diagram_of(verified.behaviour, verified.order.leaves)
    yield from opening(verified)
    groups = [*words.in_order(verified.assessment.findings)]
    yield from lead(groups, finding_block)
    yield b.WithPicture(
        b.Picture(diagram, name, words.PICTURE) if diagram else None,
        (*finding_sections(groups[1:], finding_block), behaviour_section(verified, name)),
    )
    yield from additive_section(verified)
    yield written_section(verified.order.leaves)
    yield from closing(verified, at, digest, _sources(verified.assessment.findings, diagram))
    yield SIGNATURES


def brief_blocks(verified: Verified, at: int) -> Iterator[b.Block]:
    """Verdict, findings and what was not checked: one screen where the order is clear."""
    groups = [*words.in_order(verified.assessment.findings)]
    yield from opening(verified)
    yield from lead(groups, _brief_block)
    yield from finding_sections(groups[1:], _brief_block)
    yield from brief_closing(verified, at)


def opening(verified: Verified) -> Iterator[b.Block]:
    """The warning if the order may be running, the document and the verdict."""
    yield from running_warning(words.may_be_running(verified))
    yield b.paragraph(words.document_words(verified), "document")
    notes = words.verdict_notes(verified)
    yield verdict_block(verified.assessment.verdict, verified.not_checked, notes)


def verdict_block(
    verdict: Verdict,
    texts: Iterable[NotChecked],
    notes: Iterable[str],
    labels: Mapping[Verdict, str] = LABELS,
    title: str = "Verdict",
) -> b.VerdictBlock:
    """The verdict by its label, which free `texts` are not checked, and the notes under it."""
    beside = words.as_far_as_read(verdict, texts)
    return b.VerdictBlock(verdict, labels[verdict], beside, tuple(notes), title)


def running_warning(may_be: object) -> Iterator[b.Block]:
    """The warning, if an order may be running."""
    if may_be:
        yield b.paragraph(ALREADY_RUNNING, "running")


def lead(
    groups: Sequence[Sequence[Finding]], block: Callable[[Finding], b.ReportSection]
) -> Iterator[b.Block]:
    """The finding that matters most, and how many more there are."""
    yield from finding_sections(groups[:1], block)
    yield from (b.paragraph(said, "more") for said in words.more_words(groups[1:]))


def finding_sections(
    groups: Iterable[Sequence[Finding]], block: Callable[[Finding], b.ReportSection]
) -> Iterator[b.ReportSection]:
    """Each finding as `block` has it; missing parts in one list."""
    for group in groups:
        is_missing = group[0].family == MISSING_FAMILY
        yield missing_section(group) if is_missing else block(group[0])


def finding_block(
    finding: Finding, title: str = "", body: Sequence[b.Block] = ()
) -> b.ReportSection:
    """A finding with its details; `body` replaces its statement."""
    said = body or (b.paragraph(finding.says),)
    advice = b.Terms(tuple(words.advice(finding, finding.written or "nothing")))
    record = b.Folded("Source, place and rule", (b.Terms(tuple(words.references(finding))),))
    style = f"finding {finding.level.value}"
    return b.ReportSection(
        title or words.finding_heading(finding), (*said, advice, record), style, finding.level
    )


def _brief_block(finding: Finding) -> b.ReportSection:
    """A finding with its question and the lines of the file, without source and rule."""
    advice = b.Terms(tuple(words.advice(finding, words.written_lines(finding))))
    heading = finding.name or words.finding_heading(finding)
    style = f"finding {finding.level.value}"
    return b.ReportSection(heading, (b.paragraph(finding.says), advice), style, finding.level)


def missing_section(found: Sequence[Finding]) -> b.ReportSection:
    """Settings not written, a line for each level and section."""
    lines = b.Items(tuple(words.missing_words(found)))
    return b.ReportSection(
        words.missing_heading(found), (lines,), f"finding {found[0].level.value}"
    )


def behaviour_section(verified: Verified, name: str) -> b.ReportSection:
    """What the controller would do; `name` is that of the picture next to the table."""
    shown = segment_words.behaviour_words(verified.behaviour, verified.order.leaves, name)
    return b.ReportSection(words.BEHAVIOUR, (shown,))


def written_section(leaves: Mapping[str, Leaf]) -> b.PageOnly:
    """Every setting that is written, readable or not, so that a page that is signed has them."""
    parts: dict[str, list[str]] = {}
    for path in field_table().fields:
        leaf = leaves[path]
        if leaf.given and path not in _FORM:
            said = " ".join(leaf.text.split()) or "empty"
            name = field_table().display_name(path)
            parts.setdefault(words.section_name(path), []).append(f"{name}: {said}")
    sections = tuple(b.list_section(name, lines) for name, lines in parts.items())
    return b.PageOnly(
        (b.ReportSection("The order as it is written", (b.Columns(sections),), "whole"),)
    )


def additive_section(verified: Verified) -> Iterator[b.ReportSection]:
    """What runs in of the additive, and by the weight of a child; no part without either."""
    if verified.additive is not None:
        yield b.list_section(
            segment_words.ADDITIVE, segment_words.additive_words(verified.additive)
        )
    if per_weight := tuple(segment_words.rate_per_weight(verified.order.leaves)):
        yield b.list_section(segment_words.PER_WEIGHT, per_weight)


def closing(
    verified: Verified, at: int, digest: str = "", sources: Iterable[str] = ()
) -> Iterator[b.Block]:
    """The end of a report: what was not checked, suppressed, not asked, checked, and the caution.

    `at` and `digest` are as in `blocks`.
    """
    open_rules = checked.unchecked_words(verified.assessment.unchecked, verified.order.leaves)
    said = tuple(sources)
    parts: tuple[b.Block, ...] = (
        b.list_section(words.UNCHECKED, open_rules, without=words.ALL_CHECKED),
        *suppressed_section(verified.assessment.suppressed),
        not_asked_section(verified.assessment.inactive),
        checked_section(checked.checked_words(verified, at), digest),
        *((b.PageOnly((b.list_section("Sources", said, "small"),)),) if said else ()),
    )
    yield b.Columns(parts)
    yield CAUTION_BLOCK


def brief_closing(verified: Verified, at: int) -> Iterator[b.Block]:
    """The end of a report of one screen: what is left open, and the rest in four lines."""
    if verified.assessment.unchecked:
        lines = checked.few_unchecked_words(verified.assessment.unchecked, verified.order.leaves)
        yield b.list_section(words.UNCHECKED, lines)
    yield from suppressed_section(verified.assessment.suppressed)
    yield b.Paragraphs((checked.briefly_checked(verified, at), BRIEF_CAUTION), "small")


CAUTION_BLOCK = b.paragraph(CAUTION, "caution")


def suppressed_section(items: Iterable[Suppressed]) -> Iterator[b.ReportSection]:
    """The findings that the policy suppresses; no section if there are none."""
    if entries := tuple(words.suppressed_entry(item) for item in items):
        yield b.ReportSection(words.SUPPRESSED, entries)


def not_asked_section(inactive: Iterable[Inactive]) -> b.ReportSection:
    """The rules that were not asked, a paragraph for each reason, or that there is none."""
    lines = words.inactive_words(inactive)
    return b.list_section(words.NOT_ASKED, lines, "small", "None was left out by the policy.")


def checked_section(said: str, digest: str = "") -> b.ReportSection:
    """What was checked, and the digest of its bytes if it is to be named."""
    lines = [said, digest_words(digest)] if digest else [said]
    return b.list_section(words.CHECKED, lines, "small", hang=0)


def _sources(found: Iterable[Finding], diagram: Diagram | None) -> Iterator[str]:
    """The sources of the findings and of the picture, each once."""
    yield from dict.fromkeys(finding.source for finding in found if finding.source)
    if diagram and diagram.normal:
        from orderlint.report.picture.diagram import NORMAL_ICP_SOURCE  # noqa: PLC0415 - cold start

        yield NORMAL_ICP_SOURCE
