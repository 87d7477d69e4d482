"""Time to compare a set with its revision over the whole rulebook, as fields and options grow.

Beside it the named peer, exhaustive enumeration with itertools.product of every order of the
revision, for as long as that ends. All sets are made up around the clean example. Seconds of the
processor, after imports.
"""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING

from proof_growth import FIELDS, enumerated, made_up

from orderlint.proof.set_difference import difference_of
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from orderlint.order_set.model import OrderSet

REVISIONS = {"one field changed": 1, "five fields changed": 5, "every field changed": len(FIELDS)}
"""How many fields of a revision lack their first option, and have another after their last."""


def revised(before: OrderSet, wider: OrderSet, changed: list[str]) -> OrderSet:
    """The set with the options of those fields moved up by one step, as the wider set has them."""
    slots = dict(before.slots)
    for path in changed:
        old = slots[path]
        wanted = (*old.options[1:], wider.slots[path].options[-1])
        slots[path] = replace(old, options=wanted, preset=(old.preset or 1) - 1)
    return replace(before, slots=slots)


def main() -> None:
    book = load("all")
    rules = [rule for rule in book.order_rules if rule.instances]
    for fields, count in ((3, 5), (5, 5), (10, 50), (25, 50), (25, 100)):
        before, wider = made_up(fields, count, mixed=False), made_up(fields, count + 2, mixed=False)
        for name, number in REVISIONS.items():
            after = revised(before, wider, FIELDS[: min(number, fields)])
            start = time.process_time()
            found = difference_of(before, after, book)
            taken = time.process_time() - start
            peer = enumerated(after, rules) if number == 1 else None
            ended = f"{peer:6.2f} s" if peer else "did not end" if number == 1 else "not run"
            print(
                f"{fields:2} fields × {count:3}, {name:20} {taken:6.2f} s  ({found.relation}, "
                f"{len(found.broken)} rules broken or left open); enumeration {ended}",
                flush=True,
            )


if __name__ == "__main__":
    main()
