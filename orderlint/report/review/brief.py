"""The report on an order set on a screen: the verdict, and what decides it in a few lines each.

What is left out here stands in the report with all details. Never a proof.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.proof.prover import Decision
from orderlint.report import blocks as b
from orderlint.report.order import blocks as of_order
from orderlint.report.order.words import not_checked_words, suppressed_weight
from orderlint.report.review import narrowings, words
from orderlint.report.review.blocks import for_author, missing_presets, shown_findings
from orderlint.report.words import BRIEF_CAUTION, FOR_AUTHOR, LEVELS_FOR_AUTHOR, counted, name_of

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator, Sequence

    from orderlint.finding import Finding
    from orderlint.set_review import Broken, Reviewed

MOST_FINDINGS = 12
MOST_PICKS = 4
"""Picks of one order that are named; how many more there are is said."""
MOST_NAMED = 6
"""Rules that a line names."""
_MORE = "More of each, the presets and every rule: --detail."


def brief_blocks(reviewed: Reviewed, known: Container[Finding]) -> Iterator[b.Block]:
    """The verdict and counts, what is broken, heaviest first, and what is missing in a line.

    `known` are the findings that stood in the baseline.
    """
    asks = dict(zip(reviewed.assessment.findings, narrowings.asked(reviewed), strict=True))
    told = [asks[finding] for finding in shown_findings(reviewed) if asks[finding] not in known]
    yield b.paragraph(words.document_words(reviewed.order_set), "document")
    verdict, texts = reviewed.assessment.verdict, reviewed.not_checked
    yield of_order.verdict_block(verdict, texts, _notes(reviewed), FOR_AUTHOR)
    by_finding = {asks[item.set_finding]: item for item in reviewed.broken if item.set_finding}
    yield from _missing(reviewed, known)
    for finding in told[:MOST_FINDINGS]:
        yield _section(finding, by_finding.get(finding))
    if rest := tuple(_rest(reviewed, told, known)):
        yield b.Paragraphs(rest, hang=2)
    yield b.Paragraphs((_checked(reviewed), BRIEF_CAUTION), "small")


def _notes(reviewed: Reviewed) -> Iterator[str]:
    """What stands beneath the verdict: what was not checked, and counts in a line."""
    yield from not_checked_words(reviewed.not_checked)
    counts = {result: len(rules) for result, rules in words.proved(reviewed).items()}
    broken, proved = counts.pop(Decision.BROKEN, 0), counts.pop(Decision.PROVED, 0)
    settled = counts.pop(Decision.VACUOUS, 0)
    others = [f"{count} {words.COUNTED[result]}" for result, count in counts.items()]
    orders = reviewed.count
    most = "" if orders.is_exact else "at most "
    yield (
        f"{most}{orders.orders:,} orders, {counted(len(reviewed.proofs), 'rule')}: {broken} "
        f"broken, {proved + settled} proved{''.join(f', {said}' for said in others)}."
    )
    yield from suppressed_weight(reviewed.assessment.suppressed)


def _section(finding: Finding, item: Broken | None) -> b.ReportSection:
    """A finding in a few lines: the picks, what `verify` says, what would do, and where."""
    style = f"finding {finding.level.value}"
    heading = f"{finding.breaks or finding.rule}: {name_of(finding.path)}".rstrip(": ")
    if item is None:
        pairs = [("", finding.says), ("Ask", finding.ask)]
    else:
        says = item.order_finding.says if item.order_finding else finding.says
        pairs = [("Picked", _picks(item)), ("verify says", _first(says))]
        pairs += [("Ask", _question(finding.ask))]
    pairs.append(("Place", str(finding.place)))
    said = [b.paragraph(text) for name, text in pairs if not name]
    terms = b.Terms(tuple((name, text) for name, text in pairs if name and text))
    return for_author(b.ReportSection(heading, (*said, terms), style, finding.level))


def _picks(item: Broken) -> str:
    picks = words.picks(item)
    more = len(picks) - MOST_PICKS
    said = "; ".join(picks[:MOST_PICKS]) or "nothing; so the presets are"
    return f"{said}; and {more} more" if more > 0 else said


def _first(text: str) -> str:
    """The first sentence."""
    head, stop, _ = text.partition(". ")
    return f"{head}." if stop else head


def _question(ask: str) -> str:
    """What is asked, without the sentence that says what is proved of it."""
    head, proved, rest = ask.partition(" It is proved that ")
    return f"{head} (It is proved that this would do.)" if proved and rest else ask


def _rest(reviewed: Reviewed, told: Sequence[Finding], known: Container[Finding]) -> Iterator[str]:
    """What is named only: more findings, those known, missing parts, rules left open."""
    more = told[MOST_FINDINGS:]
    if more:
        yield f"And {counted(len(more), 'more finding')}: {_rules(more)}."
    old = [finding for finding in narrowings.asked(reviewed) if finding in known]
    if old:
        yield f"{counted(len(old), 'finding')} known already: {_rules(old)}."
    if covered := words.covered(reviewed):
        yield f"Also broken; reported under another rule: {_few(covered)}."
    if left := reviewed.assessment.unchecked:
        yield f"Some order may leave unchecked: {_few(item.rule for item in left)}."


def _missing(reviewed: Reviewed, known: Container[Finding]) -> Iterator[b.Block]:
    """The settings that are not in the presets, in one line at their heaviest level."""
    gone = [finding for finding in missing_presets(reviewed) if finding not in known]
    if gone:
        level = max(gone, key=lambda finding: finding.level.weight).level
        names = ", ".join(name_of(finding.path) for finding in gone)
        said = f"missing from the presets: {names}."
        yield b.Items((b.Marked(level, said, LEVELS_FOR_AUTHOR[level]),))


def _rules(findings: Iterable[Finding]) -> str:
    return _few(finding.breaks or finding.rule for finding in findings)


def _few(rules: Iterable[str]) -> str:
    """The first rules by name, each once, and how many more there are."""
    names = list(dict.fromkeys(rules))
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _checked(reviewed: Reviewed) -> str:
    """Under which policy, where the rest is, and what no proof covers."""
    return (
        f"Under “{reviewed.rulebook.policy}”. {words.standing(reviewed)}A proof covers all that "
        "can be picked, not free text or what signing adds: check each signed order with verify. "
        f"{_MORE}"
    )
