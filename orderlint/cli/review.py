"""The verb `review`: the proof of an order set, or the nearest order that breaks each rule.

Arguments in, report out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.cli.batch import FORMS_FOR_CI, each, for_ci, joined
from orderlint.cli.certificates import certificate_of, rulebook_with_digest
from orderlint.cli.certificates import recheck as check_again
from orderlint.cli.exit_status import BELOW, FINDINGS, USAGE, heaviest
from orderlint.cli.inputs import digest_of, read_input, shown_name
from orderlint.cli.options import (
    FILE,
    at_option,
    color_option,
    fail_at_option,
    format_option,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.outputs import CannotWrite, print_errors, text_style, write
from orderlint.finding import Level, Refused

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.cli.batch import Each
    from orderlint.finding import Finding
    from orderlint.report.ci.baseline import Baseline
    from orderlint.report.ci.results import Report
    from orderlint.rulebook.rule import Rulebook
    from orderlint.set_review import Reviewed

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


@click.command("review", epilog=_EPILOG, short_help="Proof of order sets, or what breaks them.")
@click.argument("files", nargs=-1, required=True, metavar="ORDERSET...", type=FILE)
@format_option("text", "json", "html", *FORMS_FOR_CI)
@click.option(
    "--baseline",
    metavar="FILE",
    type=FILE,
    help="An earlier --format json report: what stood in it is marked, and does not count.",
)
@click.option(
    "--certificate",
    metavar="FILE",
    type=FILE,
    help="Write what is needed to check the proofs of one set again, without a solver.",
)
@click.option(
    "--recheck",
    metavar="FILE",
    type=FILE,
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
    inputs = (*files, policy, baseline, recheck)
    output = output_beside(output, inputs)
    kept = output_beside(certificate, (*inputs, output), "--certificate")
    if (certificate or recheck) and (len(files) > 1 or "-" in files):
        raise click.UsageError("A certificate is of one order set, in a file.")
    try:
        if recheck is not None:
            return check_again(recheck, files[0], policy)
        known = _baseline(baseline)
    except (Refused, CannotWrite) as reason:
        print_errors(str(reason))
        return USAGE

    digests: dict[str, str] = {}
    of_policy = ""

    def rulebook_of(policy: str | None) -> Rulebook:
        nonlocal of_policy
        rulebook, of_policy = rulebook_with_digest(policy)
        return rulebook

    def reviewed(file: str, name: str, rulebook: Rulebook) -> Reviewed:
        from orderlint.set_review import review  # noqa: PLC0415 - cold start

        data = read_input(file)
        digests[name] = digest_of(data)
        return review(data, name, at, rulebook)

    found, _ = each(files, policy, rulebook_of, reviewed)
    from orderlint.report.ci.results import counts  # noqa: PLC0415 - cold start
    from orderlint.report.review.results import of_sets  # noqa: PLC0415 - cold start

    report = of_sets(*found, at, known)
    statuses = [
        FINDINGS if any(counts(result, Level(fail_at)) for result in item.results) else BELOW
        for item in report.checked
    ]
    statuses += found.statuses()
    try:
        if kept is not None and found.made:
            made = found.made[0]
            write(certificate_of(made, digests[made.file], of_policy), kept, "utf-8")
        if form in FORMS_FOR_CI:
            text = for_ci(form, report, Level(fail_at), output)
        elif form == "html":
            text = _page(found, report, digests, at)
        else:
            text = _own_form(found, report, form, color, output, at)
        write(text, output, None if form == "text" else "utf-8")
    except CannotWrite as error:
        print_errors(str(error))
        statuses.append(USAGE)
    return heaviest(statuses)


def _baseline(file: str | None) -> Baseline | None:
    if file is None:
        return None
    from orderlint.report.ci.baseline import LARGEST_REPORT, read_baseline  # noqa: PLC0415 - cold start

    return read_baseline(read_input(file, LARGEST_REPORT), shown_name(file))


def _page(found: Each[Reviewed], report: Report, digests: Mapping[str, str], at: int) -> str:
    from orderlint.report.review.page import render  # noqa: PLC0415 - cold start

    return render(found.made, _known(report), found.unread(), digests, at)


def _known(report: Report) -> list[set[Finding]]:
    """Of each set the findings that stood in the baseline."""
    return [{result.finding for result in i.results if result.known} for i in report.checked]


def _own_form(  # noqa: PLR0913, PLR0917 - one parameter an option
    found: Each[Reviewed], report: Report, form: str, color: str, output: str | None, at: int
) -> str:
    if form == "json":
        from orderlint.report.review.json import render  # noqa: PLC0415 - cold start

        return render(*found, at)
    from orderlint.report.review.text import render as render_text  # noqa: PLC0415 - cold start

    painted, width = text_style(color, output)
    reports = []
    for item, known in zip(found.made, _known(report), strict=True):
        reports.append(render_text(item, known, color=painted, width=width, at=at))
    return joined(reports, found, output, width)
