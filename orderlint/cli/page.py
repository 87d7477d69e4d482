"""The verb `page`: serves the form in which an order is entered, on this machine alone.

Arguments in, an address out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import contextlib
import signal
from typing import TYPE_CHECKING

import click

from orderlint.cli import options
from orderlint.cli.exit_status import BELOW
from orderlint.cli.inputs import read_codes, read_content, read_site_policy
from orderlint.cli.outputs import print_errors, write_stdout

if TYPE_CHECKING:
    from types import FrameType

    from orderlint.page.opening import SiteNames

_EPILOG = """\b
For example:
  orderlint page
  orderlint page --policy site-policies/adult.yaml --port 8471 --no-open

\b
Exit status:
  0    ended by Ctrl-C or a signal
  2    wrong usage, a policy or a map that is refused, or a port that is in
       use"""


@click.command("page", epilog=_EPILOG, short_help="A form in the browser, checked as it is filled.")
@options.port_option("The port on 127.0.0.1; 0 takes one that is free.")
@click.option("--no-open", is_flag=True, help="Print the address alone, and open no browser.")
@options.file_option(
    "--table",
    "Which column of a table that is opened holds which setting; else by the settings' names.",
    "table_map",
    metavar="MAP",
)
@options.concept_map
@options.at
@options.policy
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    port: int,
    no_open: bool,
    table_map: str | None,
    concept_map: str | None,
    at: int,
    policy: str | None,
) -> int:
    """Serve a page on which an order is entered, and checked as verify checks it, until Ctrl-C.

    It is found on this machine alone, under an address that nobody can guess, which is the first
    line that is printed. Nothing is sent elsewhere, and nothing is written unless you save it.
    """
    from orderlint.page.server import PageServer  # noqa: PLC0415 - cold start

    site, names = read_site_policy(policy), _names(table_map, concept_map)
    try:
        server = PageServer(port, site, options.clock_of(at), names)
    except OSError as error:
        raise click.ClickException(f"Port {port} cannot be used: {error.strerror}.") from None
    with server, contextlib.suppress(KeyboardInterrupt):
        write_stdout(f"{server.address}\n")
        signal.signal(signal.SIGTERM, _stop)
        if not no_open:
            _open(server.address)
        server.serve_forever()
    return BELOW


def _names(table_map: str | None, concept_map: str | None) -> SiteNames:
    """What the site calls the settings, in tables and in FHIR. Raises Refused."""
    from orderlint.page.opening import SiteNames  # noqa: PLC0415 - cold start
    from orderlint.tables.table_map import read_table_map  # noqa: PLC0415 - cold start

    columns = read_table_map(read_content(table_map).read("table-map")) if table_map else ()
    return SiteNames(columns, read_codes(concept_map))


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _open(address: str) -> None:
    import webbrowser  # noqa: PLC0415 - cold start

    if not webbrowser.open(address):
        print_errors("No browser was found; open the address by hand.")
