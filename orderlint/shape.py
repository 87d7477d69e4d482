"""The schema's judgement of an order's shape: unknown keys, and values of the wrong kind.

The only import of jsonschema. Never judges a number, a unit or a choice: each leaf does that.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any

from orderlint.fields import field_table, in_sentence, load_schema
from orderlint.finding import Fault
from orderlint.reading.node import Listing, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from jsonschema import Draft202012Validator
    from jsonschema.exceptions import ValidationError

    from orderlint.fields import Field
    from orderlint.reading.node import Entry, Node


def judge_shape(root: Section) -> tuple[Fault, ...]:
    """The faults of shape in an order, at the right key or value, one for one cause."""
    if plainly_fits(root):
        return ()
    faults: dict[tuple[str, str], Fault] = {}
    for error in _validator().iter_errors(_instance(root)):
        for fault in _faults_of(error, root):
            faults.setdefault((fault.rule, fault.path), fault)
    return tuple(faults.values())


_FORMS = {
    "quantity": {"number", "text"},
    "choice": {"text"},
    "text": {"number", "text"},
    "instant": {"text"},
}
"""The forms of scalar that plainly suit a field; anything else is left to the schema."""


def plainly_fits(root: Section, prefix: str = "") -> bool:
    """Whether every key is known and every value of a form that suits it, by the field table.

    It spares a cold start the import of jsonschema. INVARIANT: what plainly fits is valid by the
    schema, choices apart (a test draws documents to see); what does not is the schema's to judge.
    """
    table = field_table()
    for entry in root.entries:
        path = f"{prefix}{entry.key.text}"
        if isinstance(entry.value, Section):
            fits = path in table.section_names and plainly_fits(entry.value, f"{path}.")
        elif isinstance(entry.value, Scalar):
            fits = _suits(path, entry.value)
        else:
            fits = False
        if not fits:
            return False
    return True


def _suits(path: str, scalar: Scalar) -> bool:
    field = field_table().fields.get(path)
    if field is None:
        return False
    if field.kind == "count":
        return scalar.form == "number" and scalar.text.isdigit()
    return scalar.form in _FORMS[field.kind]


@functools.cache
def _validator() -> Draft202012Validator:
    from jsonschema import Draft202012Validator  # noqa: PLC0415 - slow to import

    return Draft202012Validator(load_schema("order"))


def _instance(node: Node) -> Any:
    """The node as JSON data. Only shape is judged on it, so a number's value plays no part."""
    if isinstance(node, Section):
        return {entry.key.text: _instance(entry.value) for entry in node.entries}
    if isinstance(node, Listing):
        return [_instance(item) for item in node.items]
    if node.form == "nothing":
        return None
    if node.form == "truth":
        return node.text.lower() == "true"
    if node.form == "number":
        return int(node.text) if node.text.isascii() and node.text.isdigit() else 0.5
    return node.text


def _faults_of(error: ValidationError, root: Section) -> Iterator[Fault]:
    keys = [str(key) for key in error.absolute_path]
    path = ".".join(keys)
    node = _at(root, keys)
    if error.validator == "additionalProperties" and isinstance(node, Section):
        known: Any = error.schema
        for entry in node.entries:
            if entry.key.text not in known["properties"]:
                yield _unknown_key(path, entry, node)
    elif error.validator in {"type", "enum"}:
        # A scalar outside a list of choices is the leaf's own finding, not a fault of shape.
        if error.validator == "type" or not isinstance(node, Scalar) or node.form == "nothing":
            yield _wrong_kind(path, node)
    else:
        raise AssertionError(f"the order schema uses {error.validator}, which has no finding")


def _unknown_key(path: str, entry: Entry, section: Section) -> Fault:
    table = field_table()
    nearest = table.nearest_key(path, entry.key.text)
    full = f"{path}.{entry.key.text}" if path else entry.key.text
    name = nearest if nearest and nearest.rpartition(".")[0] != path else _last(nearest)
    details = {"nearest": f"; the nearest is {name}" if name else ""}
    written = {f"{path}.{e.key.text}" if path else e.key.text for e in section.entries}
    meant = table.sections.get(nearest, (nearest,)) if nearest and nearest not in written else ()
    return Fault("key-not-known", full, entry.key.text, entry.key.place, details, meant)


def _last(path: str | None) -> str | None:
    return path.rpartition(".")[2] if path else path


def _wrong_kind(path: str, node: Node) -> Fault:
    table = field_table()
    field = table.fields.get(path)
    form = form_of(field) if field else _GROUP
    written = (node.text.strip() if isinstance(node, Scalar) else "") or _kind_of(node)
    name = in_sentence(table.trade_name(path))
    details = {"name": name, "met": _kind_of(node), "form": form}
    spoilt = table.sections.get(path, (path,) if field else ())
    return Fault("kind-not-expected", path, written, node.place, details, spoilt)


def form_of(field: Field) -> str:
    """What belongs in a field, by its kind alone, so that no clinical value is suggested."""
    if field.kind == "quantity":
        return f"a number and its unit, {either(field.decimals)}"
    if field.kind == "choice" and field.otherwise is None:
        return f"one of: {choices_of(field)}"
    if field.kind == "instant":
        return f"a date and time with its offset from UTC, such as {field.example}"
    return "a whole number" if field.kind == "count" else "a text"


def choices_of(field: Field) -> str:
    """The choices of a field, with the settings that may stand there in their place."""
    inner = [path for path in field_table().sections.get(field.path, ()) if path != field.path]
    instead = ", ".join(path.rpartition(".")[2] for path in inner)
    return ", ".join(field.choices) + (f", or its {instead}" if instead else "")


def either(words: Iterable[str]) -> str:
    """Words as alternatives: `mmHg or cmH2O`, `s, min or h`."""
    *ahead, last = words
    return f"{', '.join(ahead)} or {last}" if ahead else last


_GROUP = "a group of settings, each with a name of its own"


def _kind_of(node: Node) -> str:
    if isinstance(node, Section):
        return _GROUP
    if isinstance(node, Listing):
        return "a list"
    kinds = {
        "nothing": "nothing",
        "truth": "the word true or false",
        "number": "a number",
        "text": "a text",
    }
    return kinds[node.form]


def _at(root: Section, keys: list[str]) -> Node:
    node: Node = root
    for key in keys:
        found = node.get(key) if isinstance(node, Section) else None
        if found is None:
            break
        node = found
    return node
