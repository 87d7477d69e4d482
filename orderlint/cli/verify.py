"""The verb `verify`: findings on written orders, and what the controller would do under them.

Arguments in, report out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.cli.batch import FORMS_FOR_CI, each, for_ci, joined
from orderlint.cli.exit_status import USAGE, heaviest, status_of
from orderlint.cli.inputs import digest_of, read_input, rulebook_under
from orderlint.cli.options import (
    FILE,
    ascii_option,
    at_option,
    color_option,
    fail_at_option,
    format_option,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.outputs import CannotWrite, print_errors, text_style, to_ascii, write
from orderlint.finding import Level

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.cli.batch import Each
    from orderlint.rulebook.rule import Rule, Rulebook
    from orderlint.verification import Verified

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


@click.command("verify", epilog=_EPILOG, short_help="Findings on written orders.")
@click.argument("files", nargs=-1, required=True, metavar="ORDER...", type=FILE)
@format_option("text", "json", "html", *FORMS_FOR_CI)
@fail_at_option
@at_option
@policy_option
@color_option
@ascii_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    color: str,
    in_ascii: bool,
    output: str | None,
) -> int:
    """Check each ORDER, a YAML or JSON file or - for standard input.

    The report has findings by level, what the controller would do at each pressure, what could
    not be checked and what was. It asks; it never changes an order.

    As html it is a page with a picture, to be read in a browser or printed.

    For CI it can be SARIF 2.1.0, JUnit XML, or lines file:line:column: level: rule: words; these
    leave out what the controller would do.
    """
    output = output_beside(output, (*files, policy))
    digests: dict[str, str] = {}

    def check(file: str, name: str, rulebook: Rulebook) -> Verified:
        from orderlint.verification import verify  # noqa: PLC0415 - cold start

        data = read_input(file)
        if form == "html":
            digests[name] = digest_of(data)
        return verify(data, name, at, rulebook)

    found, rules = each(files, policy, rulebook_under, check)
    statuses = [status_of(verified, Level(fail_at)) for verified in found.made]
    statuses += found.statuses()
    try:
        if form in FORMS_FOR_CI:
            text = _for_ci(found, rules, form, Level(fail_at), output, at)
        elif form == "html":
            text = _page(found, digests, at)
        else:
            text = _own_form(found, form, color, output, at)
        if in_ascii and form == "text":
            text = to_ascii(text)
        write(text, output, None if form == "text" else "utf-8")
    except CannotWrite as error:
        print_errors(str(error))
        statuses.append(USAGE)
    return heaviest(statuses)


def _own_form(found: Each[Verified], form: str, color: str, output: str | None, at: int) -> str:
    if form == "json":
        from orderlint.report.order.json import render  # noqa: PLC0415 - cold start

        return render(*found, at)
    from orderlint.report.order.text import render as render_text  # noqa: PLC0415 - cold start

    painted, width = text_style(color, output)
    reports = [render_text(item, color=painted, width=width, at=at) for item in found.made]
    return joined(reports, found, output, width)


def _page(found: Each[Verified], digests: Mapping[str, str], at: int) -> str:
    from orderlint.report.order.page import render  # noqa: PLC0415 - cold start

    return render(found.made, found.unread(), digests, at)


def _for_ci(  # noqa: PLR0913, PLR0917 - one parameter an option
    found: Each[Verified],
    rules: Mapping[str, Rule],
    form: str,
    fail_at: Level,
    output: str | None,
    at: int,
) -> str:
    from orderlint.report.ci.results import of_orders  # noqa: PLC0415 - cold start

    return for_ci(form, of_orders(*found, rules, at), fail_at, output)
