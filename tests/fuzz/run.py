"""Feeds readers changed inputs and stops at the first that one of them fails on.

    python tests/fuzz/run.py --seconds 60 [TARGET ...]     all targets without a name
    python tests/fuzz/run.py --input FILE TARGET           one input again

With atheris (`pip install -e '.[fuzz]'`) what new code an input reaches leads the search; without,
inputs are drawn from changed seeds. Exit status 1 if a target fails; its input is kept in a file.
"""

from __future__ import annotations

import argparse
import importlib.util
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from targets import Target

MOST_MEGABYTES = 400
"""Of a whole process with all that it has loaded."""
INSTRUMENTED = 8
"""How many times as long the code may take while atheris watches it."""
UNWATCHED = ["orderlint.report", "orderlint.language.evaluate", "orderlint.language.tree"]
"""Modules that run for every input alike; to watch them takes most of the time."""
NAMES = (
    *("order-yaml", "order-json", "order-set", "site-policy", "settings-seen", "kept-read-back"),
    *("baseline", "certificate", "condition", "free-text", "note", "draft", "order-table"),
    *("table-map", "trust", "hook", "feedback", "yaml", "json"),
)
"""Without importing them, as atheris must first watch the import."""


class TooMuchError(AssertionError):
    """An input took too much time or memory."""


def limited(target: Target, slower: int = 1) -> Callable[[bytes], None]:
    """The function of a target, with limits on processor time and memory."""

    def run(data: bytes) -> None:
        start = time.process_time()
        target.run(data)
        seconds = time.process_time() - start
        # Twice, as a garbage collection or the import of a module can fall into the first time.
        if seconds > target.seconds * slower:
            start = time.process_time()
            target.run(data)
            seconds = min(seconds, time.process_time() - start)
        if seconds > target.seconds * slower:
            raise TooMuchError(f"{seconds:.1f} s of processor time")
        megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        if megabytes > MOST_MEGABYTES:
            raise TooMuchError(f"{megabytes} MB")

    return run


def drawn(target: Target, seconds: float, seed: int, kept: Path) -> int:
    """How many inputs were run: seeds, and by turns changed ones, for so much processor time.

    Keeps the one that fails, and raises what it raised.
    """
    draw, seeds, run = Random(seed), target.seeds(), limited(target)
    end, done = time.process_time() + seconds, 0
    from mutations import mutant  # noqa: PLC0415 - as `targets`

    while time.process_time() < end:
        is_seed = done % 2 == 0 and done // 2 < len(seeds)
        data = seeds[done // 2] if is_seed else mutant(draw.choice(seeds), seeds, draw)
        try:
            run(data)
        except BaseException:
            kept.write_bytes(data)
            raise
        done += 1
    return done


def watched(name: str, seconds: int, seed: int, kept: Path) -> None:
    """Let atheris lead the search. It ends the process."""
    import atheris  # noqa: PLC0415 - of an extra
    from mutations import PIECES  # noqa: PLC0415

    with atheris.instrument_imports(include=["orderlint"], exclude=UNWATCHED):
        target = _target(name)
        seeds = target.seeds()
        target.run(seeds[0])  # imports what is imported late
    folder = Path(tempfile.mkdtemp(prefix="orderlint-fuzz-"))
    corpus, words = folder / "corpus", folder / "words"
    corpus.mkdir()
    for number, data in enumerate(seeds):
        (corpus / f"seed-{number}").write_bytes(data)
    entries = ("".join(f"\\x{byte:02x}" for byte in piece) for piece in PIECES)
    words.write_text("".join(f'"{entry}"\n' for entry in entries), "utf-8")
    options = [f"-max_total_time={seconds}", f"-seed={seed + 1}", f"-exact_artifact_path={kept}"]
    options += [f"-dict={words}", "-timeout=120", "-rss_limit_mb=2048", "-max_len=20000"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], limited(target, INSTRUMENTED))
    atheris.Fuzz()


def _target(name: str) -> Target:
    from targets import TARGETS  # noqa: PLC0415 - see NAMES

    assert tuple(TARGETS) == NAMES
    return TARGETS[name]


def run_all(names: Sequence[str], seconds: int, seed: int, *, atheris: bool) -> int:
    """Run targets one after another, each in a process of its own; how many failed."""
    folder = Path(tempfile.mkdtemp(prefix="orderlint-fuzz-"))
    failed = 0
    print(f"inputs {'led by atheris' if atheris else 'drawn from changed seeds'}, seed {seed}")
    for name in names:
        kept = folder / name
        command = [sys.executable, __file__, "--seconds", str(seconds), "--seed", str(seed)]
        command += ["--one", str(kept), *([] if atheris else ["--without-atheris"]), name]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        found = re.findall(r"Done (\d+) (?:runs|inputs)", done.stdout + done.stderr)
        if done.returncode == 0 and found and int(found[-1]):
            print(f"{name:16}{int(found[-1]):9,} inputs, nothing found", flush=True)
            continue
        failed += 1
        print(f"{name}: FAILED, exit status {done.returncode}\n{done.stdout}{done.stderr[-6000:]}")
        print(f"its input: python {__file__} --input {kept} {name}", flush=True)
    return failed


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("targets", nargs="*", metavar="TARGET", help=", ".join(NAMES))
    parser.add_argument("--seconds", type=int, default=60, help="for each target; default 60")
    parser.add_argument("--seed", type=int, default=0, help="another one draws other inputs")
    parser.add_argument("--input", type=Path, help="a file to run a target on, once")
    parser.add_argument("--without-atheris", action="store_true", help="even if it is installed")
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    names = given.targets or list(NAMES)
    if unknown := set(names) - set(NAMES):
        parser.error(f"no target: {', '.join(sorted(unknown))}")
    atheris = not given.without_atheris and importlib.util.find_spec("atheris") is not None
    if given.input:
        limited(_target(names[0]))(given.input.read_bytes())
        return 0
    if given.one and atheris:
        watched(names[0], given.seconds, given.seed, given.one)
    if given.one:
        done = drawn(_target(names[0]), given.seconds, given.seed, given.one)
        print(f"Done {done} inputs")
        return 0
    return 1 if run_all(names, given.seconds, given.seed, atheris=atheris) else 0


if __name__ == "__main__":
    sys.exit(main())
