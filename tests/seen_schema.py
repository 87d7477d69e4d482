"""The schema of settings seen, made from that of orders and the list of what is seen.

Run as a script this file writes it anew: `python tests/seen_schema.py`.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from orderlint.fields import load_schema
from orderlint.readback.checklist import PATHS

FILE = Path(__file__).parents[1] / "schemas/settings-seen.schema.json"

_HEAD: dict[str, Any] = {
    "document": {
        "title": "Document kind",
        "description": "What this file is; settings seen always say settings-seen here.",
        "const": "settings-seen",
        "examples": ["settings-seen"],
    },
    "keyed_by": {
        "$ref": "#/$defs/label",
        "title": "Keyed in by",
        "description": "Who keyed the settings in, by role or name.",
        "examples": ["bedside nurse"],
    },
    "seen_by": {
        "$ref": "#/$defs/label",
        "title": "Seen by",
        "description": "Who looked at the settings, alone and without the order in hand.",
        "examples": ["second nurse"],
    },
    "seen_at": {
        "$ref": "#/$defs/instant",
        "title": "Time seen",
        "description": "Date and time at which looking began, with the offset from UTC.",
        "examples": ["2026-03-02T15:10:00-06:00"],
    },
}
_TITLE = "Settings seen"
_DESCRIPTION = (
    "What a second nurse reads off the bag, the controller and the pole, without the order in "
    "hand. Comparing it with an order is decision support: it judges only what is written down, "
    "and defers to the prescriber, the pharmacy, the manufacturer's instructions and local policy."
)


def made() -> dict[str, Any]:
    """The schema: the head, then each setting just as the order schema has it."""
    order = load_schema("order")
    kept = _pruned(copy.deepcopy(order["properties"]), "")
    properties = {"document": _HEAD["document"], "format": order["properties"]["format"]}
    properties |= {key: node for key, node in _HEAD.items() if key != "document"} | kept
    used = set(_used(properties))
    kinds = {name: kind for name, kind in order["$defs"].items() if name in used}
    head = {**order, "title": _TITLE, "description": _DESCRIPTION}
    return {**head, "properties": properties, "$defs": kinds}


def _pruned(properties: dict[str, Any], prefix: str) -> dict[str, Any]:
    """The fields that are seen, and the sections that have any."""
    kept = {}
    for key, node in properties.items():
        path, section = f"{prefix}{key}", node.get("then", node)
        if "properties" in section:
            section["properties"] = _pruned(section["properties"], f"{path}.")
        if section.get("properties") or path in PATHS:
            kept[key] = node
    return kept


def _used(node: Any) -> list[str]:
    if not isinstance(node, dict):
        return []
    named = [str(node["$ref"]).removeprefix("#/$defs/")] if "$ref" in node else []
    return [*named, *(name for child in node.values() for name in _used(child))]


def text() -> str:
    return json.dumps(made(), ensure_ascii=False, indent=2) + "\n"


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
