"""Each verb in a new process, beside check-jsonschema on the same files: time and peak memory.

The peer validates shape only. Of a verb that has no input of its own it is given the clean order.
"""

from __future__ import annotations

import sys
import tempfile
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.page import Comparison, Section, figure, with_spread
from benchmarks.timing import in_turn, process
from reading.attacks import attacks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from benchmarks.timing import Series, Taken

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES, SCHEMAS = ROOT / "examples", ROOT / "schemas"
BIN = Path(sys.executable).parent
PEER = "check-jsonschema"
FOUND = (0, 1)
"""Exit statuses of a check that was made: nothing found, or something."""
NOON = ("--at", "2026-03-02T15:30:00-06:00")
COMMANDS = (
    "verify clean.yaml",
    "verify drain-above-treat-above.yaml",
    "verify minimal.yaml",
    "verify --format html clean.yaml",
    "ask drain-above-treat-above.yaml",
    "plan --from 2026-03-02T15:00:00-06:00 clean.yaml",
    "readback clean.yaml seen-as-ordered.yaml",
    "compare clean.yaml next-revision.yaml",
    "compare set-irrigation-adult.yaml set-irrigation-adult-revised.yaml",
    "review set-irrigation-adult.yaml",
    "review set-irrigation-corners.yaml",
    "rules",
    "rules treat-above-over-upper-pause",
    "new order",
    "draft note.txt",
    "convert --to fhir clean.yaml",
)
VERIFY = COMMANDS[0]
SECONDS, MEBIBYTES = 1.0, 200.0
"""What `verify` may take of an attack file."""


def arguments(command: str) -> list[str]:
    """The command's words, with the whole path of each example."""
    return [
        str(EXAMPLES / word) if word.endswith((".yaml", ".txt")) else word
        for word in command.split()
    ]


def peer_arguments(command: str) -> list[str]:
    """What the peer is given beside that command: a schema, and the files that it is for."""
    words = command.split()
    orders = [word for word in words if word.endswith(".yaml") and not word.startswith("seen")]
    files = orders or ["clean.yaml"]
    schema = "order-set" if files[0].startswith("set-") else "order"
    paths = [str(EXAMPLES / name) for name in files]
    return ["--schemafile", str(SCHEMAS / f"{schema}.schema.json"), *paths]


def run(command: str) -> Taken:
    return process([BIN / "orderlint", *arguments(command)], FOUND)


def run_peer(command: str) -> Taken:
    return process([BIN / PEER, *peer_arguments(command)], FOUND)


def cold_start(rounds: int) -> Section:
    """All commands, `rounds` times each, turn by turn with the peer."""
    rows, compared = [], []
    absent = _absent()
    for command in COMMANDS:
        series = _beside_the_peer(command, rounds, there=not absent)
        rows.append((f"`{command}`", *_cells(series)))
        compared += _comparisons(command, series)
    words = (
        "A new process each time, from an ordinary install: milliseconds by the clock (median, and "
        f"between which half of {rounds} runs lay), milliseconds of the processor, peak resident "
        f"memory in MiB. Beside each, turn by turn, {PEER} on the same files; it validates shape "
        "only, and for a verb that reads no order, the clean order."
    )
    ours = ("command", "ms", "processor ms", "MiB")
    head = (*ours, f"{PEER} ms", "processor ms", "MiB", "of its time", "of its processor time")
    return Section("Cold start of each verb", words, head, rows, tuple(compared), absent)


def verify_again(rounds: int, times: int = 5) -> Section:
    """The clean order alone, so many times in a row, as one median may be luck."""
    title = "Cold `verify`, several runs in a row"
    if absent := _absent():
        return Section(title, "Nothing.", (), [], absent=absent)
    rows = []
    for number in range(times):
        series = _beside_the_peer(VERIFY, rounds, there=True)
        ours, peer = series["orderlint"], series[PEER]
        cells = [with_spread(each.wall * 1e3, _milliseconds(each)) for each in (ours, peer)]
        ratios = (ours.wall / peer.wall, ours.processor / peer.processor)
        rows.append((str(number + 1), *cells, *map(figure, ratios)))
    head = ("run", "orderlint ms", f"{PEER} ms", "of its time", "of its processor time")
    words = f"`{VERIFY}`, each run the median of {rounds} new processes, turn by turn."
    return Section(title, words, head, rows)


def _absent() -> tuple[str, ...]:
    """The peer, if it is not installed."""
    return () if (BIN / PEER).exists() else (f"{PEER}, which is not installed",)


def _beside_the_peer(command: str, rounds: int, *, there: bool) -> dict[str, Series]:
    subjects = {"orderlint": partial(run, command)}
    if there:
        subjects[PEER] = partial(run_peer, command)
    return in_turn(subjects, rounds)


def _milliseconds(series: Series) -> tuple[float, float]:
    low, high = series.middle_half()
    return low * 1e3, high * 1e3


def _cells(series: dict[str, Series]) -> Iterator[str]:
    for each in series.values():
        yield with_spread(each.wall * 1e3, _milliseconds(each))
        yield figure(each.processor * 1e3)
        yield figure(each.peak)
    if PEER in series:
        ours, peer = series["orderlint"], series[PEER]
        yield figure(ours.wall / peer.wall)
        yield figure(ours.processor / peer.processor)
    else:
        yield from ["not measured"] * 5


def _comparisons(command: str, series: dict[str, Series]) -> Iterator[Comparison]:
    if PEER in series:
        ours, peer = series["orderlint"], series[PEER]
        name = f"a cold `{command}`"
        yield Comparison(name, "time", PEER, ours.wall / peer.wall)
        yield Comparison(name, "memory", PEER, ours.peak / peer.peak)


def attack_files(rounds: int, most: int | None = None) -> Section:
    """`verify` on each file made to break a reader, or on the first so many of them."""
    series = {}
    with tempfile.TemporaryDirectory() as folder:
        for name, (data, file, *_) in list(attacks().items())[:most]:
            path = Path(folder, Path(file).name)
            path.write_bytes(data)
            command = [BIN / "orderlint", "verify", path]
            series[name] = in_turn({"ours": partial(process, command, (2,))}, rounds)["ours"]
    slowest = max(series, key=lambda name: series[name].wall)
    largest = max(series, key=lambda name: series[name].peak)
    taken, memory = series[slowest].wall, series[largest].peak
    rows = [
        ("most time", slowest, f"{figure(taken)} s", f"{figure(SECONDS)} s"),
        ("most memory", largest, f"{figure(memory)} MiB", f"{figure(MEBIBYTES)} MiB"),
    ]
    compared = (
        Comparison(f"`verify` of {slowest}", "time", "a limit", taken / SECONDS),
        Comparison(f"`verify` of {largest}", "memory", "a limit", memory / MEBIBYTES),
    )
    words = f"`verify` in a new process on each of {len(series)} files made to break a reader."
    head = ("", "file", "taken", "limit")
    return Section("Attack files", words, head, rows, compared)
