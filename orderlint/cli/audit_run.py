"""Runs an audit within some memory and on some processors, and keeps its parts.

What is opened and closed around a run. Never a count.
"""

from __future__ import annotations

import contextlib
import os
import re
from typing import TYPE_CHECKING, NamedTuple

import click

if TYPE_CHECKING:
    from orderlint.audit.model import AuditResult
    from orderlint.audit.run import Audit, Keeper
    from orderlint.cli.audit_inputs import Asked
    from orderlint.report.audit.words import Written

LEAST_MEMORY = 800 * 10**6
_FIXED = 500 * 10**6
"""Bytes that an audit takes whatever the table is."""
_OF_A_ROW = 6_000
"""Bytes that a row takes at most while it is judged, with the next part read ahead."""
_FEWEST_ROWS = 10_000


def bytes_of(ctx: click.Context, _option: click.Parameter, text: str) -> int:
    """An amount of memory, such as 4GB or 800MB, in bytes. Raises BadParameter."""
    found = re.fullmatch(r"([1-9][0-9]{0,5}) ?(MB|GB)", text)
    if found is None:
        raise click.BadParameter(f"{text!r} is no amount of memory, such as 4GB or 800MB.", ctx)
    size = int(found[1]) * {"MB": 10**6, "GB": 10**9}[found[2]]
    if size < LEAST_MEMORY:
        raise click.BadParameter(f"{text!r} is too little; an audit takes 800MB or more.", ctx)
    return size


class Given(NamedTuple):
    """How an audit is run: where parts are kept, whether it goes on with them, on how many
    processors, and in about how many bytes of memory.
    """

    parts: str | None
    resume: bool
    threads: int
    memory: int


class Ran(NamedTuple):
    """A run: what was audited, the result, and the files of rows that were written."""

    audit: Audit
    result: AuditResult
    written: list[Written]


def use_threads(threads: int) -> None:
    """Have the engine use so many threads; it reads this once, when it is imported."""
    for name in ("POLARS_MAX_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = str(threads)


def run_asked(asked: Asked, given: Given) -> Ran:
    """Run the audit that is asked for. Raises Refused, CannotWrite and UsageError."""
    from orderlint.audit.reading_pool import ReadingPool  # noqa: PLC0415 - needs an extra
    from orderlint.audit.run import KeepNothing, Means, run  # noqa: PLC0415
    from orderlint.cli.audit_inputs import audit_of  # noqa: PLC0415
    from orderlint.cli.audit_parts import PartFolder  # noqa: PLC0415
    from orderlint.cli.audit_progress import RowProgress  # noqa: PLC0415
    from orderlint.report.audit.broken_rows import BrokenRows  # noqa: PLC0415

    room = given.memory - _FIXED
    part_rows = min(asked.part_rows, max(_FEWEST_ROWS, room // 2 // _OF_A_ROW))
    audit = audit_of(asked._replace(part_rows=part_rows))
    with contextlib.ExitStack() as stack:
        files = [stack.enter_context(BrokenRows(file)) for file in (asked.rows,) if file]
        keeper: Keeper = KeepNothing()
        if given.parts is not None:
            keeper = stack.enter_context(PartFolder(given.parts, resume=given.resume))
        pool = stack.enter_context(ReadingPool(given.threads))
        bar = stack.enter_context(RowProgress(audit.tables))
        result = run(audit, files, Means(keeper, pool.read, room // 2, bar.told))
    return Ran(audit, result, [file.written for file in files])
