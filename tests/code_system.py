"""The code system of the settings as a resource of FHIR, made from the schema of orders.

Run as a script this file writes it anew: `python tests/code_system.py`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from orderlint.fhir.codes import CODES, ORDER, setting_codes
from orderlint.fields import field_table

WRITTEN = Path(__file__).resolve().parents[1] / "schemas" / "order-settings.code-system.json"
_HEAD = {
    "resourceType": "CodeSystem",
    "id": "order-settings",
    "url": CODES,
    "version": "1",
    "name": "OrderSettings",
    "title": "Settings of an order for ventricular irrigation and drainage",
    "status": "active",
    "experimental": False,
    "description": "Each setting of an order as orderlint reads it, by its path; order; groups.",
    "caseSensitive": True,
    "content": "complete",
}
_GROUP = "A group of a Questionnaire, in which stand the settings whose paths begin with"
_WHOLE = "An order for ventricular irrigation, drainage or pressure monitoring."


def code_system() -> dict[str, Any]:
    """The resource: the order as a whole, then each setting and each group of settings."""
    fields, names = field_table().fields, field_table().section_names
    concepts = [{"code": ORDER, "display": "Order", "definition": _WHOLE}] + [
        {"code": path, "display": fields[path].name, "definition": fields[path].description}
        for path in setting_codes()
    ]
    concepts += [
        {"code": path, "display": names[path], "definition": f"{_GROUP} {path}."}
        for path in names
        if path not in fields  # an additive is a setting, the word `none`, and a group; one code
    ]
    return {**_HEAD, "count": len(concepts), "concept": concepts}


def text() -> str:
    """The file."""
    return json.dumps(code_system(), ensure_ascii=False, indent=2) + "\n"


if __name__ == "__main__":
    WRITTEN.write_text(text(), encoding="utf-8")
