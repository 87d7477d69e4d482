"""Exit statuses, and the words for a fault of the tool itself.

Small pure decisions. Never any reading or writing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Level, RuleFileRefused

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.assessment import Assessment
    from orderlint.report.ci.model import CiReport


BELOW = 0
FINDINGS = 1
USAGE = 2
STOPPED = 3
INTERNAL_FAULT = 70
INTERRUPTED = 130


def status_of(found: Assessment, fail_at: Level) -> int:
    """FINDINGS if a finding or an unchecked rule is at `fail_at` or above, else BELOW."""
    levels = [finding.level for finding in found.findings]
    levels += [rule.level for rule in found.unchecked]
    return FINDINGS if any(level.weight >= fail_at.weight for level in levels) else BELOW


def statuses_of(report: CiReport, fail_at: Level) -> list[int]:
    """The same for each document of a CI report: known and suppressed results do not count."""
    from orderlint.report.ci.model import fails_run  # noqa: PLC0415 - cold start

    return [
        FINDINGS if any(fails_run(result, fail_at) for result in item.results) else BELOW
        for item in report.checked
    ]


def heaviest(statuses: Iterable[int]) -> int:
    """The status for several files. INVARIANT: a heavier outcome has a greater number."""
    return max(statuses, default=BELOW)


def fault_words(error: Exception, file: str | None = None) -> str:
    """One line that says what failed, and that it is no finding. It quotes nothing of the input.

    Of a mistake in a rule file it says where and what, to whoever is changing that file.
    """
    of = f" {file} was not checked:" if file else ""
    if isinstance(error, RuleFileRefused):
        return f"orderlint:{of} a rule file has a mistake. {error}"
    return (
        f"orderlint:{of} the tool itself failed, which is a fault of the tool and not a finding "
        f"about the order ({type(error).__name__} at {_where(error)})."
    )


def _where(error: Exception) -> str:
    """File and line of the innermost of our own frames."""
    from pathlib import Path  # noqa: PLC0415 - cold start

    here, where = Path(__file__).parents[1], "an unknown line"
    trace = error.__traceback__
    while trace is not None:
        path = Path(trace.tb_frame.f_code.co_filename)
        if path.is_relative_to(here):
            where = f"{path.relative_to(here.parent).as_posix()}:{trace.tb_lineno}"
        trace = trace.tb_next
    return where
