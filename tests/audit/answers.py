"""What `orderlint audit --format json` says, as the counts of counts.py and without its sources."""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any

from audit.tables import UNIT
from running import run

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from audit.counts import Counts

    Said = Mapping[str, Any]

EVERY = ("--format", "json", "--min-cell", "1", "--by", UNIT)
OF_SOURCES = ("files", "mapping", "unmapped", "samples")
"""The parts of the JSON that name files, their columns or rows in them."""


def audit(*arguments: str | Path) -> Said:
    """The JSON of an audit in this process, which must end well."""
    ran = run("audit", *EVERY, *arguments)
    assert ran.status in {0, 1}, ran.err
    said: Said = json.loads(ran.out)
    return said


def without_sources(said: Said) -> str:
    """The bytes of a result without what names sources."""
    kept = {key: value for key, value in said.items() if key not in OF_SOURCES}
    kept["refusals"] = said["refusals"]["by_reason"]
    return json.dumps(kept, ensure_ascii=False)


def counts_of(said: Said) -> Counts:
    """All counts of the JSON; of unreadable texts those that it lists."""
    total: Counts = Counter({("rows",): said["rows"], ("refused",): said["refused"]})
    total.update({("verdict", name): rows for name, rows in said["verdicts"].items()})
    for rule, found in said["rules"].items():
        total.update({("rule", rule, key): found[key] for key in OF_A_RULE})
        lacking = found["unchecked_by"].items()
        total.update({("lacking", rule, path): rows for path, rows in lacking})
    total.update({("pair", *sorted(pair["rules"])): pair["rows"] for pair in said["pairs"]})
    for path, found in said["unreadable"].items():
        for each in found["texts"]:
            total["unreadable", path, each["text"]] = each["rows"]
    for value, group in said["groups"][UNIT].items():
        total.update({("group", value, *key): rows for key, rows in _of_group(group)})
    return +total


OF_A_RULE = ("broken", "unchecked", "kept", "not_asked", "reported", "only")


def _of_group(group: Said) -> Iterator[tuple[tuple[str, ...], int]]:
    for key in ("rows", "refused", "stopped"):
        yield (key,), group[key]
    for rule, found in group["rules"].items():
        for key in ("broken", "reported", "only"):
            yield ("rule", rule, key), found[key]


def differences(said: Said, truth: Counts) -> dict[tuple[str, ...], tuple[int, int]]:
    """By what is counted, what the audit says and what verify says, where these differ.

    Of unreadable texts the audit lists the most frequent, and how many more there are.
    """
    ours, theirs = counts_of(said), +truth
    keys = {key for key in {*ours, *theirs} if key[0] != "unreadable" or key in ours}
    found = {key: (ours[key], theirs[key]) for key in keys if ours[key] != theirs[key]}
    found.update(_unread(said, theirs))
    return dict(sorted(found.items()))


def _unread(said: Said, truth: Counts) -> Iterator[tuple[tuple[str, ...], tuple[int, int]]]:
    """Where the texts that are not listed are another number of texts or of rows."""
    texts, rows = Counter[str](), Counter[str]()
    for key, count in truth.items():
        if key[0] == "unreadable":
            texts[key[1]] += 1
            rows[key[1]] += count
    for path in {*texts, *said["unreadable"]}:
        found = said["unreadable"].get(path, {"texts": [], "others": 0, "rows_of_others": 0})
        listed = found["others"] + len(found["texts"])
        counted = found["rows_of_others"] + sum(each["rows"] for each in found["texts"])
        if (listed, counted) != (texts[path], rows[path]):
            yield ("unreadable", path, "texts"), (listed, texts[path])
            yield ("unreadable", path, "rows"), (counted, rows[path])
