"""One order before verify and the oracle, and the smallest order on which they differ still."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from oracle.answers import RULES
from oracle.draw import nested
from oracle.judge import judge
from oracle.reading import leaves_of

import orderlint

if TYPE_CHECKING:
    from collections.abc import Mapping

AT = datetime(2026, 3, 2, 12, tzinfo=UTC)
Difference = tuple[str, str]


def differences(document: Mapping[str, object]) -> set[Difference]:
    """Each rule of the oracle that only one of the two finds, or says could not be checked."""
    result = orderlint.verify(document, at=AT)
    found = {finding.rule for finding in result.findings} & RULES.keys()
    unchecked = {left.rule for left in result.unchecked} & RULES.keys()
    ours = judge(document)
    return {
        *(("found by verify alone", rule) for rule in found - ours.found),
        *(("found by the oracle alone", rule) for rule in ours.found - found),
        *(("unchecked by verify alone", rule) for rule in unchecked - ours.unchecked),
        *(("unchecked by the oracle alone", rule) for rule in ours.unchecked - unchecked),
    }


def smallest(document: Mapping[str, object], difference: Difference) -> dict[str, object]:
    """The order without each setting that the difference does not need."""
    leaves = dict(leaves_of(document))
    for path in list(leaves):
        fewer = {one: raw for one, raw in leaves.items() if one != path}
        if path not in ("document", "format") and difference in differences(nested(fewer)):
            leaves = fewer
    return leaves
