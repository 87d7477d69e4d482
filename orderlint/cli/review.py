"""The verb `review`: the proof of an order set, or the nearest order that breaks each rule.

Arguments in, report out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import click

from orderlint.cli.certificates import certificate_of
from orderlint.cli.certificates import recheck as check_again
from orderlint.cli.inputs import here, policy_rulebook, read_input, shown_name
from orderlint.cli.options import (
    at_option,
    color_option,
    fail_at_option,
    format_option,
    output_option,
    policy_option,
)
from orderlint.cli.outcome import BELOW, FINDINGS, INTERNAL_FAULT, USAGE, fault_words, heaviest
from orderlint.cli.outputs import CannotWrite, complain, look, same_file, write
from orderlint.cli.progress import watched
from orderlint.finding import Level, Refused

if TYPE_CHECKING:
    from orderlint.baseline import Baseline
    from orderlint.report.results import Checked
    from orderlint.review import Reviewed
    from orderlint.rulebook.rule import Rulebook

_EPILOG = """\b
For example:
  orderlint review set.yaml
  orderlint review --format sarif --output review.sarif sets/*.yaml
  orderlint review --baseline accepted.json sets/*.yaml
\b
Exit status:
  0   nothing at the level of --fail-at or above, but what stood in the baseline
  1   a finding, or a rule that some order may leave unchecked, at that level
  2   wrong usage, or a file that could not be read or is not an order set
  70  a fault of the tool itself; nothing was proved"""


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What became of each file, in the order given."""

    reviewed: tuple[Reviewed, ...] = ()
    refused: tuple[tuple[str, Refused], ...] = ()
    faults: tuple[tuple[str, str], ...] = field(default=())


@click.command("review", epilog=_EPILOG, short_help="Proof of order sets, or what breaks them.")
@click.argument("files", nargs=-1, required=True, metavar="ORDERSET...")
@format_option("text", "json", "sarif", "junit", "line")
@click.option(
    "--baseline",
    metavar="FILE",
    help="An earlier --format json report: what stood in it is marked, and does not count.",
)
@click.option(
    "--certificate",
    metavar="FILE",
    help="Write what is needed to check the proofs of one set again, without a solver.",
)
@click.option(
    "--recheck",
    metavar="FILE",
    help="Check the proofs of one set by such a certificate, and write nothing else.",
)
@fail_at_option
@at_option
@policy_option
@color_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    form: str,
    baseline: str | None,
    certificate: str | None,
    recheck: str | None,
    fail_at: str,
    at: int,
    policy: str | None,
    color: str,
    output: str | None,
) -> int:
    """Review each ORDERSET, a YAML or JSON file or - for standard input.

    Each rule is proved over every order that can be signed from the set, in two ways that must
    agree, or the nearest order to the presets that breaks it is shown.
    """
    output = None if output == "-" else output
    inputs = [*files, *(name for name in (policy, baseline, recheck) if name is not None)]
    for written, name in ((output, "--output"), (certificate, "--certificate")):
        if written is not None and same_file(written, inputs):
            raise click.UsageError(f"{name} is one of the files that are read; it would be lost.")
    if (certificate or recheck) and len(files) > 1:
        raise click.UsageError("A certificate is of one order set.")
    if inputs.count("-") > 1:
        raise click.UsageError("Standard input can be read only once.")
    try:
        known = _baseline(baseline)
        rulebook = _rulebook(policy)
    except Refused as reason:
        complain(str(reason))
        return USAGE
    if recheck is not None:
        return check_again(recheck, files[0], policy, rulebook)
    outcome = _review_all(files, at, rulebook)
    for message in (
        *(str(reason) for _, reason in outcome.refused),
        *(m for _, m in outcome.faults),
    ):
        complain(message)
    checked = _checked(outcome, known, rulebook, at)
    statuses = [_status(item, Level(fail_at)) for item in checked]
    statuses += [USAGE for _ in outcome.refused] + [INTERNAL_FAULT for _ in outcome.faults]
    try:
        if certificate is not None and outcome.reviewed:
            write(
                certificate_of(outcome.reviewed[0], files[0], policy, rulebook),
                certificate,
                "utf-8",
            )
        text = _as(form, outcome, checked, rulebook, Level(fail_at), color, output, at)
        write(text, output, None if form == "text" else "utf-8")
    except CannotWrite as error:
        complain(str(error))
        statuses.append(USAGE)
    return heaviest(statuses)


def _baseline(file: str | None) -> Baseline | None:
    if file is None:
        return None
    from orderlint.baseline import LARGEST_REPORT, read_baseline  # noqa: PLC0415 - cold start

    return read_baseline(read_input(file, LARGEST_REPORT), shown_name(file))


def _rulebook(policy: str | None) -> Rulebook:
    if policy is not None:
        return policy_rulebook(policy)
    from orderlint.rulebook.load import at_hand_for_sets  # noqa: PLC0415 - cold start

    return at_hand_for_sets()


def _review_all(files: tuple[str, ...], at: int, rulebook: Rulebook) -> _Outcome:
    from orderlint.review import review  # noqa: PLC0415 - cold start

    reviewed: list[Reviewed] = []
    refused: list[tuple[str, Refused]] = []
    faults: list[tuple[str, str]] = []
    for file in watched(files):
        name = shown_name(file)
        try:
            reviewed.append(review(read_input(file), name, at, rulebook))
        except Refused as reason:
            refused.append((name, reason))
        except Exception as error:  # one file's fault keeps no other from being reported
            faults.append((name, fault_words(error, name)))
    return _Outcome(tuple(reviewed), tuple(refused), tuple(faults))


def _checked(
    outcome: _Outcome, known: Baseline | None, rulebook: Rulebook, at: int
) -> list[Checked]:
    from orderlint.report.results import beside  # noqa: PLC0415 - cold start
    from orderlint.report.review_results import of_set  # noqa: PLC0415 - cold start
    from orderlint.report.safe import safe  # noqa: PLC0415 - cold start

    made = [of_set(item, rulebook.rules, at) for item in outcome.reviewed]
    return [beside(item, known, safe(item.file)) for item in made] if known else made


def _status(checked: Checked, fail_at: Level) -> int:
    from orderlint.report.results import counts  # noqa: PLC0415 - cold start

    return FINDINGS if any(counts(result, fail_at) for result in checked.results) else BELOW


def _as(  # noqa: PLR0913, PLR0917 - one parameter an option
    form: str,
    outcome: _Outcome,
    checked: list[Checked],
    rulebook: Rulebook,
    fail_at: Level,
    color: str,
    output: str | None,
    at: int,
) -> str:
    if form == "json":
        from orderlint.report.review_json import render  # noqa: PLC0415 - cold start

        return render(outcome.reviewed, outcome.refused, outcome.faults, at)
    if form == "text":
        return _as_text(outcome, checked, color, output, at)
    from orderlint.report.results import Report, unread  # noqa: PLC0415 - cold start

    rules = {r.id: r for r in rulebook.rules.values() if r.found_by not in {"policy", "check"}}
    report = Report(tuple(checked), unread(outcome.refused, outcome.faults), rules)
    if form == "sarif":
        from orderlint.report.sarif import render as render_sarif  # noqa: PLC0415 - cold start

        return render_sarif(report, here())
    if form == "junit":
        from orderlint.report.junit import render as render_junit  # noqa: PLC0415 - cold start

        return render_junit(report, fail_at)
    from orderlint.report.line import render as render_lines  # noqa: PLC0415 - cold start

    return render_lines(report, unread=output is not None)


def _as_text(
    outcome: _Outcome, checked: list[Checked], color: str, output: str | None, at: int
) -> str:
    from orderlint.report.review_text import render  # noqa: PLC0415 - cold start
    from orderlint.report.text import render_unread  # noqa: PLC0415 - cold start

    painted, width = look(color, output)
    reports = []
    for item, results in zip(outcome.reviewed, checked, strict=True):
        known = {id(result.finding) for result in results.results if result.known}
        reports.append(render(item, color=painted, width=width, at=at, known=known))
    if output is not None:
        unread = [str(reason) for _, reason in outcome.refused]
        unread += [message for _, message in outcome.faults]
        reports += [render_unread(reason, width) for reason in unread]
    return "\n\n".join(reports)
