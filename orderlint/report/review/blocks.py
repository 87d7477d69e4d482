"""Makes blocks of a reviewed order set, each order that breaks a rule next to the presets.

Never a proof, and never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

import itertools
import operator
from typing import TYPE_CHECKING

from orderlint.behaviour import behaviour_of
from orderlint.finding import Finding, Level
from orderlint.proof.prover import Decision
from orderlint.report import blocks as b
from orderlint.report.order import blocks as of_order
from orderlint.report.order import words as order_words
from orderlint.report.order.segment_words import list_missing
from orderlint.report.picture.diagram import Diagram, diagram_of
from orderlint.report.review import narrowings, words
from orderlint.report.words import (
    FOR_AUTHOR,
    LEVELS,
    LEVELS_FOR_AUTHOR,
    OF_SET,
    counted,
    instant_words,
    name_of,
)
from orderlint.set_findings import NO_SOUND_ORDER

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator, Mapping

    from orderlint.report.unchecked_files import Unread
    from orderlint.set_review import Broken, Reviewed

TO_FILL = "Still to be filled in by whoever signs:"
MISSING = (
    "Missing from the presets. Ask the author to have these written, or asked for by a blank that "
    "must be filled in:"
)
COVERED = "Also broken; reported under another rule"
TOGETHER = "The narrowings named above, taken together"
KNOWN = "Known already."

_ABOUT_AN_ORDER = ("preset-breaks-rule", "reachable-order-breaks-rule")
_ALWAYS = (Decision.BROKEN, Decision.NOT_PROVED, Decision.PROVED)
"""The results that are named even if no rule has them."""


def as_page(
    reviewed: Iterable[Reviewed],
    known: Iterable[Container[Finding]],
    unread: Iterable[Unread],
    digests: Mapping[str, str],
    at: int,
) -> str:
    """A page of all sets given, each with the findings that stood in the baseline.

    `unread` are the files that were not reviewed; `digests` are the SHA-256 of each file's bytes
    by its name; `at` is the instant of checking in milliseconds since 1970 UTC.
    """
    from orderlint.report.html import page  # noqa: PLC0415 - cold start

    found = list(zip(reviewed, known, strict=True))
    reports = (
        blocks(item, known, at, digests[item.file], f"set{number}")
        for number, (item, known) in enumerate(found, 1)
    )
    title = "; ".join(f"{FOR_AUTHOR[item.assessment.verdict]}: {item.file}" for item, _ in found)
    return page(title, reports, unread)


def for_author(section: b.ReportSection) -> b.ReportSection:
    """A section with the name that its level has for an author."""
    level = section.level
    return section._replace(label=LEVELS_FOR_AUTHOR[level]) if level else section


def blocks(
    reviewed: Reviewed, known: Container[Finding], at: int, digest: str = "", name: str = "set1"
) -> Iterator[b.Block]:
    """The report on one set, as of `at`, milliseconds since 1970 UTC.

    `known` are the findings that stood in the baseline, `digest` the SHA-256 of the file's bytes
    if it is to be shown. `name` begins the ids in the pictures, and is unique on a page.
    """
    presets = diagram_of(reviewed.presets.behaviour, reviewed.presets.order.leaves)
    yield b.paragraph(words.document_words(reviewed.order_set), "document")
    verdict, texts = reviewed.assessment.verdict, reviewed.not_checked
    yield of_order.verdict_block(verdict, texts, _notes(reviewed), FOR_AUTHOR)
    findings = list(_findings(reviewed, known, presets, name))
    leads = [finding.rule == NO_SOUND_ORDER for finding in shown_findings(reviewed)]
    yield from itertools.compress(findings, leads)
    yield from _missing(reviewed, known)
    yield from itertools.compress(findings, map(operator.not_, leads))
    if covered := words.covered(reviewed):
        said = tuple(f"{rule}: {told}" for rule, told in covered.items())
        yield b.ReportSection(COVERED, (b.Paragraphs(said, hang=2),))
    yield from _together(reviewed)
    yield b.ReportSection("The presets as they stand", (b.Paragraphs(tuple(_presets(reviewed))),))
    if presets:
        yield b.PageOnly((b.Picture(presets, name),))
    yield of_order.behaviour_section(reviewed.presets, name)
    yield b.list_section("Left open", left_open(reviewed))
    yield from of_order.suppressed_section(reviewed.assessment.suppressed)
    yield b.ReportSection("What became of each rule", (b.Rows(tuple(rules(reviewed))),))
    yield of_order.not_asked_section(reviewed.assessment.inactive)
    checked = words.checked_words(reviewed, f", as of {instant_words(at)}")
    yield of_order.checked_section(checked, digest)
    yield b.ReportSection("", (b.paragraph(words.COVERS),), "small")
    yield of_order.CAUTION_BLOCK


def _notes(reviewed: Reviewed) -> Iterator[str]:
    """What stands beneath the verdict."""
    yield from order_words.not_checked_words(reviewed.not_checked)
    heavy = (f for f in reviewed.assessment.findings if f.level is Level.DO_NOT_START)
    is_reached = any(finding.rule in _ABOUT_AN_ORDER for finding in heavy)
    reached = "Some order from this set must not be started. " if is_reached else ""
    yield reached + OF_SET[reviewed.assessment.verdict]
    yield words.orders_words(reviewed)
    yield words.summary(reviewed)
    yield from order_words.suppressed_weight(reviewed.assessment.suppressed)


def _findings(
    reviewed: Reviewed, known: Container[Finding], presets: Diagram | None, name: str
) -> Iterator[b.ReportSection]:
    """Each finding but those of missing settings, with the order that breaks the rule if any."""
    by_finding = {id(item.set_finding): item for item in reviewed.broken}
    asks = dict(zip(reviewed.assessment.findings, narrowings.asked(reviewed), strict=True))
    for number, finding in enumerate(shown_findings(reviewed), 1):
        asked = asks[finding]
        item = by_finding.get(id(finding))
        body: list[b.Block] = [b.paragraph(words.leads(item) if item else finding.says)]
        if item:
            body += [
                b.Items(tuple(words.picks(item)), deeper=2),
                b.paragraph(words.verify_says(item)),
            ]
        if asked in known:
            body.append(b.paragraph(KNOWN))
        if item:
            body += _pictures(item, reviewed, presets, f"{name}n{number}")
        title = order_words.finding_heading(finding) if finding.path else "The set as a whole"
        yield for_author(of_order.finding_block(asked, title, body))


def shown_findings(reviewed: Reviewed) -> list[Finding]:
    """The findings that have a section of their own: all but those of missing settings."""
    gone = missing_presets(reviewed)
    return [finding for finding in reviewed.assessment.findings if finding not in gone]


def _pictures(
    broken: Broken, reviewed: Reviewed, presets: Diagram | None, name: str
) -> Iterator[b.Pictures]:
    """The pictures of the presets and of the order, if they differ."""
    leaves = broken.nearest.leaves
    diagram = diagram_of(behaviour_of(leaves, reviewed.rulebook.outflow), leaves)
    if diagram != presets:
        nearest = "The nearest order that breaks the rule"
        yield b.Pictures((("The presets", presets), (nearest, diagram)), name)


def _together(reviewed: Reviewed) -> Iterator[b.ReportSection]:
    offers, proved = narrowings.joint_narrowings(reviewed)
    if proved:
        which = "this one change alone" if len(offers) == 1 else "all of these changes"
        asked = (b.paragraph(f"Would it do to make {which}?"),) if offers else ()
        yield b.ReportSection(
            TOGETHER, (*asked, b.Items(tuple(offers), deeper=2), b.paragraph(proved))
        )


def _presets(reviewed: Reviewed) -> Iterator[str]:
    """Whether the presets are sound, and what must be filled in before they are an order."""
    yield " ".join(_soundness(reviewed))
    names = ", ".join(name_of(path) for path in reviewed.to_fill)
    yield f"{TO_FILL} {names or 'nothing'}."


def _soundness(reviewed: Reviewed) -> Iterator[str]:
    signed = reviewed.presets
    levels = [finding.level for finding in signed.assessment.findings]
    if levels:
        heaviest = LEVELS[max(levels, key=lambda level: level.weight)]
        points = counted(len(levels), "point")
        if Level.DO_NOT_START in levels:
            yield "They are not sound."
        yield f"Signed as they stand, verify finds {points} in them, named above; the heaviest is"
        yield f"{heaviest}."
    elif reviewed.order_set.unsettled:
        yield "Whether they are sound is not known: faults in the set leave open what they are."
    else:
        yield "They are sound as far as they are filled in: verify finds nothing in them."
    yield from order_words.suppressed_weight(signed.assessment.suppressed)
    waiting = [
        rule for rule in signed.assessment.unchecked if {*rule.missing} <= {*reviewed.to_fill}
    ]
    if waiting:
        count = counted(len(waiting), "rule")
        yield f"Until its blanks are filled in, {count} cannot be checked."
    if left := len(signed.assessment.unchecked) - len(waiting):
        count = counted(left, "rule")
        yield f"For lack of what is not there, or cannot be read, {count} could not be checked."


def missing_presets(reviewed: Reviewed) -> list[Finding]:
    """The findings that a setting is not written in the presets."""
    paths = {
        finding.path for finding in order_words.missing_in(reviewed.presets.assessment.findings)
    }
    found = (f for f in reviewed.assessment.findings if f.rule == "preset-breaks-rule")
    return [finding for finding in found if finding.path in paths]


def _missing(reviewed: Reviewed, known: Container[Finding]) -> Iterator[b.ReportSection]:
    """The settings not written in the presets, a line for each level and section."""
    gone = missing_presets(reviewed)
    lines = [*order_words.missing_words(finding for finding in gone if finding not in known)]
    for line in order_words.missing_words(finding for finding in gone if finding in known):
        lines.append(b.Marked(line.level, f"{line.text}. {KNOWN}"))
    lines = [line._replace(label=LEVELS_FOR_AUTHOR[line.level]) for line in lines]
    if lines:
        yield b.ReportSection(MISSING, (b.Items(tuple(lines)),), f"finding {gone[0].level.value}")


def left_open(reviewed: Reviewed) -> list[str]:
    """The rules that some order leaves unchecked, and those that were not proved."""
    leaves = reviewed.presets.order.leaves
    groups: dict[tuple[str, ...], list[str]] = {}
    for item in reviewed.assessment.unchecked:
        groups.setdefault(item.missing, []).append(item.rule)
    lines = [
        f"An order may leave these unchecked, for lack of {list_missing(paths, leaves)}: "
        f"{', '.join(ids)}."
        for paths, ids in groups.items()
    ]
    not_proved = len(words.proved(reviewed).get(Decision.NOT_PROVED, ()))
    if not_proved:
        lines.append(
            f"Of the {not_proved} rules that were not proved it is not known whether some order "
            "leaves them unchecked."
        )
    waits = (
        ", but for those left to signing" if Decision.AT_SIGNING in words.proved(reviewed) else ""
    )
    return lines or [f"No order from the set leaves a rule unchecked{waits}."]


def rules(reviewed: Reviewed) -> Iterator[tuple[str, str]]:
    """Each result with its meaning, and the rules that have it."""
    found = words.proved(reviewed)
    for result, name in words.NAMES.items():
        ids = found.get(result, [])
        if ids or result in _ALWAYS:
            said = f"{name} ({len(ids)}): {words.MEANINGS[result]}"
            yield said, f"{', '.join(ids) or 'none'}."
    partly = words.in_part(reviewed)
    if partly:
        yield f"{words.IN_PART} ({len(partly)}): {words.IN_PART_MEANS}", f"{', '.join(partly)}."
