"""Written orders drawn by hypothesis: sections of texts, right, wrong and odd, as YAML or JSON."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import TYPE_CHECKING, Any

import yaml
from hypothesis import strategies as st

from orderlint.fields import field_table

if TYPE_CHECKING:
    from orderlint.field import Field

ODD = [
    *("", "yes", "none", "60", "22 mmHg", "22.0 mmHg", ".5 mL", "1e3 mL/h", "010 mL", "5 kPa"),
    *("8 mL/hr", "3 cm", "NS", "2,5 mmHg", "1,000 mL", "−5 mmHg", "0-5 mmHg", "22mmHg", "9 mL."),
    *("2026-03-02T15:00:00-06:00", "2026-03-02T15:00:00", "text: with # marks", "<b>&amp;</b>"),
]
ODD_VALUES = [None, True, False, 0, 60, 22.5, [], ["22 mmHg"], {}, {"of": "22 mmHg"}]


ODD_KEYS = [
    *("pause", "irigation", "treatabove", "notify", "rate", "name", "a:b", "x" * 70, "naïve"),
    *(path for path in field_table().fields if path not in {"document", "format"}),
]


def numbers() -> st.SearchStrategy[str]:
    return st.builds(
        lambda whole, part: f"{whole}{part}",
        st.integers(-30, 210),
        st.sampled_from(["", "", "", ".5", ".25", ".01"]),
    )


def good(field: Field) -> st.SearchStrategy[Any]:
    """A text that reads well in a field."""
    if field.kind == "quantity":
        units = st.sampled_from(tuple(field.decimals))
        return st.builds(lambda number, unit: f"{number} {unit}", numbers(), units)
    if field.kind == "choice":
        return st.sampled_from(tuple(field.spellings))
    if field.kind == "count":
        return st.integers(0, 9)
    return st.just(field.example)


def trees(most_odd: float = 0.2) -> st.SearchStrategy[dict[str, Any]]:
    """The data of an order, with odd values here and there and some parts left out."""
    odd = st.sampled_from([*ODD, *ODD_VALUES]).map(deepcopy)  # a tree is added to as it grows
    table = field_table()
    head = {"document", "format", "irrigation.additive"}
    fields = [field for field in table.fields.values() if field.path not in head]

    @st.composite
    def tree(draw: st.DrawFn) -> dict[str, Any]:
        root: dict[str, Any] = {"document": "order", "format": 1}
        for field in draw(st.lists(st.sampled_from(fields), unique_by=lambda f: f.path)):
            strange = draw(st.floats(0, 1)) < most_odd
            value = draw(odd if strange else good(field))
            *sections, key = field.path.split(".")
            inner = root
            for section in sections:
                inner = inner.setdefault(section, {})
            inner[key] = value
        for _ in range(draw(st.integers(0, 2)) if most_odd else 0):
            inside = draw(st.sampled_from([root, *(v for v in root.values() if type(v) is dict)]))
            inside[draw(st.sampled_from(ODD_KEYS))] = draw(odd)
        return root

    return tree()


def as_yaml(data: Any) -> bytes:
    apart = json.loads(json.dumps(data))  # no two values are one object, which would be an alias
    text: str = yaml.safe_dump(apart, sort_keys=False, allow_unicode=True, width=1000)
    return text.encode()


def as_json(data: Any) -> bytes:
    return json.dumps(data, indent=1, ensure_ascii=False).encode()
