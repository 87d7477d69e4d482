"""The verb `compare`: what changes from one order to another, or from one order set to another.

Arguments in, comparison out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import click

from orderlint.cli.exit_status import USAGE, heaviest, status_of
from orderlint.cli.inputs import digest_of, read_input, rulebook_under, shown_name
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
from orderlint.cli.outputs import CannotWrite, complain, look, same_file, write
from orderlint.finding import Level, Refused

if TYPE_CHECKING:
    from orderlint.reading import Document

_KINDS = {"order": "an order", "order-set": "an order set"}
_EPILOG = """\b
For example:
  orderlint compare order-1.yaml order-2.yaml
  orderlint compare --format json --output change.json set-1.yaml set-2.yaml

\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level, in the
      change or in the second order; of sets, in an order that is new
  2   wrong usage, or a file that could not be read or is not what it says
  70  a fault of the tool itself; there is no comparison"""


@click.command("compare", epilog=_EPILOG, short_help="What changes from one to another.")
@click.argument("before", metavar="BEFORE", type=FILE)
@click.argument("after", metavar="AFTER", type=FILE)
@format_option("text", "json", "html")
@fail_at_option
@at_option
@policy_option
@color_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    before: str,
    after: str,
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    color: str,
    output: str | None,
) -> int:
    """Compare BEFORE with AFTER: two orders, or two order sets, in files or - for standard input.

    Of orders: each setting before and now, what the controller would do otherwise, and whether
    the change is plausible. Of sets: whether the second is stricter or looser, with an order that
    only the one yields, and whether a new order breaks a rule.
    """
    output = output_beside(output, (before, after, policy))
    if before != "-" and same_file(before, [after]):
        raise click.UsageError(f"BEFORE and AFTER are one file, {after}.")
    asked = _Asked(form, Level(fail_at), at, policy, *look(color, output))
    try:
        (first, one), (second, other) = _read(before), _read(after)
        documents, digests = (first, second), (one, other)
        kinds = tuple(_KINDS[document.kind] for document in documents)
        if kinds[0] != kinds[1]:
            raise click.UsageError(
                f"{shown_name(before)} is {kinds[0]} and {shown_name(after)} is {kinds[1]}; only "
                "two of one kind can be compared."
            )
        compared = _orders if documents[0].kind == "order" else _sets
        text, status = compared(*documents, digests, asked)
        write(text, output, None if form == "text" else "utf-8")
    except (Refused, CannotWrite) as reason:
        complain(str(reason))
        return USAGE
    return status


class _Asked(NamedTuple):
    """What the options ask for."""

    form: str
    fail_at: Level
    at: int
    policy: str | None
    painted: bool
    width: int


def _read(file: str) -> tuple[Document, str]:
    """An order or an order set, and the SHA-256 of its bytes."""
    from orderlint.reading import KINDS, read  # noqa: PLC0415 - cold start

    data = read_input(file)
    document = read(data, shown_name(file))
    if document.kind not in _KINDS:
        wanted = " or ".join(_KINDS.values())
        message = f"This is {KINDS[document.kind]}; {wanted} is wanted here."
        head = document.root.get("document")
        raise Refused(message, head.place if head else document.root.place)
    return document, digest_of(data)


def _orders(
    before: Document, after: Document, digests: tuple[str, str], asked: _Asked
) -> tuple[str, int]:
    from orderlint.comparison.orders import compare_orders  # noqa: PLC0415 - cold start
    from orderlint.order import read_order  # noqa: PLC0415 - cold start

    rulebook = rulebook_under(asked.policy, "change")
    found = compare_orders(read_order(before), read_order(after), asked.at, rulebook)
    status = heaviest(status_of(each, asked.fail_at) for each in (found, found.after))
    if asked.form == "json":
        from orderlint.report.compare.json import render_orders  # noqa: PLC0415 - cold start

        return render_orders(found, asked.at), status
    if asked.form == "html":
        from orderlint.report.compare import page  # noqa: PLC0415 - cold start

        return page.render_orders(found, digests, asked.at), status
    from orderlint.report.compare.text import render  # noqa: PLC0415 - cold start

    return render(found, color=asked.painted, width=asked.width, at=asked.at), status


def _sets(
    before: Document, after: Document, digests: tuple[str, str], asked: _Asked
) -> tuple[str, int]:
    from orderlint.comparison.sets import compare_sets  # noqa: PLC0415 - cold start
    from orderlint.order_set.read import read_order_set  # noqa: PLC0415 - cold start

    rulebook = rulebook_under(asked.policy, "order-set")
    first, second = (read_order_set(document, rulebook.derived) for document in (before, after))
    found = compare_sets(first, second, asked.at, rulebook)
    status = status_of(found, asked.fail_at)
    if asked.form == "json":
        from orderlint.report.compare.json import render_sets  # noqa: PLC0415 - cold start

        return render_sets(found, asked.at), status
    if asked.form == "html":
        from orderlint.report.compare import page  # noqa: PLC0415 - cold start

        return page.render_sets(found, digests, asked.at), status
    from orderlint.report.compare.set_text import render  # noqa: PLC0415 - cold start

    return render(found, color=asked.painted, width=asked.width, at=asked.at), status
