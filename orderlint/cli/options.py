"""The options that verbs share, and the parsing of a time.

Each is defined here once. Never what a verb does with it.
"""

from __future__ import annotations

import functools
import sys
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeAlias

import click

from orderlint.cli.output_files import is_stream, same_file
from orderlint.cli.parallel import cores
from orderlint.cli.results import Wanted
from orderlint.finding import Level
from orderlint.language.budget import USUAL

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    Decorator: TypeAlias = Callable[[Callable[..., Any]], Callable[..., Any]]


class _File(click.Path):
    """A file name, completed by the shell; errors appear when it is opened."""

    def convert(self, value: Any, *_: object) -> Any:
        return value


FILE = _File()


def instant_of(text: str) -> int:
    """Milliseconds since 1970 UTC. Raises BadParameter for what is no time with its offset."""
    from orderlint.api.instants import is_conceivable  # noqa: PLC0415 - cold start
    from orderlint.units import has_offset, parse_instant  # noqa: PLC0415 - cold start

    instant = parse_instant(text)
    if instant is None:
        what = "is no date of the calendar" if has_offset(text) else "is not a date and time"
        raise click.BadParameter(
            f"{text!r} {what} with its offset, such as 2026-03-02T14:10:00-06:00."
        )
    if not is_conceivable(instant):
        raise click.BadParameter(f"{text!r} is no time at which an order can be checked.")
    return instant


def present() -> int:
    """The present second. Raises UsageError where the clock shows no conceivable time."""
    from orderlint.api.instants import present_instant  # noqa: PLC0415 - cold start

    try:
        return present_instant()
    except ValueError as error:
        raise click.UsageError(f"{str(error).capitalize()}; give the time with --at.") from None


def clock_of(at: int) -> Callable[[], int]:
    """The time at which something is judged: that of --at where it is given, else the present."""
    source = click.get_current_context().get_parameter_source("at")
    is_fixed = source is not click.core.ParameterSource.DEFAULT
    return (lambda: at) if is_fixed else present


def _instant(ctx: click.Context, _option: click.Parameter, text: str | None) -> int | None:
    if ctx.resilient_parsing:  # a shell completes a word, and nothing is judged
        return None
    return present() if text is None else instant_of(text)


def datetime_of(instant: int) -> datetime:
    """The datetime in UTC at `instant`, milliseconds since 1970 UTC."""
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=instant)


def file_option(name: str, words: str, *more: str, metavar: str = "FILE") -> Decorator:
    """An option that names a file; `more` is another name of its parameter."""
    return click.option(name, *more, metavar=metavar, type=FILE, help=words)


def number_option(  # noqa: PLR0913 - what a number may be
    name: str,
    words: str,
    *,
    default: int | Callable[[], int],
    least: int = 1,
    most: int | None = None,
    metavar: str = "N",
    shown: bool | str = True,
) -> Decorator:
    """An option that takes a whole number; `shown` is how its default is shown, if it is."""
    kind = click.IntRange(least, most)
    return click.option(
        name, metavar=metavar, type=kind, default=default, show_default=shown, help=words
    )


def format_option(*forms: str) -> Decorator:
    """--format, of these forms; the first if it is not given."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(forms),
        default=forms[0],
        show_default=True,
        help="How the report is written.",
    )


def port_option(words: str) -> Decorator:
    """--port of a verb that listens, a free one if it is not given."""
    return number_option("--port", words, least=0, most=65535, default=0)


fail_at: Decorator = click.option(
    "--fail-at",
    type=click.Choice([level.value for level in Level]),
    default=Level.CLARIFY.value,
    show_default=True,
    help="The lowest level at which the exit status is 1.",
)
at: Decorator = click.option(
    "--at",
    metavar="TIME",
    callback=_instant,
    help="Judge as of this time, ISO 8601 with an offset; now, if not given.",
)
policy = file_option("--policy", "A site policy; the built-in one, if not given.")
concept_map = file_option(
    "--concept-map",
    "A ConceptMap of FHIR: which codes of a site are which settings, in a resource.",
)
color: Decorator = click.option(
    "--color",
    type=click.Choice(["auto", "always", "never"]),
    default="auto",
    show_default=True,
    help="Colour in text; it only repeats what the words say.",
)
detail: Decorator = click.option(
    "--detail",
    is_flag=True,
    help="Text with all: the picture, what the order does at each pressure, sources.",
)
in_ascii: Decorator = click.option(
    "--ascii",
    "in_ascii",
    is_flag=True,
    help="Text and its picture in ASCII characters alone.",
)
effort = number_option(
    "--effort",
    "How many million steps the proofs of a run may take; what is then open is said to be.",
    metavar="MILLIONS",
    default=USUAL,
)
jobs = number_option(
    "--jobs",
    "Work on so many files at a time; the report is the same.",
    default=cores,
    shown="as many as there are processors",
)
output = file_option(
    "--output",
    "Write the report to this file, whole or not at all; standard output, if not given.",
)
against: Decorator = click.option(
    "--against",
    metavar="REV",
    help="Compare with this file or, if there is none, with that revision in git.",
)
record = file_option(
    "--record", "Append a line of JSON on each check to this file, without texts or names."
)


def report_options(*more: Decorator, has_color: bool = True, has_detail: bool = False) -> Decorator:
    """The options of every verb that reports, `more` before --output.

    The command is called with `at`, `policy` and, for the others and --format, `wanted`.
    """
    style = [*([detail] if has_detail else []), *([color] if has_color else [])]
    options = [fail_at, at, policy, *style, *more, output]

    def decorate(command: Callable[..., int]) -> Callable[..., int]:
        @functools.wraps(command)
        def called(  # noqa: PLR0913, PLR0917 - one parameter an option
            form: str,
            fail_at: str,
            output: str | None,
            color: str = "never",
            detail: bool = False,
            record: str | None = None,
            **given: object,
        ) -> int:
            wanted = Wanted(form, Level(fail_at), output, color, detail, record)
            return command(wanted=wanted, **given)

        with_options: Callable[..., int] = called
        for option in reversed(options):
            with_options = option(with_options)
        return with_options

    return decorate


def checked_output(
    output: str | None, inputs: Iterable[str | None], what: str = "--output"
) -> str | None:
    """The file to write to, None for standard output.

    UsageError where it is one of those that are read, or standard input would be read twice.
    """
    files = [name for name in inputs if name is not None]
    if files.count("-") > 1:
        raise click.UsageError("Standard input can be read only once.")
    if output is None or output == "-" or is_stream(output, sys.stdout):
        return None
    if not output:
        raise click.UsageError(f"{what} names no file; for standard output, leave it out.")
    if same_file(output, files):
        raise click.UsageError(f"{what} is one of the files that are read; it would be lost.")
    return output
