"""The verb `readback`: asks blind for what is seen at the bedside, then compares it with an order.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, NamedTuple

import click

from orderlint.api.results import Result
from orderlint.cli import options
from orderlint.cli.exit_status import BELOW, INTERRUPTED, STOPPED, USAGE, heaviest, status_of
from orderlint.cli.inputs import load_rulebook, read_codes
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors
from orderlint.cli.record import Recorder, check_record
from orderlint.cli.results import Wanted, write_result
from orderlint.own_files import CannotWrite

if TYPE_CHECKING:
    from orderlint.api.sources import Content
    from orderlint.assessment import Assessment
    from orderlint.cli.readback_session import Ordered
    from orderlint.readback import ReadBack

_EPILOG = """\b
For example:
  orderlint readback order.yaml
  orderlint readback order.yaml --resume
  orderlint readback order.yaml seen.yaml --set pause.upper='22 mmHg'

\b
Exit status:
  0    nothing at the level of --fail-at or above
  1    a difference or a finding, or a rule that could not be checked, at
       that level or above
  2    wrong usage, a file that could not be read or is not what it says, no
       folder to keep answers in, or a report that could not be written
  3    stopped before all was entered: by `stop`, at the end of input, or as
       nobody could read the questions; nothing was compared
  70   a fault of the tool itself; there is no comparison
  130  the same as 3, by an interrupt, or one before the report was whole"""


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
@click.argument("file", metavar="ORDER", required=False, type=options.FILE)
@click.argument("seen_file", metavar="[SEEN]", required=False, type=options.FILE)
@click.option(
    "--set",
    "settings",
    metavar="PATH='VALUE'",
    multiple=True,
    callback=_settings,
    help="A setting as seen, in place of what SEEN has; may be given again.",
)
@click.option(
    "--resume",
    metavar="[FILE]",
    is_flag=False,
    flag_value="",
    type=options.FILE,
    help="Go on with a read-back of ORDER that was stopped: the latest, or that in FILE. Without "
    "ORDER, list what is kept.",
)
@options.format_option("text", "json", "html")
@options.report_options(options.concept_map, options.record, has_color=False)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str | None,
    seen_file: str | None,
    settings: dict[str, str],
    resume: str | None,
    at: int,
    policy: str | None,
    concept_map: str | None,
    wanted: Wanted,
) -> int:
    """Ask what is seen at controller and pole, then compare it with ORDER.

    Nothing of what is ordered is shown before all is entered. What is entered is kept in your own
    folder for such things ($XDG_STATE_HOME/orderlint or ~/.local/state/orderlint), readable by you
    alone, until the comparison is written. With SEEN, a file of settings seen, or with --set,
    nothing is asked, and what neither gives counts as not seen.
    """
    if file is None and resume:  # what stands after --resume is the order, if nothing else is
        file, resume = resume, ""
    if file is None:
        return _list(wanted, lists=resume is not None)
    given = _ReadbackArguments(file, policy, concept_map, seen_file, settings, resume, at)
    inputs = (file, seen_file, policy, concept_map, resume or None)
    if given.is_asked and "-" in inputs:
        raise click.UsageError("Standard input has the answers; no file can be read from it.")
    wanted = wanted._replace(output=options.checked_output(wanted.output, inputs))
    check_record(wanted.record, (*inputs, wanted.output))
    if resume is not None and not given.is_asked:
        raise click.UsageError("--resume goes on asking; with SEEN or --set nothing is asked.")
    recorder = Recorder(wanted.record, "readback", at)
    return recorder.run(lambda: _read_back(given, wanted, recorder))


class _ReadbackArguments(NamedTuple):
    """The order, by which files it is read, and where what is seen comes from.

    That is a file, single settings, or answers that may be resumed.
    """

    file: str
    policy: str | None
    concept_map: str | None
    seen_file: str | None
    settings: dict[str, str]
    resume: str | None
    at: int

    @property
    def is_asked(self) -> bool:
        """Whether the nurse is asked."""
        return self.seen_file is None and not self.settings


def _read_back(given: _ReadbackArguments, wanted: Wanted, recorder: Recorder) -> int:
    """Compare the order in a file with what is seen, write that, and return the exit status."""
    from orderlint.api.sources import order_in  # noqa: PLC0415 - cold start
    from orderlint.cli.readback_session import Ordered, compare_given  # noqa: PLC0415 - cold start
    from orderlint.reading import FHIR  # noqa: PLC0415 - cold start

    rulebook = load_rulebook("read-back", recorder.read_policy(given.policy))
    content = recorder.read(given.file)
    document = content.read_one_of("order", FHIR)
    order = order_in(document, read_codes(given.concept_map))
    if given.is_asked:
        files = given.file, given.policy, given.concept_map
        of = Ordered(*files, order, content.digest, rulebook)
        return _asked(of, content, given, wanted, recorder)
    compared = compare_given(order, given.seen_file, given.settings, rulebook, given.at)
    recorder.found(compared.verdict, _parts(compared), given.at)
    write_result(_result(compared, content, given.at), wanted, private=True)
    return _status(compared, wanted)


def _list(wanted: Wanted, *, lists: bool) -> int:
    """List what is kept, if that is wanted where no order is named."""
    if not lists:
        raise click.UsageError("Missing argument 'ORDER'.")
    from orderlint.cli.kept_files import KeptFolder  # noqa: PLC0415 - cold start
    from orderlint.cli.readback_resume import list_of_kept  # noqa: PLC0415 - cold start

    with contextlib.closing(KeptFolder()) as folder:
        text = list_of_kept(folder)
    write(text, options.checked_output(wanted.output, ()), None, private=True)
    return BELOW


def _asked(
    of: Ordered, content: Content, given: _ReadbackArguments, wanted: Wanted, recorder: Recorder
) -> int:
    """Compare with what is entered now, and let go of it once the report is whole."""
    from orderlint.cli.kept_files import KeptFolder  # noqa: PLC0415 - cold start
    from orderlint.cli.readback_prompts import NoMore  # noqa: PLC0415 - cold start
    from orderlint.cli.readback_session import Session  # noqa: PLC0415 - cold start
    from orderlint.report.readback import prompts as words  # noqa: PLC0415 - cold start

    with (
        contextlib.closing(KeptFolder()) as folder,
        contextlib.closing(Session(of, folder, given.at)) as session,
    ):
        why = words.STOPPED
        try:
            session.ask(given.resume)
            why = words.NOT_SHOWN
            compared, at = session.compared()
            recorder.found(compared.verdict, _parts(compared), at)
            whole = write_result(_result(compared, content, at), wanted, private=True)
        except (NoMore, KeyboardInterrupt) as how:
            session.tell(why)
            return INTERRUPTED if isinstance(how, KeyboardInterrupt) else STOPPED
        except CannotWrite as reason:
            print_errors(str(reason))
            session.tell(words.NOT_WRITTEN)
            return USAGE
        if whole:
            session.discard()
        else:
            session.tell(words.NOT_READ)
    return _status(compared, wanted)


def _result(compared: ReadBack, content: Content, at: int) -> Result[ReadBack]:
    of = compared
    return Result("read back", of.verdict, of.assessment, of, (content,), at)


def _parts(compared: ReadBack) -> list[Assessment]:
    """All that counts for the exit status."""
    return [part.assessment for part in (compared, compared.ordered, compared.as_set)]


def _status(compared: ReadBack, wanted: Wanted) -> int:
    return heaviest(status_of(part, wanted.fail_at) for part in _parts(compared))
