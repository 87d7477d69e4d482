"""A reviewed order set in the one shape from which the formats for CI are written.

Never a format's own words or signs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.baseline import finding_key, fingerprints, unchecked_key
from orderlint.finding import Finding
from orderlint.report import review_words as words
from orderlint.report.results import Checked, Result, unfilled
from orderlint.report.words import VERDICTS, instant_words
from orderlint.rulebook.source import cited

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Unchecked
    from orderlint.review import Reviewed
    from orderlint.rulebook.rule import Rule


def of_set(reviewed: Reviewed, rules: Mapping[str, Rule], at: int) -> Checked:
    """What `review` says of one order set; `at` is in milliseconds since 1970 UTC."""
    left_open = [_open(item, rules[item.rule], reviewed) for item in reviewed.unchecked]
    keys = [finding_key(finding) for finding in reviewed.findings]
    keys += [unchecked_key(item) for item in reviewed.unchecked]
    keys += [finding_key(item.finding) for item in reviewed.suppressed]
    said = (
        *((finding, False, None) for finding in reviewed.findings),
        *((finding, True, None) for finding in left_open),
        *((item.finding, False, item) for item in reviewed.suppressed),
    )
    numbered = zip(said, fingerprints(keys), strict=True)
    return Checked(
        reviewed.file,
        "order-set",
        reviewed.verdict,
        tuple(Result(found, print_, open_, item) for (found, open_, item), print_ in numbered),
        (),
        (
            f"Verdict: {VERDICTS[reviewed.verdict][0]}.",
            f"Checked: {words.checked(reviewed, f', as of {instant_words(at)}')}",
            words.COVERS,
        ),
    )


def _open(unchecked: Unchecked, rule: Rule, reviewed: Reviewed) -> Finding:
    """A rule that some order may leave unchecked, in the form of a finding."""
    lead = unchecked.missing[0]
    names = ", ".join(words.name_of(path) for path in unchecked.missing)
    return Finding(
        rule=rule.id,
        family=rule.family,
        level=unchecked.level,
        path=lead,
        name=words.name_of(lead),
        says=f"An order from the set may leave it unchecked, for lack of {names}.",
        written="",
        expected="",
        why=unfilled(rule.why),
        ask="",
        ask_whom="author",
        source=cited(rule.sources),
        place=reviewed.order_set.place_of(lead),
    )
