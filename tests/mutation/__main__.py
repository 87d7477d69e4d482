"""Mutation testing of the rooms on which all verdicts rest: `python tests/mutation [MODULE…]`.

Ends with 1 if a mutant survives that equivalent.yaml does not explain, or explains in vain.
"""

from __future__ import annotations

import argparse
import functools
import gc
import importlib
import os
import resource
import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pint
import yaml
from hypothesis import HealthCheck, Phase, settings
from source_mutants import mutants_of
from trial import ROOT, Outcome, tried

HERE = Path(__file__).parent
ROOMS: dict[str, list[str]] = yaml.safe_load((HERE / "rooms.yaml").read_text(encoding="utf-8"))

# Slow to import, and the same for every mutant.
WARM = ("click", "duckdb", "icalendar", "jsonschema", "scipy.integrate", "z3")

Key = tuple[str, str, str, str]


def explained() -> dict[Key, str]:
    """Module, function, line and what becomes of it → why no test can tell the two apart."""
    entries = yaml.safe_load((HERE / "equivalent.yaml").read_text(encoding="utf-8"))
    return {
        (entry["module"], entry["in"], entry["was"], entry["becomes"]): entry["why"]
        for entry in entries
    }


def prepared() -> None:
    """The same draws each time, and no search for the smallest failure."""
    os.chdir(ROOT)
    settings.register_profile(
        "mutation",
        derandomize=True,
        database=None,
        deadline=None,
        max_examples=40,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
    settings.load_profile("mutation")
    for name in WARM:
        importlib.import_module(name)
    # A registry takes most of a second to build; module and tests only read theirs.
    pint.UnitRegistry = functools.cache(pint.UnitRegistry)
    pint.UnitRegistry(non_int_type=Fraction).Quantity(1, "kPa").to("mmHg")
    # What is there by now is never garbage; a fork that looked through it would copy it all.
    gc.freeze()


def longest(module: str, source: str, tests: list[str]) -> float:
    """Seconds after which a mutant counts as hanging; an error unless the trial itself is sound."""
    as_it_stands = tried(module, source, tests, 300)
    if as_it_stands.outcome is not Outcome.SURVIVED:
        sys.exit(f"{module}: the tests fail as it stands")
    if tried(module, "raise ImportError", tests, 300).outcome is not Outcome.KILLED:
        sys.exit(f"{module}: the tests do not notice when it cannot be imported")
    return 2 + 3 * as_it_stands.seconds


def judged(module: str, function: str, why: dict[Key, str]) -> tuple[Counter[str], set[Key]]:
    """How many mutants of a module came to what, and the survivors; the unexplained are printed."""
    source = (ROOT / f"{module.replace('.', '/')}.py").read_text(encoding="utf-8")
    tests = ROOMS[module]
    seconds = longest(module, source, tests)
    score: Counter[str] = Counter()
    survivors = set()
    for mutant in mutants_of(source):
        if not mutant.function.startswith(function):
            continue
        outcome = tried(module, mutant.source, tests, seconds).outcome
        key = (module, mutant.function, mutant.was, mutant.becomes)
        if outcome is Outcome.BROKEN:
            sys.exit(f"the tests could not be run on {key}")
        if outcome is Outcome.SURVIVED:
            survivors.add(key)
            score["explained" if key in why else "unexplained"] += 1
        else:
            score[outcome.value] += 1
        if outcome is Outcome.SURVIVED and key not in why:
            entry = dict(zip(("module", "in", "was", "becomes"), key, strict=True))
            print(yaml.safe_dump([entry], sort_keys=False, width=1000), end="", flush=True)
    return score, survivors


def main() -> int:
    """Run the modules named, or all."""
    parser = argparse.ArgumentParser(prog="python tests/mutation", description=__doc__)
    parser.add_argument("modules", nargs="*", choices=[[], *ROOMS], metavar="MODULE")
    parser.add_argument("--function", default="", help="only where the name begins so")
    given = parser.parse_args()
    prepared()
    why = explained()
    total: Counter[str] = Counter()
    for module in given.modules or list(ROOMS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        score, survivors = judged(module, given.function, why)
        ours = {key for key in why if key[0] == module and key[1].startswith(given.function)}
        for key in sorted(ours - survivors):
            print(f"explained, and yet no survivor: {key}")
            score["explained in vain"] += 1
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(f"{module}: {counts(score)}; {took:.0f} s", flush=True)
        total += score
    to_be_seen = total["unexplained"] + total["explained in vain"]
    print(f"{counts(total)}: {to_be_seen or 'no'} unexplained")
    return int(bool(to_be_seen))


def counts(score: Counter[str]) -> str:
    """The score in words."""
    mutants = score.total() - score["explained in vain"]
    return f"{mutants} mutants: " + ", ".join(f"{n} {words}" for words, n in score.items())


if __name__ == "__main__":
    sys.exit(main())
