"""A table of many distinct orders, audited in a process of its own: rows/s and resident memory.

    PYTHONPATH=tests python -m audit.large 10_000_000 FOLDER

Writes the table in files of 100,000 rows to FOLDER, where it is not there yet, with at most 1.5
million distinct free texts, and audits it. Nothing is asserted: it prints what it measured.
"""

from __future__ import annotations

import functools
import resource
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import numpy as np
import pyarrow as pa
from audit.bases import clean, laid_over, of_rules
from audit.changes import QUANTITIES
from audit.notes import note
from audit.tables import COLUMNS, NUMBER, UNIT, whole_row
from pyarrow import parquet

SHARE, MOST_TEXTS = 100_000, 1_500_000
WARDS = tuple(f"ward {number}" for number in range(12))


def main(count: int, folder: Path, *more: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    files = [_file(folder, start, min(SHARE, count - start)) for start in range(0, count, SHARE)]
    report = folder / "audit.json"
    command = [sys.executable, "-P", "-m", "orderlint", "audit", "--format", "json"]
    command += ["--by", UNIT, "--output", str(report), *more, *map(str, files)]
    began = time.monotonic()
    process = subprocess.Popen(command)
    most = 0
    while process.poll() is None:
        most = max(most, _resident(process.pid))
        time.sleep(0.2)
    took = time.monotonic() - began
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    speed = f"{count:,} rows in {took:.1f} s: {count / took:,.0f} rows/s"
    print(f"status {process.returncode}, {speed}")
    largest = f"{used.ru_maxrss / 1024:,.0f} MiB in the largest process"
    print(f"processor {used.ru_utime + used.ru_stime:.1f} s, {largest}, {most:,} in all at once")


def _resident(process: int) -> int:
    """The MiB of memory that a process and those that it began take at this moment."""
    folder = Path(f"/proc/{process}")
    try:
        pages = int((folder / "statm").read_text().split()[1])
        begun = [each.read_text().split() for each in folder.glob("task/*/children")]
    except FileNotFoundError:  # it has just ended
        return 0
    own = pages * resource.getpagesize() // 2**20
    return own + sum(_resident(int(child)) for each in begun for child in each)


def _file(folder: Path, start: int, count: int) -> Path:
    """The file of so many rows from `start` on."""
    file = folder / f"orders-{start:09}.parquet"
    if not file.exists():
        unfinished = file.with_suffix(".part")
        parquet.write_table(_columns(start, count), unfinished)
        unfinished.replace(file)
    return file


def _columns(start: int, count: int) -> pa.Table:
    """Rows of which no two are the same: sound and unsound orders, with other numbers in each."""
    chance = np.random.default_rng(start)
    rows = np.arange(start, start + count)
    columns = {name: _drawn(name, cells, rows, chance) for name, cells in _cells().items()}
    columns[NUMBER] = pa.array([str(row) for row in rows])
    columns[UNIT] = pa.array(WARDS).take(pa.array(chance.integers(len(WARDS), size=count)))
    columns["id"] = pa.array([f"demo-{row % SHARE}" for row in rows])
    notes = _notes()
    texts = (int(row) % MOST_TEXTS for row in rows)
    columns["instructions"] = pa.array([f"{notes[n % len(notes)]}, sheet {n}" for n in texts])
    return pa.table(columns)


def _drawn(
    name: str, cells: list[str | None], rows: np.ndarray, chance: np.random.Generator
) -> pa.Array:
    """The cells of one column: those of the orders, in a fifth of the rows with another number."""
    pool = [*cells, *_numbers(name, cells)]
    of_order = rows // 7 % len(cells)
    if len(pool) == len(cells):
        return pa.array(pool, pa.string()).take(pa.array(of_order))
    others = chance.integers(len(cells), len(pool), size=len(rows))
    chosen = np.where(chance.random(len(rows)) < 0.2, others, of_order)
    return pa.array(pool, pa.string()).take(pa.array(chosen))


def _numbers(name: str, cells: list[str | None]) -> list[str]:
    """Other numbers, with two decimals, with the units that stand in a column of quantities."""
    written = [text.split(" ") for text in dict.fromkeys(cells) if text and name in QUANTITIES]
    units = sorted({parts[1] for parts in written if len(parts) == 2 and parts[0].isdigit()})
    return [f"{tenths / 10:.2f} {unit}" for unit in units[:4] for tenths in range(-20, 980)]


@functools.cache
def _cells() -> dict[str, list[str | None]]:
    """The cells of 500 orders by column."""
    chance = Random(0)
    examples = [
        chance.choice(of_rules()).cells if chance.random() < 0.6 else {} for _ in range(500)
    ]
    bases = [whole_row(laid_over(clean(), cells), 0, None) for cells in examples]
    return {name: [row.get(name) for row in bases] for name in COLUMNS}


@functools.cache
def _notes() -> list[str]:
    return [note(Random(number), -1) for number in range(20_000)]


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:])
