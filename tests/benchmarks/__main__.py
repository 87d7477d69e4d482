"""Benchmarks of the orderlint that is installed here, as one page in Markdown.

.ci/benchmarks runs this in an ordinary install with all peers.
"""

from __future__ import annotations

import argparse
import sys
from importlib.util import find_spec
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.cold_start import attack_files, cold_start, verify_again
from benchmarks.machine import machine
from benchmarks.page import Section, page
from benchmarks.proofs import comparisons, proofs
from benchmarks.verdicts import verdicts

ROUNDS = 20
NEEDED = ("polars", "pyarrow", "orderlint.audit")
"""What an audit is measured with."""


def audit(rounds: int) -> Section:
    """An audit's rows a second, where it can be measured."""
    if absent := tuple(f"{name}, which is not there" for name in NEEDED if not find_spec(name)):
        return Section("An audit's rows a second", "Nothing.", (), [], absent=absent)
    from benchmarks.audit_rows import audit_rows  # noqa: PLC0415 - imports all that is needed

    return audit_rows(rounds)


# What takes seconds a run is run less often.
PARTS = {
    "cold": cold_start,
    "verify": verify_again,
    "verdicts": verdicts,
    "audit": lambda rounds: audit(max(1, rounds // 5)),
    "proofs": lambda rounds: proofs(max(1, rounds // 5)),
    "comparisons": lambda rounds: comparisons(max(1, rounds // 5)),
    "attacks": lambda rounds: attack_files(max(1, rounds // 10)),
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python tests/benchmarks", description=__doc__)
    parser.add_argument("part", nargs="*", help=f"what is measured: {', '.join(PARTS)}; or all")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="runs of each (20)")
    parser.add_argument("--output", type=Path, help="write the page to this file")
    wanted = parser.parse_args()
    if not PARTS.keys() >= {*wanted.part}:
        parser.error(f"a part is one of {', '.join(PARTS)}")
    head, sections = machine(), []
    for part in wanted.part or PARTS:
        print(f"measuring: {part}", file=sys.stderr, flush=True)
        sections.append(PARTS[part](wanted.rounds))
    text = page(head, sections)
    if wanted.output:
        wanted.output.write_text(text, encoding="utf-8")
    else:
        print(text, end="")


if __name__ == "__main__":
    main()
