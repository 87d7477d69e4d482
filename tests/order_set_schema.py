"""The schema of order sets, made from the schema of orders: each leaf with the forms of an entry.

Run as a script this file writes it anew: `python tests/order_set_schema.py`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

Schema = dict[str, Any]

FOLDER = Path(__file__).resolve().parents[1] / "schemas"
WRITTEN = FOLDER / "order-set.schema.json"
_OF_READING = (
    "dimension",
    "lowest",
    "highest",
    "decimals",
    "spellings",
    "words",
    "abbreviations",
    "qualifiers",
)
_OF_READING += ("choices", "otherwise", "label", "zone", "format")
"""What the schema of orders tells the reader; here it would be said a second time."""

HEAD: Schema = {
    "document": {
        "title": "Document kind",
        "description": "What this file is; an order set always says order-set here.",
        "const": "order-set",
        "examples": ["order-set"],
    },
    "format": {
        "title": "Format version",
        "description": "The version of this file format, always 1 for now.",
        "const": 1,
        "examples": [1],
    },
    "id": {
        "title": "Id of the set",
        "description": (
            "A name for the set that stays the same when its title, its version or the name of its "
            "file changes, and that no other set has."
        ),
        "type": ["string", "number"],
        "examples": ["irrigation-adult"],
    },
    "title": {
        "title": "Title of the set",
        "description": "What the set is called, so that it can be told from others like it.",
        "type": ["string", "number"],
        "examples": ["Ventricular irrigation, adult"],
    },
    "population": {
        "title": "Population",
        "description": (
            "The patient group that the set is for: one of those an order can name, or a list "
            "of them."
        ),
        "examples": ["adult"],
        "if": {"type": "array"},
        "then": {"items": {"$ref": "#/$defs/choice_of_patient_group"}, "minItems": 1},
        "else": {"$ref": "#/$defs/choice_of_patient_group"},
    },
    "version": {
        "title": "Version of the set",
        "description": "A number or word that changes whenever the set does.",
        "type": ["string", "number"],
        "examples": [4],
    },
    "owner": {
        "title": "Owner of the set",
        "description": (
            "Who looks after the set, by role or committee; mistakes in it are told to them."
        ),
        "type": ["string", "number"],
        "examples": ["neurocritical care committee"],
    },
    "approved": {
        "title": "Approval of the set",
        "description": "Who approved the set, and when.",
        "type": ["string", "number"],
        "examples": ["2026-01-20 by the pharmacy and therapeutics committee"],
    },
    "review_due": {
        "title": "Date of review",
        "description": (
            "The day, or the date and time with its offset from UTC, by which the set is looked "
            "at again."
        ),
        "type": "string",
        "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}([T ].*)?$",
        "examples": ["2027-01-31"],
    },
}

GATE = ("shown_when", "limits")
LIMITS_NEED = {"limits": ["shown_when"]}

SHARED: Schema = {
    "shown_when": {
        "title": "Shown when",
        "description": (
            "The leaf or section is shown only while this condition on other fields of the "
            "order holds; what is not shown is absent from the order."
        ),
        "type": "string",
        "minLength": 1,
        "examples": ["therapy == 'irrigation'"],
    },
    "limits": {
        "title": "Limits of the condition",
        "description": (
            "Numbers with their units, by the names that shown_when: gives them; each must be "
            "named there."
        ),
        "type": "object",
        "minProperties": 1,
        "propertyNames": {"pattern": "^[a-z][a-z0-9_]*$"},
        "additionalProperties": {"type": "string", "minLength": 1},
        "examples": [{"low": "10 mmHg"}],
    },
    "offered": {
        "title": "Offered as a whole",
        "description": "The section is taken or left out with one tick.",
        "type": "object",
        "required": ["preset"],
        "additionalProperties": False,
        "properties": {
            "preset": {
                "title": "Tick of the section",
                "description": (
                    "Whether the section is taken (in) or left out (out) unless somebody "
                    "changes the tick."
                ),
                "enum": ["in", "out"],
                "examples": ["out"],
            }
        },
    },
    "blank": {
        "title": "Blank",
        "description": "The value is left to be written: required in every order, or optional.",
        "enum": ["required", "optional"],
        "examples": ["required"],
    },
    "blank_label": {
        "title": "Label of the blank",
        "description": "What stands beside the blank on the form.",
        "type": ["string", "number"],
        "examples": ["Rate in mL/h"],
    },
}


def schema_of_sets(order: Schema) -> Schema:
    """The schema of order sets from that of orders."""
    defs: Schema = {name: _scalar(kind) for name, kind in order["$defs"].items()}
    of_file = {"document", "format"}
    tree = {key: node for key, node in order["properties"].items() if key not in of_file}
    properties = {key: _node(node, key, defs) for key, node in tree.items()}
    title = "Order in the set"
    described = "The order that is made from the set, in which each leaf is fixed, chosen or blank."
    return {
        "$schema": order["$schema"],
        "title": "Order set",
        "description": (
            "A template from which orders for ventricular irrigation, drainage or pressure "
            "monitoring are made. A check against this schema is decision support: it judges "
            "only how the set is written down, and defers to the prescriber, the pharmacy, the "
            "manufacturer's instructions and local policy."
        ),
        "type": "object",
        "required": ["document", "format", "order"],
        "additionalProperties": False,
        "properties": {
            **HEAD,
            "order": {
                "title": title,
                "description": described,
                "type": "object",
                "additionalProperties": False,
                "properties": properties,
            },
        },
        "$defs": {**defs, **SHARED, **_forms()},
    }


def _forms() -> Schema:
    """Which keys of an entry stand together: one form, the first of these whose key is there."""
    steps = ["from", "to", "step"]
    together = {key: [other for other in steps if other != key] for key in steps}
    written = {"propertyNames": {"enum": ["blank", "label", *steps, *GATE]}}
    blank = {**written, "dependentRequired": together}
    between = {"required": steps, "propertyNames": {"enum": [*steps, "preset", *GATE]}}
    return {
        "form_of_quantity": _dispatched(blank, between),
        "form_of_other": _dispatched(written, {"required": ["choose"]}),
    }


def _dispatched(blank: Schema, otherwise: Schema) -> Schema:
    return {
        "if": {"required": ["fixed"]},
        "then": {"propertyNames": {"enum": ["fixed", *GATE]}},
        "else": {
            "if": {"required": ["choose"]},
            "then": {"propertyNames": {"enum": ["choose", "preset", *GATE]}},
            "else": {"if": {"required": ["blank"]}, "then": blank, "else": otherwise},
        },
    }


def _scalar(node: Schema) -> Schema:
    """How a value is written, without its words and without what only the reader needs."""
    shape = {k: v for k, v in node.items() if k not in {*_OF_READING, "title", "description"}}
    return {key: value for key, value in shape.items() if key != "examples"}


def _node(node: Schema, path: str, defs: Schema) -> Schema:
    """A section or leaf of the order's tree. One that may be either is told by its keys."""
    if "properties" in node:
        return _section(node, path, defs)
    if "if" not in node:
        return _leaf(node, path, defs)
    leaf = _leaf({**_words(node), **node["else"]}, path, defs)
    keys = ["fixed", "choose", "blank", "label", "from", "to", "step", "preset"]
    either = {
        "if": {"propertyNames": {"not": {"enum": keys}}},
        "then": _section(node["then"], path, defs),
        "else": leaf["then"],
    }
    return {**leaf, "then": either}


