"""Time and memory of `orderlint verify` on each attack file: a new process for every one."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from reading.attacks import attacks

BIN = Path(sys.executable).parent / "orderlint"
# ru_maxrss of one child alone: a small parent starts it, waits, and says what it took.
MEASURE = (
    "import resource, subprocess, sys; subprocess.run(sys.argv[1:], capture_output=True);"
    "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
)


def measured(data: bytes, name: str, folder: Path) -> tuple[float, int]:
    """Seconds and KiB of one run."""
    path = folder / name
    path.write_bytes(data)
    start = time.perf_counter()
    subprocess.run([BIN, "verify", path], capture_output=True, check=False)
    taken = time.perf_counter() - start
    command = [sys.executable, "-c", MEASURE, BIN, "verify", path]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return taken, int(done.stdout)


def main() -> None:
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for name, attack in attacks().items():
            taken, memory = measured(attack[0], Path(attack[1]).name, Path(folder))
            rows.append((taken, memory, name))
    print(f"{len(rows)} attack files; a limit of 1 s and 200 MiB each")
    print(f"slowest: {max(rows)[0]:.2f} s ({max(rows)[2]})")
    largest = max(rows, key=lambda row: row[1])
    print(f"largest: {largest[1] / 1024:.0f} MiB ({largest[2]})")


if __name__ == "__main__":
    main()
