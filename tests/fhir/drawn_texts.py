"""Written orders from a seed, blemished ones among them, as JSON or YAML.

A third are the clean order with some texts exchanged, a third those that the second implementation
of the rulebook draws, a third the examples that rules carry.
"""

from __future__ import annotations

import json
from random import Random
from typing import TYPE_CHECKING

import yaml
from audit.bases import clean, of_rules, whole
from oracle.draw import draw, nested
from oracle.pools import MISREAD, NOTATIONS, UNSAFE
from oracle.reading import KINDS

from orderlint.fields import field_table

if TYPE_CHECKING:
    from collections.abc import Mapping

Tree = dict[str, object]

BLEMISHES: tuple[object, ...] = (
    *("60", "22 mmHg", "22.0 mmHg", ".5 mL", "1e3 mL/h", "010 mL", "5 kPa", "8 mL/hr", "3 cm"),
    *("2,5 mmHg", "1,000 mL", "−5 mmHg", "-5 mmHg", "+5 mmHg", "0-5 mmHg", "22mmHg", "9 mL."),
    *("-0 mmHg", "0.0 mmHg", "-0.0 mmHg", "00 mmHg", "22  mmHg", "22\tmmHg", "22 mm Hg", "6 /h"),
    *("22 mm[Hg]", "20 cm[H2O]", "20 ug/mL", "5 °", "22 mmhg", "1E+3 mL", "12345678901234567 mL"),
    *("0.12345678901234567890 mL", "10 mg/L", "10 units/mL", "2 million units/L", "22 mmHg ±2"),
    *("yes", "no", "on", "off", "true", "none", "neither", "adult", "unknown", "drainage", "NS"),
    *("~", "null", "[]", "{}", "a: b", "# no", "text with # marks", "<b>&amp;</b>", "'", '"', "\\"),
    *("2026-03-02T15:00:00-06:00", "2026-03-02T15:00:00Z", "2026-03-02T15:00:00", "2026-03-02"),
    *("2026-03-02T15:00:00.5-06:00", "2026-03-02T15:00-06:00", "2026-02-30T15:00:00Z", "now"),
    *("2026-03-02T24:00:00Z", "2026-03-02 15:00:00Z", "2026-03-02T15:00:00+15:00", "15:00"),
    *("call at 15 mmHg; run at 20 mL/h", "first line\nsecond line", "Schädel 你好 ½ µ", "A&E > 3"),
    *("U/100 mL", "MS QD", "5.", "five mL", "naïve\u00a0blank", "x" * 300, "1 d", "24 hours"),
    *(60, 22.5, -3, 0, True, False, None),
)
"""Texts and values that may stand in any setting; of most settings most are wrong."""
OF_KIND = {
    kind: (*MISREAD[kind], *NOTATIONS[kind], *(form.format("mL") for form in UNSAFE))
    for kind in MISREAD
}


def drawn_order(seed: int) -> str:
    """The text of the order of a seed: JSON, or YAML of one line in two."""
    chance = Random(seed)
    tree = in_order((_changed, _of_oracle, _of_rule)[seed % 3](chance, seed))
    if chance.random() < 0.5:
        return json.dumps(tree, ensure_ascii=False, indent=1)
    return yaml.safe_dump(tree, sort_keys=False, allow_unicode=True, width=4_000)


def _changed(chance: Random, _: int) -> Tree:
    """An order that somebody wrote, in which some texts are left out or exchanged."""
    row = clean() if chance.random() < 0.6 else chance.choice(whole())
    leaves: dict[str, object] = {path: text for path, text in row.items() if text is not None}
    for path in chance.sample(sorted(leaves), chance.choice((0, 0, 1, 2, 6, len(leaves) // 2))):
        del leaves[path]
    paths = [path for path in field_table().fields if path not in {"document", "format"}]
    for path in chance.sample(paths, chance.choice((0, 1, 1, 2, 3, 8))):
        _lay(leaves, path, chance.choice(OF_KIND.get(KINDS.get(path, ""), BLEMISHES)))
    for path in chance.sample(paths, chance.choice((0, 0, 1, 2))):
        _lay(leaves, path, chance.choice(BLEMISHES))
    return nested(leaves)


def _lay(leaves: dict[str, object], path: str, value: object) -> None:
    """Write a setting; what cannot stand beside it goes."""
    for other in [*leaves]:
        if other.startswith(f"{path}.") or path.startswith(f"{other}."):
            del leaves[other]
    leaves[path] = value


def _of_oracle(_: Random, seed: int) -> Tree:
    return draw(seed)


def _of_rule(chance: Random, _: int) -> Tree:
    """An example of a rule, mostly laid over the clean order."""
    cells = {path: text for path, text in chance.choice(of_rules()).cells.items() if text}
    leaves: dict[str, object] = {}
    if chance.random() < 0.7:
        leaves = {path: text for path, text in clean().items() if text is not None}
    for path, text in cells.items():
        if path in field_table().fields:
            _lay(leaves, path, text)
    return nested(leaves)


def in_order(tree: Tree) -> Tree:
    """The settings in the order in which a Bundle of ours has them, as findings follow it."""
    leaves = _leaves_of(tree)
    return nested({path: leaves[path] for path in field_table().fields if path in leaves})


def _leaves_of(tree: Mapping[str, object], above: str = "") -> dict[str, object]:
    """Sections → paths."""
    found: dict[str, object] = {}
    for key, value in tree.items():
        if isinstance(value, dict):
            found |= _leaves_of(value, f"{above}{key}.")
        else:
            found[f"{above}{key}"] = value
    return found
