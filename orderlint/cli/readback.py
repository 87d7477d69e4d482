"""The verb `readback`: asks blind for what is seen at the bedside, then compares it with an order.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from pathlib import Path

import click

from orderlint.api.results import Result
from orderlint.cli.exit_status import USAGE, heaviest, status_of
from orderlint.cli.inputs import load_rulebook, read_content, read_site_policy
from orderlint.cli.options import (
    FILE,
    checked_output,
    format_option,
    report_options,
)
from orderlint.cli.outputs import CannotWrite, print_errors
from orderlint.cli.results import Wanted, write_result
from orderlint.finding import Refused

_EPILOG = """\b
For example:
  orderlint readback order.yaml
  orderlint readback order.yaml --resume order.read-back-kept.json
  orderlint readback order.yaml seen.yaml --set pause.upper='22 mmHg'

\b
Exit status:
  0    nothing at the level of --fail-at or above
  1    a difference or a finding, or a rule that could not be checked, at
       that level or above
  2    wrong usage, a file that could not be read or is not what it says, or
       a report that could not be written
  3    stopped before all was entered: by `stop`, at the end of input, or as
       nobody could read the questions; nothing was compared
  70   a fault of the tool itself; there is no comparison
  130  the same as 3, by an interrupt"""


def _settings(
    _ctx: click.Context, _option: click.Parameter, given: tuple[str, ...]
) -> dict[str, str]:
    """Settings by their paths, each once and with something after the equals sign."""
    from orderlint.readback.observed import seen_table  # noqa: PLC0415 - cold start

    known = [path for path in seen_table().fields if path not in {"document", "format"}]
    settings: dict[str, str] = {}
    for one in given:
        path, _, text = (part.strip() for part in one.partition("="))
        if path not in known:
            raise click.BadParameter(f"{path!r} is none of {', '.join(known)}.")
        if not text:
            raise click.BadParameter(f"{path} has nothing after it; write {path}='…'.")
        if path in settings:
            raise click.BadParameter(f"{path} is set twice.")
        settings[path] = text
    above = next((p for p in settings if any(o.startswith(f"{p}.") for o in settings)), None)
    if above is not None:
        raise click.BadParameter(f"{above} and a part of it are both set, and only one can hold.")
    return settings


@click.command("readback", epilog=_EPILOG, short_help="The double check at the bedside.")
@click.argument("file", metavar="ORDER", type=FILE)
@click.argument("seen_file", metavar="[SEEN]", required=False, type=FILE)
@click.option(
    "--set",
    "settings",
    metavar="PATH='VALUE'",
    multiple=True,
    callback=_settings,
    help="A setting as seen, in place of what SEEN has; may be given again.",
)
@click.option(
    "--resume", metavar="FILE", type=FILE, help="Go on with a read-back that was stopped."
)
@format_option("text", "json", "html")
@report_options(color=False)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    seen_file: str | None,
    settings: dict[str, str],
    resume: str | None,
    at: int,
    policy: str | None,
    wanted: Wanted,
) -> int:
    """Ask what is seen at controller and pole, then compare it with ORDER.

    Nothing of what is ordered is shown before all is entered. What is entered is kept, readable
    by its owner alone, until the comparison is written. With SEEN, a file of settings seen, or
    with --set, nothing is asked, and what neither gives counts as not seen.
    """
    asks = seen_file is None and not settings
    kept = (resume or f"{Path(file).stem}.read-back-kept.json") if asks else None
    inputs = (file, seen_file, policy, resume)
    if asks and "-" in inputs:
        raise click.UsageError("Standard input has the answers; no file can be read from it.")
    wanted = wanted._replace(output=checked_output(wanted.output, (*inputs, kept)))
    if resume is not None and not asks:
        raise click.UsageError("--resume goes on asking; with SEEN or --set nothing is asked.")
    from orderlint.cli import readback_session as session  # noqa: PLC0415 - cold start
    from orderlint.cli.readback_prompts import Stopped  # noqa: PLC0415 - cold start
    from orderlint.order_reader import read_order  # noqa: PLC0415 - cold start

    if kept is not None and resume is None and Path(kept).exists():
        return session.report_begun(file, kept, policy)
    try:
        rulebook = load_rulebook("read-back", read_site_policy(policy))
        content = read_content(file)
        order, digest = read_order(content.read("order")), content.digest
        if kept is not None:
            result, at = session.compare_asked(
                order, digest, rulebook, at, kept, new=resume is None
            )
        else:
            result = session.compare_given(order, seen_file, settings, rulebook, at)
        of_all = Result("read back", result.verdict, result.assessment, result, (content,), at)
        whole = write_result(of_all, wanted)
    except Stopped as stopped:
        return session.report_stopped(stopped, file, digest, kept or "", policy)
    except (Refused, CannotWrite) as reason:
        print_errors(str(reason))
        return USAGE
    if kept is not None:
        session.discard_answers(kept, whole=whole)
    parts = (result, result.ordered, result.as_set)
    return heaviest(status_of(part.assessment, wanted.fail_at) for part in parts)
