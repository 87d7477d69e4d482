"""Writes the report of a result where the options want it, and returns the exit status.

For verbs that report on one order, or on two that they compare. Never what the report says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.api.renderers import RENDERERS
from orderlint.cli.exit_status import heaviest, status_of
from orderlint.cli.output_files import write
from orderlint.cli.outputs import text_style

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint import Result
    from orderlint.assessment import Assessment
    from orderlint.finding import Level


class Wanted(NamedTuple):
    """The options on the report of a verb.

    `form` is the format, `fail_at` a level, `color` auto, always or never; `output` is a file, or
    None for standard output. With `detail`, a text has what else a page has. `record` is a file to
    which a line on the check is appended.
    """

    form: str
    fail_at: Level
    output: str | None
    color: str = "never"
    detail: bool = False
    record: str | None = None

    @property
    def encoding(self) -> str | None:
        """That of the report; text has the terminal's."""
        return None if self.form == "text" else "utf-8"


def report(result: Result[Any], wanted: Wanted, also: Iterable[Assessment] = ()) -> int:
    """Write the report of a result and return the exit status. Raises CannotWrite.

    `also` is what else counts for the exit status.
    """
    write_result(result, wanted)
    return heaviest(status_of(part, wanted.fail_at) for part in (result.assessment, *also))


def write_result(result: Result[Any], wanted: Wanted, *, private: bool = False) -> bool:
    """Write the report of one result, if `private` for its owner alone. Raises CannotWrite.

    False where the reader of standard output has gone before its end.
    """
    if wanted.form == "text":
        colored, width = text_style(wanted.color, wanted.output)
        text = result.to_text(width, color=colored, detail=wanted.detail)
    else:
        text = _rendered(result, wanted)
    return write(text, wanted.output, wanted.encoding, private=private)


def _rendered(result: Result[Any], wanted: Wanted) -> str:
    """The report in a format of the verb, or in one for CI that is made of its results."""
    if (result.verb, wanted.form) in RENDERERS:
        return result.render(wanted.form)
    from orderlint.cli.batch import for_ci  # noqa: PLC0415 - few verbs have such formats

    model: Any = result.render("results", known=None)
    return for_ci(model, wanted)
