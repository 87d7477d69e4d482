"""Two order sets beside each other as plain text, for their author.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.compare import set_words as words
from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order.table import not_had
from orderlint.report.order.text import suppressed_section
from orderlint.report.order.words import details, heading, suppressed_weight
from orderlint.report.review.words import heading as set_heading
from orderlint.report.words import CAUTION, LEVELS, VERDICTS, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.comparing.sets import ComparedSets
    from orderlint.finding import Finding
    from orderlint.proof import Example

_NOT_LEAST = "Whether another is nearer to the presets was not settled in time."


def render(found: ComparedSets, *, color: bool, width: int, at: int) -> str:
    """The whole report, ending in a line feed.

    `width` is in columns; `at` is the instant of checking, in milliseconds since 1970 UTC.
    """

    def part(title: str, texts: Iterable[str], without: str) -> str:
        lines = [paragraph(text, width, 2, 2) for text in texts]
        return section(title, lines or [paragraph(without, width, 2)], width)

    gone, new = found.comparison.gone, found.comparison.new
    none = "There is none." if found.comparison.relation != "open" else "None is known."
    when = f", as of {instant_words(at)}"
    parts = [
        *_opening(found, color, width),
        *(_block(finding, found, color, width) for finding in found.findings),
        section(
            "An order that only the earlier set yields", _order(gone, "later", width, none), width
        ),
        section(
            "An order that only the later set yields", _order(new, "earlier", width, none), width
        ),
        part("What is offered otherwise", words.offers_words(found), "Nothing."),
        part("Broken as well by a new order", words.covered_words(found), "No other rule."),
        part("Left open by a new order", _left(found), "No rule."),
        *suppressed_section(found.suppressed, width),
        part("What was compared", [words.checked_words(found, when)], ""),
        paragraph(words.COVERS, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _opening(found: ComparedSets, color: bool, width: int) -> Iterator[str]:
    yield "\n".join(
        paragraph(f"{name}: {set_heading(order_set)}", width, 0, 2)
        for name, order_set in (("Earlier", found.before), ("Later", found.after))
    )
    relation, sentence = words.relation_words(found)
    texts = (sentence, words.newly_words(found), *words.apart_words(found))
    lines = [paragraph(f"The later set is: {relation}", width)]
    yield "\n".join([*lines, *(paragraph(text, width, 2) for text in texts)])
    label = VERDICTS[found.verdict][0]
    lines = [painted(f"Verdict on what is new: {label}", label, found.verdict, color)]
    lines += [paragraph(text, width, 2) for text in suppressed_weight(found.suppressed)]
    yield "\n".join(lines)


def _block(finding: Finding, found: ComparedSets, color: bool, width: int) -> str:
    label = LEVELS[finding.level]
    title = heading(finding) if finding.path else "The sets as a whole"
    first = paragraph(f"{label}: {title}", width, 0, 2)
    lines = [painted(first, label, finding.level, color), paragraph(finding.says, width, 2)]
    item = next((item for item in found.newly if item.said is finding), None)
    if item is not None:
        lines.append(paragraph(words.before_words(item.broken), width, 2))
        lines += _order(item.broken.example, "earlier", width)
    lines += [paragraph(line, width, 2, 2) for line in details(finding)]
    return "\n".join(lines)


def _order(example: Example | None, other: str, width: int, none: str = "") -> list[str]:
    """An order of one set alone: what is picked for it, and where the other has something else."""
    if example is None:
        return [paragraph(none, width, 2)]
    picks = words.picks_of(example) or ["all as it is preset"]
    lines = [paragraph("The nearest such order to the presets:", width, 2)]
    lines += [paragraph(line, width, 4, 2) for line in picks]
    lines += [paragraph(line, width, 2, 2) for line in words.differing_words(example, other)]
    return lines if example.is_least else [*lines, paragraph(_NOT_LEAST, width, 2)]


def _left(found: ComparedSets) -> Iterator[str]:
    for item in found.unchecked:
        left = next(each for each in found.comparison.broken if each.rule == item.rule)
        leaves, before = left.example.leaves, words.before_words(left)
        lacking = ", ".join(not_had(path, leaves[path]) for path in item.missing)
        yield f"{LEVELS[item.level]}: {item.rule}, for lack of {lacking}. {before}"
    if found.left_open:
        yield f"By earlier orders as well, for the same lack: {', '.join(found.left_open)}."
