"""The verb `review`: proves an order set, or finds the nearest order that breaks each rule.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import click

import orderlint
from orderlint.cli import options
from orderlint.cli.batch import FORMS_FOR_CI, Batch, ci_report_of, for_ci, report_batch, run_each
from orderlint.cli.exit_status import USAGE, heaviest, statuses_of
from orderlint.cli.inputs import read_codes, read_input, read_site_policy, shown_name
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors
from orderlint.cli.progress import watched
from orderlint.cli.record import check_record, record_batch
from orderlint.own_files import CannotWrite

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from orderlint import Result, SitePolicy
    from orderlint.cli.results import Wanted
    from orderlint.finding import Finding
    from orderlint.report.ci.baseline import Baseline
    from orderlint.report.ci.model import CiReport
    from orderlint.report.review.ci_results import EarlierSets
    from orderlint.set_review import Reviewed

_EPILOG = """\b
For example:
  orderlint review set.yaml
  orderlint review --format sarif --output review.sarif sets/*.yaml
  orderlint review --format baseline --output accepted.json sets/*.yaml
  orderlint review --against main --format markdown sets/*.yaml

\b
Exit status:
  0   nothing at the level of --fail-at or above, but what is known already
  1   a finding, or a rule that some order may leave unchecked, at that level
  2   wrong usage, or a file that could not be read or is not an order set
  70  a fault of the tool itself; nothing was proved"""


@click.command("review", epilog=_EPILOG, short_help="Proof of order sets, or what breaks them.")
@click.argument("files", nargs=-1, required=True, metavar="ORDERSET...", type=options.FILE)
@options.format_option("text", "json", "html", *FORMS_FOR_CI, "baseline")
@options.file_option(
    "--baseline",
    "What --format baseline wrote: the findings in it are marked, and do not count.",
)
@options.file_option(
    "--certificate",
    "Write what is needed to check the proofs of one set again, without a solver.",
)
@options.file_option(
    "--recheck", "Check the proofs of one set by such a certificate, and write nothing else."
)
@options.report_options(
    options.concept_map,
    options.against,
    options.effort,
    options.jobs,
    options.record,
    has_detail=True,
)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    baseline: str | None,
    certificate: str | None,
    recheck: str | None,
    against: str | None,
    at: int,
    policy: str | None,
    concept_map: str | None,
    effort: int,
    jobs: int,
    wanted: Wanted,
) -> int:
    """Review each ORDERSET: YAML or JSON, a Questionnaire of FHIR R4, or - for standard input.

    Each rule is proved over every order that can be signed from the set, in two ways that must
    agree, or the nearest order to the presets that breaks it is shown. With --against, what the
    earlier sets were told too is marked, and does not count.
    """
    inputs = (*files, policy, concept_map, baseline, recheck, against)
    wanted = wanted._replace(output=options.checked_output(wanted.output, inputs))
    kept = options.checked_output(certificate, (*inputs, wanted.output), "--certificate")
    check_record(wanted.record, (*inputs, kept, wanted.output))
    if (certificate or recheck) and (len(files) > 1 or "-" in files):
        raise click.UsageError("A certificate is of one order set, in a file.")
    _check_together(baseline and against, recheck and wanted.record)
    if recheck is not None:
        from orderlint.cli.certificates import recheck_set  # noqa: PLC0415

        return recheck_set(recheck, files[0], policy, concept_map)
    codes = read_codes(concept_map)
    review = functools.partial(
        orderlint.review, at=options.datetime_of(at), concept_map=codes, effort=effort
    )
    known = _baseline(baseline) if against is None else _known_in(against, files, policy, review)
    make = _reviewer(review, is_only=len(files) == 1)
    batch = run_each(files, policy, "order-set", make, jobs)
    return _report(batch, at, wanted, known, kept)


def _check_together(two_known: object, recorded_recheck: object) -> None:
    """Raise UsageError where options are given together that cannot be."""
    if two_known:
        raise click.UsageError("What is known is either --baseline, or what --against has.")
    if recorded_recheck:
        raise click.UsageError("--recheck writes nothing else, so that --record has nothing.")


def _reviewer(
    review: Callable[..., Result[Reviewed]], *, is_only: bool
) -> Callable[[bytes, str, SitePolicy | None], Result[Reviewed]]:
    """A review of one set; of the only one it is shown how many rules are proved."""
    if not is_only:  # so that each process has them that is copied from this one
        from orderlint.proof.solver import minimal_counterexample, reachable_options, sound_orders  # noqa: F401, PLC0415

    def make(data: bytes, name: str, site: SitePolicy | None) -> Result[Reviewed]:
        each = watched if is_only else iter
        return review(data, name=name, policy=site, watched=each)

    return make


def _report(
    batch: Batch[Reviewed],
    at: int,
    wanted: Wanted,
    known: Baseline | EarlierSets | None,
    certificate: str | None,
) -> int:
    """Write the report on the sets, and a certificate if asked for; the exit status."""
    results = ci_report_of("review", batch, at, known=known)
    statuses = [*statuses_of(results, wanted.fail_at), *batch.statuses()]
    try:
        if certificate is not None and batch.results:
            from orderlint.cli.certificates import certificate_of  # noqa: PLC0415 - cold start

            write(certificate_of(batch.results[0], batch.policy), certificate, "utf-8")
        if wanted.form in {*FORMS_FOR_CI, "baseline"}:
            text = for_ci(results, wanted)
        else:
            text = report_batch("review", batch, wanted, at, _known(results))
        write(text, wanted.output, wanted.encoding)
    except CannotWrite as error:
        print_errors(str(error))
        statuses = [heaviest((status, USAGE)) for status in statuses]
    return heaviest([*statuses, record_batch(wanted.record, "review", batch, statuses, at)])


def _baseline(file: str | None) -> Baseline | None:
    if file is None:
        return None
    from orderlint.report.ci.baseline import LARGEST_BASELINE, read_baseline  # noqa: PLC0415 - cold start

    return read_baseline(read_input(file, LARGEST_BASELINE), shown_name(file))


def _known_in(
    against: str,
    files: Sequence[str],
    policy: str | None,
    review: Callable[..., Result[Reviewed]],
) -> EarlierSets:
    """What each file's earlier set was told, by the policy as it was then.

    Of a set that was not there nothing is known. Raises Refused for one that cannot be read, since
    what is new could not be told.
    """
    from orderlint.cli.revisions import earlier_policy, read_earlier  # noqa: PLC0415 - few need git
    from orderlint.report.review.ci_results import EarlierSets, earlier_review  # noqa: PLC0415

    site, notes = read_site_policy(policy), []
    if as_it_was := earlier_policy(against, policy):
        site = orderlint.load_policy(as_it_was.data, name=as_it_was.name)
        notes.append(
            f"The policy {policy} is not as it was in {against}. Earlier sets are judged by it as "
            "it was; what only the policy of now finds counts as new."
        )
    in_each = tuple(notes)
    reviews = {}
    for file in files:
        earlier = read_earlier(against, file)
        if earlier is None:
            notes.append(f"{file} was not there in {against}: all of it is new.")
            continue
        result = review(earlier.data, name=earlier.name, policy=site)
        reviews[file] = earlier_review(result.found)
    if notes:
        print_errors(*notes)
    return EarlierSets(reviews, in_each)


def _known(report: CiReport) -> list[set[Finding]]:
    """Of each set the findings that stood in the baseline."""
    return [{result.finding for result in i.results if result.known} for i in report.checked]
