"""Writes a report as Markdown for a pull request: the verdict and what is new of each document.

In CommonMark, a line an item. The other formats have the rest. Never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.ci.model import finding_and_question, suppression_words
from orderlint.report.markdown_escape import code, visibly
from orderlint.report.words import CAUTION, FOR_AUTHOR, LABELS, LEVELS, LEVELS_FOR_AUTHOR, counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.finding import Level
    from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult

MOST_FINDINGS = 8
"""Results of one document that are listed; how many more there are is said."""


def render(report: CiReport, *, unread: bool = True) -> str:
    """A section for each document; with `unread`, one for each file that was not checked too."""
    parts = [_summary(report)] if len(report.checked) > 1 else []
    parts += [part for checked in report.checked for part in _of_document(checked)]
    for item in report.unread if unread else ():
        parts.append(f"## {code(item.file)}: not checked")
        parts.append(visibly(f"{item.place or item.file}: {item.reason}"))
    return "\n\n".join([*parts, f"*{visibly(CAUTION)}*"]) + "\n"


def _summary(report: CiReport) -> str:
    """How many documents have something to be asked about."""
    open_ones = [item.file for item in report.checked if any(map(_is_news, item.results))]
    count = f"{len(open_ones)} of {len(report.checked)} files"
    names = f": {', '.join(map(code, open_ones))}" if open_ones else ""
    return f"{count} {'has' if len(open_ones) == 1 else 'have'} something to be asked about{names}."


def _is_news(result: CiResult) -> bool:
    """Whether a result is neither suppressed nor known already."""
    return result.suppressed is None and result.known is not True


def _of_document(checked: CheckedDocument) -> Iterator[str]:
    of_set = checked.kind == "order-set"
    labels, levels = (FOR_AUTHOR, LEVELS_FOR_AUTHOR) if of_set else (LABELS, LEVELS)
    known = [result for result in checked.results if result.known]
    suppressed = [result for result in checked.results if result.suppressed]
    told = [result for result in checked.results if _is_news(result)]
    if known and not told:
        yield f"## {code(checked.file)}: NOTHING NEW"
        yield f"{counted(len(known), 'finding')} known already."
        return
    yield f"## {code(checked.file)}: {labels[checked.verdict]}"
    yield from (f"**{visibly(text)}**" for text in checked.warnings)
    if told:
        yield list_items([_result(result, levels) for result in told], MOST_FINDINGS)
    if known:
        yield f"{counted(len(known), 'finding')} known already."
    if suppressed:
        words = "; ".join(
            suppression_words(item.suppressed) for item in suppressed if item.suppressed
        )
        yield f"{counted(len(suppressed), 'finding')} suppressed: {visibly(words)}"
    # Of what nothing is asked, the heading is enough; the other formats have what it rests on.
    yield from map(visibly, checked.basis if told or suppressed else ())


def _result(result: CiResult, levels: Mapping[Level, str]) -> str:
    finding = result.finding
    rule = code(finding.breaks or finding.rule)
    words = visibly(finding_and_question(finding))
    return f"**{levels[finding.level]}** {rule}: {words} ({code(finding.place.where)})"


def list_items(items: Sequence[str], most: int) -> str:
    """A list of items that are marked already, and how many more there are."""
    lines = [f"- {item}" for item in items[:most]]
    if len(items) > most:
        lines.append(f"- and {len(items) - most} more; the text of the report has them.")
    return "\n".join(lines)
