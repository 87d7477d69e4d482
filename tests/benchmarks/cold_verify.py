"""Cold start of `orderlint verify` on the clean order, beside check-jsonschema on the same file."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ORDER = ROOT / "examples" / "clean.yaml"
SCHEMA = ROOT / "schemas" / "order.schema.json"
BIN = Path(sys.executable).parent
RUNS = 20
COMMANDS = {
    "orderlint verify": [BIN / "orderlint", "verify", ORDER],
    "check-jsonschema": [BIN / "check-jsonschema", "--schemafile", SCHEMA, ORDER],
}


def environment() -> dict[str, str]:
    """The surroundings of a user: byte code may be kept, nothing else is changed."""
    return {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}


def seconds(command: list[object]) -> float:
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env=environment(), cwd="/")
    return time.perf_counter() - start


def compare() -> None:
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for run in range(RUNS + 1):
        for name, command in COMMANDS.items():
            taken = seconds(command)
            if run:  # the first of each fills the caches
                times[name].append(taken)
    medians = {name: statistics.median(taken) for name, taken in times.items()}
    for name, taken in times.items():
        spread = f"fastest {min(taken) * 1000:.0f}, slowest {max(taken) * 1000:.0f}"
        print(f"{name:20} median {medians[name] * 1000:5.0f} ms  ({spread}; {RUNS} runs)")
    ours, peer = medians["orderlint verify"], medians["check-jsonschema"]
    print(f"ratio                {ours / peer:.2f}")


def profile() -> None:
    code = "import sys; sys.argv[0] = 'orderlint'; from orderlint.cli import main; main()"
    command = [sys.executable, "-X", "importtime", "-c", code, "verify", str(ORDER)]
    run = subprocess.run(command, capture_output=True, text=True, env=environment(), cwd="/")  # noqa: PLW1510
    lines = [line for line in run.stderr.splitlines() if "|" in line and "cumulative" not in line]
    rows = [(int(line.split("|")[1]), line.split("|")[2]) for line in lines]
    for taken, name in sorted(rows, reverse=True)[:30]:
        print(f"{taken / 1000:8.1f} ms  {name.strip()}")


if __name__ == "__main__":
    profile() if "--profile" in sys.argv else compare()
