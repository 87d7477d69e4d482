"""The verb `serve`: answers CDS Hooks with the checks of orders at signing.

Arguments in, an address out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import importlib.util
import signal
from typing import TYPE_CHECKING

import click

from orderlint.cli import options
from orderlint.cli.exit_status import BELOW
from orderlint.cli.outputs import write_stdout
from orderlint.cli.record import check_record

if TYPE_CHECKING:
    from types import FrameType

    from orderlint.service.server import Server

_PACKAGES = ("waitress", "jwt", "cryptography")
_MISSING = "serve needs the extra `serve`: pip install 'orderlint[serve]'"
_EPILOG = """\b
For example:
  orderlint serve
  orderlint serve --host 10.0.0.5 --port 8443 --trust trust.yaml --record checks.jsonl

\b
Exit status:
  0    ended by Ctrl-C or a signal
  2    wrong usage, a file that is refused, or a port that is in use"""


@click.command("serve", epilog=_EPILOG, short_help="Cards for orders at signing, by CDS Hooks.")
@click.option(
    "--host",
    metavar="NAME",
    default="127.0.0.1",
    show_default=True,
    help="Where to listen; elsewhere than on this machine only with --trust.",
)
@options.port_option("The port; 0 takes one that is free.")
@options.file_option("--trust", "Whose tokens are taken; every hook then needs one.")
@options.concept_map
@options.at
@options.policy
@options.record
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    host: str,
    port: int,
    trust: str | None,
    concept_map: str | None,
    at: int,
    policy: str | None,
    record: str | None,
) -> int:
    """Answer CDS Hooks 2.0: a card for each order at order-sign and order-select, until a signal.

    The address is the first line that is printed. Each request is a line on standard error,
    without a token and without a word of an order. With --record, each check and each feedback is
    a line in that file. It asks; it never changes an order.
    """
    if any(importlib.util.find_spec(package) is None for package in _PACKAGES):
        raise click.ClickException(_MISSING)
    from orderlint.cli.serve_parts import ServeArguments, server_of  # noqa: PLC0415 - needs an extra

    check_record(record, (trust, concept_map, policy))
    given = ServeArguments(host, port, trust, concept_map, policy, record)
    try:
        server, address = server_of(given, options.clock_of(at))
    except OSError as error:
        said = f"Port {port} of {host} cannot be used: {error.strerror}."
        raise click.ClickException(said) from None
    return _served(server, address)


def _served(server: Server, address: str) -> int:
    def stop(_number: int, _frame: FrameType | None) -> None:
        server.stop()

    before = {each: signal.signal(each, stop) for each in (signal.SIGTERM, signal.SIGINT)}
    try:
        write_stdout(f"{address}\n")
        server.run()
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
    return BELOW
