"""What the figures were measured on: machine, load and versions."""

from __future__ import annotations

import os
import platform
import subprocess
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import orderlint

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = (
    *("orderlint", "z3-solver", "pyyaml", "click", "check-jsonschema", "jsonschema"),
    *("jsonschema-rs", "polars", "duckdb", "pyarrow"),
)


def machine() -> str:
    """A list in Markdown; the load is that of the moment, before anything is measured."""
    memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 2**30
    load = ", ".join(f"{value:.2f}" for value in os.getloadavg())
    return "\n".join(
        (
            f"- {datetime.now(UTC):%Y-%m-%d %H:%M} UTC, commit {_commit()}{_from_the_tree()}",
            f"- {_processor()}, {os.cpu_count()} processors, {memory:.1f} GiB of memory",
            f"- {platform.system()} {platform.release()}, {platform.python_implementation()} "
            f"{platform.python_version()}",
            f"- load over 1, 5 and 15 minutes before the first measurement: {load}",
            f"- {', '.join(_versions())}",
        )
    )


def _processor() -> str:
    for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
        if line.startswith("model name"):
            return line.partition(":")[2].strip()
    return platform.machine()


def _versions() -> list[str]:
    found = []
    for name in PACKAGES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            found.append(f"{name} not installed")
    return found


def _commit() -> str:
    git = ["git", "-C", ROOT, "describe", "--always", "--dirty"]
    ran = subprocess.run(git, capture_output=True, text=True, check=False)
    return ran.stdout.strip() or "unknown"


def _from_the_tree() -> str:
    """A warning where it is not an ordinary install that is measured."""
    is_in_tree = Path(orderlint.__file__).parent == ROOT / "orderlint"
    return ", an EDITABLE install, which no user has: use .ci/benchmarks" if is_in_tree else ""
