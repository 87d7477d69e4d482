"""Makes blocks of how an audit was made: files, columns, policy and their digests.

So that another can make the same one. Never a count of orders.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import blocks as b
from orderlint.report.audit import words
from orderlint.report.order.words import inactive_words
from orderlint.report.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.model import AuditResult


def origin_sections(result: AuditResult) -> Iterator[b.Block]:
    """Versions, digests and time, then the columns and the rules that no order was asked."""
    files = (f"{f.name}: {f.rows:,} rows, SHA-256 {f.sha256}" for f in result.files)
    yield b.ReportSection(
        "How this was made",
        (
            b.Terms(tuple(_terms(result))),
            b.Folded(counted(len(result.files), "file"), (b.Items(tuple(files)),)),
            *_columns(result),
        ),
    )
    yield from _not_asked(result)


def _not_asked(result: AuditResult) -> Iterator[b.Block]:
    """The rules that were asked of no order, by their counts, and those asked of some alone."""
    left = [i for i in result.inactive if i.rule not in result.rules]
    no_order = [r for r, found in result.rules.items() if 0 < found.not_asked == result.judged]
    never = [*no_order, *dict.fromkeys(item.rule for item in left)]
    if never:
        without = {item.rule for item in result.inactive}
        others = [rule for rule in never if rule not in without]
        said = inactive_words(item for item in result.inactive if item.rule in never)
        if others:
            said.append(f"No order is of the kind that they speak of: {', '.join(others)}.")
        folded = b.Folded(counted(len(never), "rule"), (b.Items(tuple(said)),))
        yield b.ReportSection("Rules that no order was asked", (folded,))
    if said := inactive_words(item for item in result.inactive if item.rule not in never):
        yield b.ReportSection(
            "Rules that the policy leaves out for some orders", (b.Items(tuple(said)),)
        )


def _terms(result: AuditResult) -> Iterator[tuple[str, str]]:
    yield "Tool", f"orderlint {result.version}"
    yield "Policy", f"“{result.policy}”, {_digest(result.policy_digest)}"
    yield "Rulebook", _digest(result.rulebook_digest)
    if other := result.against:
        yield "Second policy", f"“{other.policy}”, {_digest(other.policy_digest)}"
        yield "Its rulebook", _digest(other.rulebook_digest)
    yield "Judged as of", words.as_of_words(result.as_of)
    if result.month_of:
        yield "Month", words.month_words(result.month_of)
    yield "Smallest count shown", f"{result.min_cell}"
    if result.samples:
        yield "Seed of the sample", f"{result.seed}"


def _digest(digest: str) -> str:
    return digest if len(digest) < 64 else f"SHA-256 {digest}"


def _columns(result: AuditResult) -> Iterator[b.Block]:
    rows = tuple(
        (words.setting_name(c.path), "; ".join(words.mapped_words(c))) for c in result.mapping
    )
    yield b.Folded(f"{counted(len(rows), 'setting')} read from columns", (b.Rows(rows),))
    if result.unmapped:
        said = f"Not read: {', '.join(map(words.value_words, result.unmapped))}."
        yield b.paragraph(said)
