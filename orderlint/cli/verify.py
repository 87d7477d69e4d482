"""The verb `verify`: findings on written orders, and what the controller would do under them.

Arguments in, report out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import click

from orderlint.cli.inputs import here, read_input, rulebook_under, shown_name
from orderlint.cli.options import (
    at_option,
    color_option,
    fail_at_option,
    format_option,
    output_option,
    policy_option,
)
from orderlint.cli.outcome import INTERNAL_FAULT, USAGE, fault_words, heaviest, status_of
from orderlint.cli.outputs import CannotWrite, complain, look, same_file, write
from orderlint.cli.progress import watched
from orderlint.finding import Level, Refused

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.rulebook.rule import Rule, Rulebook
    from orderlint.verify import Verified

_EPILOG = """\b
For example:
  orderlint verify order.yaml
  orderlint verify --format json --output found.json first.yaml second.yaml
\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level or above
  2   wrong usage, or a file that could not be read or is not an order
  70  a fault of the tool itself; the order was not checked
Of several files the greatest status counts."""

_OWN_FORMS = ("text", "json")
_SHARED_FORMS = ("sarif", "junit", "line")  # of open standards or common practice, for CI


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What became of each file, in the order given, and the rules that were asked."""

    verified: tuple[Verified, ...] = ()
    refused: tuple[tuple[str, Refused], ...] = ()
    faults: tuple[tuple[str, str], ...] = ()
    rules: Mapping[str, Rule] = field(default_factory=dict)


@click.command("verify", epilog=_EPILOG, short_help="Findings on written orders.")
@click.argument("files", nargs=-1, required=True, metavar="ORDER...")
@format_option(*_OWN_FORMS, *_SHARED_FORMS)
@fail_at_option
@at_option
@policy_option
@color_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    color: str,
    output: str | None,
) -> int:
    """Check each ORDER, a YAML or JSON file or - for standard input.

    The report has findings by level, what the controller would do at each pressure, what could
    not be checked and what was. It asks; it never changes an order.

    For CI it can be SARIF 2.1.0, JUnit XML, or lines file:line:column: level: rule: words; these
    leave out what the controller would do.
    """
    output = None if output == "-" else output
    inputs = files if policy is None else (*files, policy)
    if output is not None and same_file(output, inputs):
        raise click.UsageError("--output is one of the files that are read; it would be lost.")
    if inputs.count("-") > 1:
        raise click.UsageError("Standard input can be read only once.")
    outcome = _outcome_under(policy, files, at)
    _tell(outcome)
    statuses = [status_of(verified, Level(fail_at)) for verified in outcome.verified]
    statuses += [USAGE for _ in outcome.refused] + [INTERNAL_FAULT for _ in outcome.faults]
    try:
        if form in _OWN_FORMS:
            text = _own_form(outcome, form, color, output, at)
        else:
            text = _shared_form(outcome, form, Level(fail_at), output, at)
        write(text, output, None if form == "text" else "utf-8")
    except CannotWrite as error:
        complain(str(error))
        statuses.append(USAGE)
    return heaviest(statuses)


def _outcome_under(policy: str | None, files: tuple[str, ...], at: int) -> _Outcome:
    """What becomes of the files; nothing is checked under a policy that is refused."""
    # Outside the loop: rules of ours that do not load are our fault, and no refusal of a file.
    try:
        rulebook = rulebook_under(policy)
    except Refused as reason:
        if policy is None:
            raise
        return _Outcome(refused=((shown_name(policy), reason),))
    return _check_all(files, at, rulebook)


def _check_all(files: tuple[str, ...], at: int, rulebook: Rulebook) -> _Outcome:
    verified: list[Verified] = []
    refused: list[tuple[str, Refused]] = []
    faults: list[tuple[str, str]] = []
    for file in watched(files):
        name = shown_name(file)
        try:
            verified.append(_check(file, name, at, rulebook))
        except Refused as reason:
            refused.append((name, reason))
        except Exception as error:  # one file's fault keeps no other from being reported
            faults.append((name, fault_words(error, name)))
    return _Outcome(tuple(verified), tuple(refused), tuple(faults), rulebook.rules)


def _check(file: str, name: str, at: int, rulebook: Rulebook) -> Verified:
    from orderlint.verify import verify  # noqa: PLC0415 - cold start

    return verify(read_input(file), name, at, rulebook)


def _tell(outcome: _Outcome) -> None:
    for _, reason in outcome.refused:
        complain(str(reason))
    for _, message in outcome.faults:
        complain(message)


def _own_form(outcome: _Outcome, form: str, color: str, output: str | None, at: int) -> str:
    if form == "text":
        return _as_text(outcome, color, output, at)
    from orderlint.report.as_json import render  # noqa: PLC0415 - cold start

    return render(outcome.verified, outcome.refused, outcome.faults, at)


def _as_text(outcome: _Outcome, color: str, output: str | None, at: int) -> str:
    from orderlint.report.text import render, render_unread  # noqa: PLC0415 - cold start

    painted, width = look(color, output)
    reports = [render(item, color=painted, width=width, at=at) for item in outcome.verified]
    if output is not None:
        # A file is read without what stood on standard error.
        unread = [str(reason) for _, reason in outcome.refused]
        unread += [message for _, message in outcome.faults]
        reports += [render_unread(reason, width) for reason in unread]
    return "\n\n".join(reports)


def _shared_form(outcome: _Outcome, form: str, fail_at: Level, output: str | None, at: int) -> str:
    from orderlint.report.results import of_orders  # noqa: PLC0415 - cold start

    report = of_orders(outcome.verified, outcome.refused, outcome.faults, outcome.rules, at)
    if form == "sarif":
        from orderlint.report.sarif import render  # noqa: PLC0415 - cold start

        return render(report, here())
    if form == "junit":
        from orderlint.report.junit import render as render_junit  # noqa: PLC0415 - cold start

        return render_junit(report, fail_at)
    from orderlint.report.line import render as render_lines  # noqa: PLC0415 - cold start

    return render_lines(report, unread=output is not None)
