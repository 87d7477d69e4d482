"""The verb `readback`: what is seen at the bedside, asked blind, then compared with an order.

Arguments in, comparison out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

import contextlib
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from orderlint.cli.exit_status import USAGE, heaviest, status_of
from orderlint.cli.inputs import digest_of, read_input, rulebook_under, shown_name
from orderlint.cli.options import (
    FILE,
    at_option,
    fail_at_option,
    format_option,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.outputs import CannotWrite, complain, look, write, write_file
from orderlint.finding import Level, Place, Refused

if TYPE_CHECKING:
    from orderlint.cli.readback_prompts import Keep, Stopped
    from orderlint.order import Order
    from orderlint.readback import ReadBack
    from orderlint.readback.dialogue import Entered
    from orderlint.rulebook.rule import Rulebook

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
@fail_at_option
@at_option
@policy_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    seen_file: str | None,
    settings: dict[str, str],
    resume: str | None,
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    output: str | None,
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
    output = output_beside(output, (*inputs, kept))
    if resume is not None and not asks:
        raise click.UsageError("--resume goes on asking; with SEEN or --set nothing is asked.")
    if kept is not None and resume is None and Path(kept).exists():
        return _begun_already(file, kept, policy)
    from orderlint.cli.readback_prompts import Stopped  # noqa: PLC0415 - cold start

    try:
        rulebook = rulebook_under(policy, "read-back")
        order, digest = _order(file)
        if kept is not None:
            result, at = _asked(order, digest, rulebook, at, kept, new=resume is None)
        else:
            result = _given(order, seen_file, settings, rulebook, at)
        text = _as(form, result, digest, output, at)
        whole = write(text, output, None if form == "text" else "utf-8")
    except Stopped as stopped:
        return _stopped(stopped, file, digest, kept or "", policy)
    except (Refused, CannotWrite) as reason:
        complain(str(reason))
        return USAGE
    if kept is not None:
        _done_with(kept, whole=whole)
    parts = (result, result.ordered, result.as_set)
    return heaviest(status_of(part, Level(fail_at)) for part in parts)


def _order(file: str) -> tuple[Order, str]:
    """The order, and the digest of its bytes, SHA-256 in hexadecimal."""
    from orderlint.order import read_order  # noqa: PLC0415 - cold start
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    data = read_input(file)
    order = read_order(read(data, shown_name(file), "order"))
    return order, digest_of(data)


def _given(
    order: Order, seen_file: str | None, settings: dict[str, str], rulebook: Rulebook, at: int
) -> ReadBack:
    """The comparison with what a file and --set give."""
    from orderlint.readback import read_back  # noqa: PLC0415 - cold start
    from orderlint.readback.observed import (  # noqa: PLC0415 - cold start
        is_nothing,
        judge_entry,
        nothing_seen,
        read_seen,
        with_entry,
    )
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    seen = nothing_seen("--set")
    if seen_file is not None:
        data = read_input(seen_file)
        seen = read_seen(read(data, shown_name(seen_file), "settings-seen"))
    for path, text in settings.items():
        judged = judge_entry(path, text, Place("--set", 1, 1))
        if not is_nothing(text) and judged.fault is not None:
            from orderlint.report.readback.prompts import objection_words  # noqa: PLC0415

            raise Refused(objection_words(judged.fault, rulebook), f"--set {path}")
        seen = with_entry(seen, path, None if is_nothing(text) else judged.leaf)
    return read_back(order, seen, at, rulebook)


def _asked(  # noqa: PLR0913 - what a comparison needs, and where it is kept
    order: Order, digest: str, rulebook: Rulebook, at: int, kept: str, *, new: bool
) -> tuple[ReadBack, int]:
    """The comparison with what is entered now, and the instant as of which it is made."""
    from orderlint.cli.readback_prompts import ask_all  # noqa: PLC0415 - cold start
    from orderlint.readback import read_back  # noqa: PLC0415 - cold start
    from orderlint.readback.dialogue import seen_of, twice_entered  # noqa: PLC0415 - cold start

    source = click.get_current_context().get_parameter_source("at")
    fixed = source is not click.core.ParameterSource.DEFAULT
    entered = _begun(at, fixed=fixed) if new else _resumed(kept, digest)
    entered = ask_all(entered, order, rulebook, _keeping(kept, digest))
    if not fixed:
        import time  # noqa: PLC0415 - cold start

        at = time.time_ns() // 10**9 * 1000
    return read_back(order, seen_of(entered), at, rulebook, twice_entered(entered)), at


def _begun(at: int, *, fixed: bool) -> Entered:
    """Nothing entered yet, as of now or, with --at, as of then."""
    from datetime import datetime  # noqa: PLC0415 - cold start

    from orderlint.readback.dialogue import Entered  # noqa: PLC0415 - cold start
    from orderlint.report.words import instant_words  # noqa: PLC0415 - cold start

    now = instant_words(at) if fixed else datetime.now().astimezone().isoformat(timespec="seconds")
    return Entered(now, {}, {})


def _resumed(kept: str, digest: str) -> Entered:
    from orderlint.readback.saved_answers import KEPT, entered_in  # noqa: PLC0415 - cold start
    from orderlint.reading import read  # noqa: PLC0415 - cold start

    return entered_in(read(read_input(kept), kept, KEPT), digest)


def _keeping(kept: str, digest: str) -> Keep:
    from orderlint.readback.saved_answers import kept_text  # noqa: PLC0415 - cold start

    return lambda entered: write_file(kept_text(entered, digest), kept, private=True)


def _stopped(stopped: Stopped, file: str, digest: str, kept: str, policy: str | None) -> int:
    """Say where what was entered is kept or, where it cannot be, what it was."""
    from orderlint.report.readback import prompts as words  # noqa: PLC0415 - cold start

    entered = stopped.entered
    try:
        if entered.first:
            _keeping(kept, digest)(entered)
            _tell(words.kept_words(kept), _again(file, kept, policy))
        else:
            _tell(words.NOTHING_YET)
    except CannotWrite:
        _tell(*words.lost_words(dict(entered.last)))
    return stopped.status


def _begun_already(file: str, kept: str, policy: str | None) -> int:
    """Nothing is asked, rather than to write over what is kept."""
    from orderlint.report.readback.prompts import begun_already  # noqa: PLC0415 - cold start

    _tell(begun_already(kept), _again(file, kept, policy))
    return USAGE


def _again(file: str, kept: str, policy: str | None) -> str:
    """The command that goes on with what is kept."""
    under = ["--policy", policy] if policy else []
    return shlex.join(["orderlint", "readback", file, *under, "--resume", kept])


def _tell(*texts: str) -> None:
    """Paragraphs on standard error, after a prompt; a command stays on one line, to be copied."""
    from orderlint.report.layout import paragraph  # noqa: PLC0415 - cold start

    folded = (text if text.startswith("orderlint ") else paragraph(text, 79) for text in texts)
    complain("", *(line for text in folded for line in text.split("\n")))


def _done_with(kept: str, *, whole: bool) -> None:
    """What was entered stands in the report now, if somebody got the whole of it."""
    from orderlint.report.readback.prompts import NOT_READ  # noqa: PLC0415 - cold start

    if whole:
        with contextlib.suppress(OSError):
            Path(kept).unlink()
    else:
        _tell(f"{NOT_READ} {kept}.")


def _as(form: str, result: ReadBack, digest: str, output: str | None, at: int) -> str:
    if form == "json":
        from orderlint.report.readback.json import render  # noqa: PLC0415 - cold start

        return render(result, digest, at)
    if form == "html":
        from orderlint.report.readback.page import render as render_page  # noqa: PLC0415

        return render_page(result, digest, at)
    from orderlint.report.readback.text import render as render_text  # noqa: PLC0415 - cold start

    _, width = look("never", output)
    return render_text(result, digest, at, width=width)
