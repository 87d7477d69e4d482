"""Runs a verb on several files, one by one: its results, and the files that were not checked.

Never what is made of a file.
"""

from __future__ import annotations

import functools
from itertools import repeat
from typing import TYPE_CHECKING, Generic, NamedTuple, TypeVar

from orderlint.api.renderers import RENDERERS
from orderlint.cli import inputs
from orderlint.cli.exit_status import INTERNAL_FAULT, USAGE, fault_words
from orderlint.cli.outputs import print_errors, text_style
from orderlint.cli.parallel import Workers, can_fork
from orderlint.cli.progress import watched
from orderlint.finding import Finding, Refused
from orderlint.report.unchecked_files import Unread, refused_file

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from orderlint import Result, SitePolicy
    from orderlint.api.policies import Purpose
    from orderlint.api.results import HasUncheckedTexts
    from orderlint.cli.results import Wanted
    from orderlint.report.ci.model import CiReport
    from orderlint.rulebook.rule import Rule

T = TypeVar("T", bound="HasUncheckedTexts")
R = TypeVar("R")

FORMS_FOR_CI = ("sarif", "junit", "line", "markdown")
"""Forms of open standards or common practice, in which any such verb can report."""


class Batch(NamedTuple, Generic[T]):
    """The results of several files in the order given, and the rules that were asked.

    `unread` are the files that were not checked: those refused, then those on which the tool
    failed. Nothing is made under a policy that is refused. `unread_digests` are the SHA-256 of
    those that are documents, None where they were not read whole.
    """

    results: tuple[Result[T], ...] = ()
    unread: tuple[Unread, ...] = ()
    rules: Mapping[str, Rule] = {}
    policy: SitePolicy | None = None
    unread_digests: tuple[str | None, ...] = ()

    def statuses(self) -> list[int]:
        """The exit statuses of the files that were not checked."""
        return [INTERNAL_FAULT if item.is_fault else USAGE for item in self.unread]


class Failed(NamedTuple):
    """A file that was not checked, and its SHA-256; None where it was not read whole."""

    unread: Unread
    digest: str | None


def run_each(
    files: Sequence[str],
    policy: str | None,
    purpose: Purpose,
    make: Callable[[bytes, str, SitePolicy | None], Result[T]],
    jobs: int = 0,
) -> Batch[T]:
    """`make` of each file's bytes, its name and the policy.

    With `jobs`, several files are worked on in processes of their own, that many at a time.

    What fails is said on standard error at the end.
    """
    try:
        site = inputs.read_site_policy(policy)
    except Refused as reason:
        return refused_batch(policy, reason)
    book = inputs.load_rulebook(purpose, site)
    work = functools.partial(_made, make=make, policy=site)
    if jobs and len(files) > 1 and can_fork() and "-" not in files:
        shared = [book, *book.rules.values()]
        found = Workers(work, _lost, shared).each(files, min(jobs, len(files)))
    else:
        found = map(work, files)
    # The file first, so that a bar shows it while it is worked on.
    made = [each for _, each in zip(watched(files, lines=jobs > 0), found, strict=False)]
    return joined(made, book.rules, site)


def _made(
    file: str,
    make: Callable[[bytes, str, SitePolicy | None], Result[T]],
    policy: SitePolicy | None,
) -> Result[T] | Failed:
    name = inputs.shown_name(file)
    data = attempt(name, lambda: inputs.read_input(file))
    if isinstance(data, Failed):
        return data
    return attempt(name, lambda: make(data, name, policy), data)


def attempt(name: str, make: Callable[[], R], data: bytes | None = None) -> R | Failed:
    """What is made of one file or order, or why it was not checked; that stops no other."""
    try:
        return make()
    except Refused as reason:
        return Failed(refused_file(name, reason), inputs.digest_of_whole(data))
    except Exception as error:
        return Failed(
            Unread(name, fault_words(error, name), is_fault=True), inputs.digest_of_whole(data)
        )


def _lost(file: str) -> Failed:
    name = inputs.shown_name(file)
    return Failed(Unread(name, fault_words(MemoryError(), name), is_fault=True), None)


def joined(
    made: Iterable[Result[T] | Failed], rules: Mapping[str, Rule], policy: SitePolicy | None
) -> Batch[T]:
    """The batch of all that was made; what was not checked is said on standard error."""
    results: list[Result[T]] = []
    failed: list[Failed] = []
    for each in made:
        (failed if isinstance(each, Failed) else results).append(each)  # type: ignore[arg-type]
    failed.sort(key=lambda each: each.unread.is_fault)
    unread = tuple(each.unread for each in failed)
    if unread:
        print_errors(*map(str, unread))
    return Batch(tuple(results), unread, rules, policy, tuple(each.digest for each in failed))


def refused_batch(file: str | None, reason: Refused) -> Batch[T]:
    """Nothing is checked, as a file is refused by which all else is judged; that is said."""
    unread = refused_file(inputs.shown_name(file or ""), reason)
    print_errors(str(unread))
    return Batch(unread=(unread,))


def ci_report_of(verb: str, batch: Batch[T], at: int, **given: object) -> CiReport:
    """The CI model of all files. `given` is what else the renderer takes."""
    found = [result.found for result in batch.results]
    more = {"unread": batch.unread, "rules": batch.rules, "at": at, **given}
    report: CiReport = RENDERERS[verb, "results"](found, more)
    return report


def for_ci(results: CiReport, wanted: Wanted) -> str:
    """A report in one of FORMS_FOR_CI; a file also gets what standard error shows."""
    beside = {
        "here": inputs.here(),
        "fail_at": wanted.fail_at,
        "unread": wanted.output is not None,
    }
    text: str = RENDERERS["results", wanted.form](results, beside)
    return text


def report_batch(
    verb: str,
    batch: Batch[T],
    wanted: Wanted,
    at: int,
    known: Sequence[Collection[Finding]] | None = None,
) -> str:
    """The report on all files as text, json or html.

    `known` has for each result the findings that stood in the baseline of a review.
    """
    if wanted.form == "text":
        return _text(batch, wanted, repeat(()) if known is None else known)
    beside = {"unread": batch.unread, "at": at, "known": known}
    if wanted.form == "html":
        contents = [content for result in batch.results for content in result.contents]
        beside["digests"] = {content.name: content.digest for content in contents}
    found = [result.found for result in batch.results]
    text: str = RENDERERS[verb, wanted.form](found, beside)
    return text


def _text(batch: Batch[T], wanted: Wanted, known: Iterable[Collection[Finding]]) -> str:
    """Reports as one text; a file also gets what standard error shows."""
    colored, width = text_style(wanted.color, wanted.output)
    style = {"color": colored, "width": width, "detail": wanted.detail}
    reports = [
        result.render("text", known=old, **style)
        for result, old in zip(batch.results, known, strict=False)
    ]
    if wanted.output is not None:
        unread = RENDERERS["unread", "text"]
        reports += [unread(item, style) for item in batch.unread]
    return "\n\n".join(reports)
