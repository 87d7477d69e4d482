"""Files one by one: what was made of each, which were refused, and on which the tool failed.

For verbs that take several. Never what is made of a file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, NamedTuple, TypeVar

from orderlint.cli.exit_status import INTERNAL_FAULT, USAGE, fault_words
from orderlint.cli.inputs import here, shown_name
from orderlint.cli.outputs import print_errors
from orderlint.cli.progress import watched
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from orderlint.finding import Level
    from orderlint.report.ci.results import Report
    from orderlint.rulebook.rule import Rule, Rulebook

T = TypeVar("T")

FORMS_FOR_CI = ("sarif", "junit", "line")
"""Forms of open standards or common practice, in which any such verb can report."""


class Each(NamedTuple, Generic[T]):
    """What became of each file, in the order given.

    `refused` are file names with why, `faults` file names with the words for our own failure.
    """

    made: tuple[T, ...] = ()
    refused: tuple[tuple[str, Refused], ...] = ()
    faults: tuple[tuple[str, str], ...] = ()

    def unread(self) -> list[str]:
        """Why files were not checked, a message each."""
        return [str(reason) for _, reason in self.refused] + [words for _, words in self.faults]

    def statuses(self) -> list[int]:
        """The exit statuses of the files that were not checked."""
        return [USAGE for _ in self.refused] + [INTERNAL_FAULT for _ in self.faults]


def each(
    files: Sequence[str],
    policy: str | None,
    rulebook_of: Callable[[str | None], Rulebook],
    make: Callable[[str, str, Rulebook], T],
) -> tuple[Each[T], Mapping[str, Rule]]:
    """`make` of each file, its name and the rulebook; and the rules that were asked.

    Nothing is made under a policy that is refused. What fails is said on standard error at the end.
    """
    try:
        rulebook = rulebook_of(policy)
    except Refused as reason:
        if policy is None:  # rules of ours that do not load are our fault, and no refusal of a file
            raise
        found: Each[T] = Each(refused=((shown_name(policy), reason),))
        print_errors(*found.unread())
        return found, {}
    made: list[T] = []
    refused: list[tuple[str, Refused]] = []
    faults: list[tuple[str, str]] = []
    for file in watched(files):
        name = shown_name(file)
        try:
            made.append(make(file, name, rulebook))
        except Refused as reason:
            refused.append((name, reason))
        except Exception as error:  # one file's fault keeps no other from being reported
            faults.append((name, fault_words(error, name)))
    found = Each(tuple(made), tuple(refused), tuple(faults))
    if found.unread():
        print_errors(*found.unread())
    return found, rulebook.rules


def for_ci(form: str, report: Report, fail_at: Level, output: str | None) -> str:
    """A report in one of FORMS_FOR_CI; in a file it names what stood on standard error as well."""
    if form == "sarif":
        from orderlint.report.ci.sarif import render  # noqa: PLC0415 - cold start

        return render(report, here())
    if form == "junit":
        from orderlint.report.ci.junit import render as render_junit  # noqa: PLC0415 - cold start

        return render_junit(report, fail_at)
    from orderlint.report.ci.line import render as render_lines  # noqa: PLC0415 - cold start

    return render_lines(report, unread=output is not None)


def joined(reports: Sequence[str], found: Each[T], output: str | None, width: int) -> str:
    """Reports as one text; a file is read without what stood on standard error."""
    if output is None:
        return "\n\n".join(reports)
    from orderlint.report.order.text import render_unread  # noqa: PLC0415 - cold start

    return "\n\n".join([*reports, *(render_unread(words, width) for words in found.unread())])
