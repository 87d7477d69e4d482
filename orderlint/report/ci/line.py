"""Writes a report as lines `file:line:column: level: rule: words`, which editors and CI parse.

The form is that of error messages in the GNU coding standards. A line is never broken in two.
"""

from __future__ import annotations

from orderlint.report.ci.model import CiReport, CiResult, finding_and_question, suppression_words
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION, SEVERITIES

TOOL = "orderlint"
"""With this name begins each line that is of no place in a file."""


def render(report: CiReport, *, unread: bool) -> str:
    """A line for each result, then what was checked and by what; ends in a line feed.

    With `unread` the files that were not checked have a line each, too.
    """
    lines = []
    for checked in report.checked:
        lines += [f"{TOOL}: {checked.file}: {text}" for text in checked.warnings]
        lines += map(_result, checked.results)
    for item in report.unread if unread else ():
        # The words for a fault of the tool name the tool and the file already.
        refused = f"{item.place or item.file}: error: {item.reason}"
        lines.append(item.message if item.is_fault else refused)
    lines += [
        f"{TOOL}: {checked.file}: {text}" for checked in report.checked for text in checked.basis
    ]
    lines.append(f"{TOOL}: {CAUTION}")
    return "".join(f"{safe(line)}\n" for line in lines)


def _result(result: CiResult) -> str:
    finding = result.finding
    level, words = SEVERITIES[finding.level], finding_and_question(finding)
    if result.suppressed:
        level, words = "note", f"{suppression_words(result.suppressed)} {words}"
    elif result.known:
        level, words = "note", f"Known already. {words}"
    element = f" ({finding.place.element})" if finding.place.element else ""
    return f"{finding.place}: {level}: {finding.about}: {words}{element}"