def _section(node: Schema, path: str, defs: Schema) -> Schema:
    children = {
        key: _node(child, f"{path}_{key}", defs) for key, child in node["properties"].items()
    }
    own = {key: {"$ref": f"#/$defs/{key}"} for key in (*GATE, "offered")}
    return {**node, "properties": {**own, **children}, "dependentRequired": LIMITS_NEED}


def _words(node: Schema) -> Schema:
    return {key: node[key] for key in ("title", "description", "examples")}


def _leaf(node: Schema, path: str, defs: Schema) -> Schema:
    kind = node["$ref"].removeprefix("#/$defs/") if "$ref" in node else f"choice_of_{path}"
    if kind not in defs:
        shape = _scalar(node)
        # An editor offers what an open choice is known to be.
        defs[kind] = {**shape, **({"examples": node["choices"]} if "choices" in node else {})}
    defs.setdefault(f"entry_of_{kind}", _entry(kind, defs[kind]))
    return {
        **_words(node),
        "if": {"type": "object"},
        "then": {"$ref": f"#/$defs/entry_of_{kind}"},
        "else": {"$ref": f"#/$defs/{kind}"},
    }


def _entry(kind: str, shape: Schema) -> Schema:
    """What may stand in place of a value of one kind."""
    one = {"$ref": f"#/$defs/{kind}"}
    in_steps = kind in {"pressure", "flow", "volume", "duration", "mass", "angle", "concentration"}
    steps = {
        "from": ("Lowest option", "The first of the options in steps."),
        "to": ("Highest option", "The last of the options in steps; a step must reach it."),
        "step": ("Step", "How far one option lies from the next, in the unit of the first."),
    }
    written = kind in {"text", "label", "zone"}
    assert in_steps == (shape.get("type") == ["string", "number"] and not written)
    return {
        "title": "Entry of a set",
        "description": "Instead of a value: fixed, options to choose from"
        + (", options in steps" if in_steps else "")
        + ", or a blank.",
        "type": "object",
        "minProperties": 1,
        "additionalProperties": False,
        "properties": {
            "fixed": _worded(
                "Fixed value", "The value in every order; no other can be picked.", one
            ),
            "choose": {
                "title": "Options",
                "description": "The values one of which is picked, the preferred one first.",
                "type": "array",
                "minItems": 1,
                "maxItems": 1000,
                "items": one,
            },
            **({key: _worded(*words, one) for key, words in steps.items()} if in_steps else {}),
            "preset": _worded(
                "Preset",
                "The option that stands unless another is picked. Without one, somebody must pick.",
                one,
            ),
            "blank": {"$ref": "#/$defs/blank"},
            "label": {"$ref": "#/$defs/blank_label"},
            **{key: {"$ref": f"#/$defs/{key}"} for key in GATE},
        },
        "dependentRequired": LIMITS_NEED,
        "$ref": f"#/$defs/form_of_{'quantity' if in_steps else 'other'}",
    }


def _worded(title: str, description: str, shape: Schema) -> Schema:
    return {"title": title, "description": description, **shape}


def as_text(schema: Schema) -> str:
    """The schema as it stands in its file."""
    return json.dumps(schema, ensure_ascii=False, indent=2) + "\n"


def text() -> str:
    """The whole file, made from the schema of orders as it is now."""
    order: Schema = json.loads((FOLDER / "order.schema.json").read_text(encoding="utf-8"))
    return as_text(schema_of_sets(order))


if __name__ == "__main__":
    WRITTEN.write_text(text(), encoding="utf-8")
