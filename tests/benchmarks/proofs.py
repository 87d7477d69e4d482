"""Time to prove a set, and to compare two, over the whole rulebook as fields, options, rules grow.

Beside it exhaustive enumeration with itertools.product, for as long as that ends.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from benchmarks.made_up_sets import FIELDS, PATIENCE, enumerated, made_up, revised
from benchmarks.page import Comparison, Section, figure
from benchmarks.timing import in_turn, once

from orderlint.proof.counterexample import counterexample_of
from orderlint.proof.narrowing import narrowings_of
from orderlint.proof.prover import Decision, Prover
from orderlint.proof.set_difference import difference_of
from orderlint.proof.solver import search  # noqa: F401 - z3 is imported before the clock starts
from orderlint.proof.unused_options import choices_of
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from benchmarks.timing import Series

    from orderlint.order_set.model import OrderSet
    from orderlint.rulebook.rule import OrderRule

PEER = "enumeration"


class Size(NamedTuple):
    """How many fields of a set have how many options, and the share of the rules that is asked."""

    fields: int
    options: int
    share: float = 1.0


PROVED = (
    *(Size(fields, 5) for fields in (1, 2, 3, 4, 5)),
    *(Size(fields, 50) for fields in (5, 10, 15, 25)),
    *(Size(10, options) for options in (10, 200)),
    *(Size(25, options) for options in (100, 500)),
    *(Size(25, 50, share) for share in (0.25, 0.5)),
)
COMPARED = tuple(Size(*size) for size in ((3, 5), (5, 5), (10, 50), (25, 50), (25, 100)))
CHANGED = (1, 5, len(FIELDS))
"""How many fields of a set are changed in its revision."""


def parts_of(order_set: OrderSet, rules: Sequence[OrderRule]) -> dict[str, Callable[[], object]]:
    """The steps of a proof, in their order; each goes on from those before."""
    made: list[Prover] = []
    broken = []

    def decide() -> None:
        made[:] = [Prover(order_set, rules)]
        proofs = [(rule, made[0].decide(rule)) for rule in rules]
        broken[:] = [pair for pair in proofs if pair[1].result is Decision.BROKEN]

    return {
        "verdicts": decide,
        "nearest orders": lambda: [counterexample_of(made[0], *pair) for pair in broken],
        "narrowings": lambda: [
            narrowings_of(made[0], rule, proof.witness)[0] for rule, proof in broken
        ],
        "unused options": lambda: choices_of(made[0], rules),
    }


def timed(functions: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, Series]:
    """Each function called in turn; the first round is not counted."""
    return in_turn({name: partial(once, each) for name, each in functions.items()}, rounds)


def proofs(rounds: int, sizes: Sequence[Size] = PROVED) -> Section:
    """Each size proved `rounds` times."""
    every = list(load("all").order_rules)
    rows, compared, too_many = [], [], False
    for size in sizes:
        rules = every[: round(len(every) * size.share)]
        order_set = made_up(size.fields, size.options)
        series = timed(parts_of(order_set, rules), rounds)
        tried = not too_many and size.share == 1
        peer = enumerated(order_set, rules) if tried else None
        too_many = too_many or (tried and peer is None)
        name = f"{size.fields} × {size.options}, {len(rules)} rules"
        rows.append((name, *map(_cell, series.values()), _ended(peer, tried=tried)))
        if peer:
            factor = series["verdicts"].processor / peer
            compared.append(Comparison(f"a proof of {name}", "processor time", PEER, factor))
    head = ("fields × options", "verdicts", "nearest orders", "narrowings", "unused options", PEER)
    words = (
        "Sets made up around the clean order. Seconds of the processor: the median, and in "
        f"brackets the slowest, of {rounds} runs in one process. Beside them {PEER} of every order "
        "with `itertools.product`, which has only the verdicts and is given up after "
        f"{PATIENCE:.0f} s, and not tried with more orders than it ended with, or fewer rules."
    )
    return Section("Proofs as sets grow", words, head, rows, tuple(compared))


def comparisons(rounds: int, sizes: Sequence[Size] = COMPARED) -> Section:
    """Each size compared with its revisions, `rounds` times."""
    book = load("all")
    rules = [rule for rule in book.order_rules if rule.instances]
    rows, compared, too_many = [], [], False
    for size in sizes:
        pairs = {f"{n}": revised(size.fields, size.options, n) for n in CHANGED}
        functions = {name: partial(difference_of, *pair, book) for name, pair in pairs.items()}
        series = timed(functions, rounds)
        tried = not too_many
        peer = enumerated(pairs["1"][1], rules) if tried else None
        too_many = peer is None
        name = f"{size.fields} × {size.options}"
        rows.append((name, *map(_cell, series.values()), _ended(peer, tried=tried)))
        if peer:
            factor = series["1"].processor / peer
            compared.append(Comparison(f"a comparison of {name}", "processor time", PEER, factor))
    head = ("fields × options", "one field changed", "five changed", "every one changed", PEER)
    words = (
        "A set and its revision, in which fields have all options one step higher. Seconds as "
        f"above; {PEER} is of the orders of the revision with one field changed."
    )
    return Section("Comparisons as sets grow", words, head, rows, tuple(compared))


def _cell(series: Series) -> str:
    slowest = max(run.processor for run in series.runs)
    return f"{figure(series.processor)} ({figure(slowest)})"


def _ended(seconds: float | None, *, tried: bool) -> str:
    return figure(seconds) if seconds else "did not end" if tried else "not tried"
