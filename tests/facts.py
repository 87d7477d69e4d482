"""The rows of facts.yaml: values from outside the project, each with its source and its mark."""

from __future__ import annotations

from pathlib import Path

import yaml

Row = dict[str, str]

FACTS: dict[str, list[Row]] = yaml.safe_load(
    Path(__file__).with_name("facts.yaml").read_text(encoding="utf-8")
)


def fact(section: str, begins: str) -> Row:
    """The one row of `section` whose `what` or `flag` is this, or else begins so."""
    names = [row.get("what", row.get("flag", "")) for row in FACTS[section]]
    if begins in names:
        return FACTS[section][names.index(begins)]
    rows = [row for row, name in zip(FACTS[section], names, strict=True) if name.startswith(begins)]
    assert len(rows) == 1, f"{len(rows)} rows of {section} begin with {begins!r}"
    return rows[0]
