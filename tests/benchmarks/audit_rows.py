"""Rows a second of an audit, whole and by its steps, beside a dozen rules in polars by hand."""

from __future__ import annotations

import sys
import tempfile
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
from benchmarks.audit_table import broken, counted, parsed, table
from benchmarks.page import Comparison, Section, figure, with_spread
from benchmarks.timing import calls, in_turn, process

from orderlint.audit.auditor import Audit, Auditor, GivenPolicy, Options
from orderlint.audit.columns import mapping_of
from orderlint.audit.judge import judge
from orderlint.audit.run import parts, run
from orderlint.audit.table_files.opening import open_table
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from benchmarks.timing import Series

ROWS = 250_000
COMMAND = "the command, from its start"
WHOLE = "all of it, in one process"
READ, TEXTS, RULES = "reading the file", "reading the texts", "asking the rules"
BY_HAND, NUMBERS = "by hand: a dozen rules, from the file", "by hand: a dozen rules, numbers read"


def audit_rows(rounds: int, rows: int = ROWS, seconds: float = 0.05) -> Section:
    """So many rows in a Parquet file; a batch of calls takes at least so many seconds."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "orders.parquet")
        frame = table(rows)
        frame.write_parquet(path)
        differ = sum(frame[name].n_unique() > 1 for name in frame.columns)
        _must_agree(path)
        command = [Path(sys.executable).with_name("orderlint"), "audit", "--format", "json", path]
        subjects = {name: calls(step, seconds) for name, step in steps(path).items()}
        series = in_turn({COMMAND: partial(process, command, (0, 1)), **subjects}, rounds)
    peak = f"{figure(series[COMMAND].peak)} MiB at most"
    words = (
        f"{rows:,} made-up orders as text columns of a Parquet file: {frame.width} settings, "
        f"{differ} of which differ from row to row; {rounds} runs. An audit asks all rules, with "
        f"covers; by hand are polars expressions for {len(broken())} of them, which hold for this "
        f"table alone and find as many orders. The command takes {peak}."
    )
    head = ("what", "rows/s by the clock", "rows/s of the processor")
    cells = [(name, *_rates(each, rows)) for name, each in series.items()]
    return Section("An audit's rows a second", words, head, cells, tuple(_comparisons(series)))


def audit_of_file(path: Path) -> Audit:
    """An audit of a table whose columns have the names of settings."""
    tables = [open_table(str(path), None)]
    policies = [GivenPolicy(load("order"), "")]
    return Audit(tables, [""], mapping_of(tables, ()), policies, Options())


def steps(path: Path) -> dict[str, Callable[[], object]]:
    """An audit and its steps, each beginning with what those before it have made."""
    audit = audit_of_file(path)
    every = list(parts(audit, 0))
    auditor = Auditor(audit)
    rows = [auditor.reader.read(part.cells, part.rows.num_rows)[0] for part in every]

    def texts() -> object:
        reader = Auditor(audit).reader
        return [reader.read(part.cells, part.rows.num_rows) for part in every]

    def rules() -> object:
        return [judge(auditor.plans[0], r, r.numbers["written"], auditor.clocks) for r in rows]

    numbers = pl.read_parquet(path).select(parsed())
    return {
        WHOLE: partial(run, audit),
        READ: lambda: list(parts(audit, 0)),
        TEXTS: texts,
        RULES: rules,
        BY_HAND: lambda: counted(pl.scan_parquet(path).select(parsed())),
        NUMBERS: lambda: counted(numbers),
    }


def _must_agree(path: Path) -> None:
    """Raises AssertionError where the audit and the rules by hand find different rows."""
    by_hand = counted(pl.scan_parquet(path).select(parsed()))
    rules = run(audit_of_file(path)).rules
    found = {rule: rules[rule].broken for rule in by_hand}
    if found != by_hand:
        raise AssertionError(f"by hand {by_hand}, by the audit {found}")


def _rates(series: Series, rows: int) -> Iterator[str]:
    for of in ("wall", "processor"):
        low, high = series.middle_half(of)
        yield with_spread(rows / getattr(series, of), (rows / low, rows / high))


def _comparisons(series: dict[str, Series]) -> Iterator[Comparison]:
    for ours, peer in ((WHOLE, BY_HAND), (RULES, NUMBERS)):
        factor = series[ours].processor / series[peer].processor
        yield Comparison(f"an audit: {ours}", "processor time", f"polars {peer}", factor)
