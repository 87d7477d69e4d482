"""The counts of an audit, from what is to be said of each row."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from multiprocessing import get_context
from typing import TYPE_CHECKING

from audit.tables import UNIT, row
from audit.truth import KEPT, NOT_ASKED, OUTCOMES, UNCHECKED, judged

from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.bases import Row
    from audit.truth import Judged

    from orderlint.api.policies import SitePolicy

Counts = Counter[tuple[str, ...]]
"""How many rows: by ("rows",), ("rule", id, outcome), ("pair", id, id), ("group", unit, …) …"""


def counted(
    rows: Iterable[Row], as_of: str = "written", policy: SitePolicy | None = None
) -> Counts:
    """The counts of a table, each row judged by itself, and by UNIT."""
    return weighed(((cells, 1) for cells in rows), as_of, policy)


def weighed(
    rows: Iterable[tuple[Row, int]], as_of: str = "written", policy: SitePolicy | None = None
) -> Counts:
    """The counts of a table that has each row so many times; each is judged once."""
    total: Counts = Counter()
    for cells, times in rows:
        found = judged(cells, as_of, policy)
        for key in keys_of(found):
            total[key] += times
        for key in group_keys_of(found):
            total["group", cells[UNIT] or "", *key] += times
    return total


def keys_of(found: Judged) -> Iterable[tuple[str, ...]]:
    """What one row counts for."""
    yield ("rows",)
    if found.refused:
        yield ("refused",)
        return
    yield ("verdict", found.verdict)
    for rule, outcome in found.outcomes.items():
        yield ("rule", rule, outcome)
    for rule, paths in found.lacking.items():
        yield from (("lacking", rule, path) for path in paths)
    for rule in found.reported:
        yield ("rule", rule, "reported")
    yield from (("pair", *pair) for pair in combinations(sorted(found.reported), 2))
    if len(found.stopping) == 1:
        yield ("rule", found.stopping[0], "only")
    yield from (("unreadable", *each) for each in found.unreadable)


def group_keys_of(found: Judged) -> Iterable[tuple[str, ...]]:
    """What one row counts for in its group."""
    yield ("rows",)
    if found.refused:
        yield ("refused",)
        return
    if found.stopping:
        yield ("stopped",)
    for rule, outcome in found.outcomes.items():
        if outcome not in {KEPT, UNCHECKED, NOT_ASKED}:
            yield ("rule", rule, "broken")
    yield from (("rule", rule, "reported") for rule in found.reported)
    if len(found.stopping) == 1:
        yield ("rule", found.stopping[0], "only")


def of_drawn(seed: int, count: int, processes: int = 2) -> Counts:
    """The counts of a drawn table, its rows shared out among processes."""
    step = max(1, min(500, count // processes))
    parts = [(seed, start, min(start + step, count)) for start in range(0, count, step)]
    with get_context("spawn").Pool(processes) as pool:
        return sum(pool.imap_unordered(_of_part, parts), Counter())


def _of_part(part: tuple[int, int, int]) -> Counts:
    seed, start, end = part
    return counted(row(seed, number) for number in range(start, end))


def never_broken(total: Counts) -> list[str]:
    """The rules that no row breaks, but those of resources of FHIR and of drafts: no row is one."""
    asked = (r for r in load("order").rules.values() if r.found_by not in {"fhir", "draft"})
    return [rule.id for rule in asked if not total["rule", rule.id, "broken"]]


def sums(total: Counts) -> dict[str, int]:
    """Of each rule, how many rows have any outcome: all that are not refused."""
    rules = {key[1] for key in total if key[0] == "rule"}
    return {rule: sum(total["rule", rule, each] for each in OUTCOMES) for rule in rules}
