"""Checks a document against its JSON Schema: unknown keys, and values of the wrong kind.

The only import of jsonschema. Never judges a number, a unit or a choice: leaf_reader.py does that.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any

from orderlint.field import Field, in_sentence
from orderlint.fields import FieldTable, load_schema
from orderlint.finding import Fault
from orderlint.reading.node import KeyValue, Listing, Node, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from jsonschema import Draft202012Validator
    from jsonschema.exceptions import ValidationError


LONGEST_KEY, MOST_GUESSED = 60, 40
"""Beyond so many characters in a key, or so many faults, nobody slipped: nothing is guessed."""


def check_shape(root: Section, table: FieldTable) -> tuple[Fault, ...]:
    """Return the faults of shape, each at its key or value; one fault for one cause."""
    faults: dict[tuple[str, str], Fault] = {}
    for error in _validator(table.schema).iter_errors(_instance(root, "", table)):
        for fault in _faults_of(error, root, table, guess=len(faults) < MOST_GUESSED):
            faults.setdefault((fault.rule, fault.path), fault)
    return tuple(faults.values())


def known_nodes(root: Section, table: FieldTable) -> tuple[list[tuple[str, Node]], bool]:
    """Every node whose key is in the table, with its path; and whether all fits the field table:
    every key is known, and every value has a form that its field accepts.

    Saves the import of jsonschema. INVARIANT: what fits is valid by the schema, except for choices
    (tested on drawn documents); what does not fit is checked by the schema.
    """
    found: list[tuple[str, Node]] = []
    return found, _collect(root, "", table, found)


def _collect(section: Section, path: str, table: FieldTable, found: list[tuple[str, Node]]) -> bool:
    keys, fits = table.keys[path], True
    for entry in section.entries:
        below, node = keys.get(entry.key.text), entry.value
        if below is None:
            fits = False
            continue
        found.append((below, node))
        if not isinstance(node, Section):
            fits = fits and _fits(below, node, table)
        elif below in table.keys:
            fits = _collect(node, below, table, found) and below in table.section_names and fits
        else:
            fits = False
    return fits


def _fits(path: str, node: Scalar | Listing, table: FieldTable) -> bool:
    if is_empty(node):
        return True
    field = table.fields.get(path)
    if field is None or not isinstance(node, Scalar):
        return False
    if node.form == "truth":  # the schema lists the truth values where it lists them as texts
        return "true" in field.spellings
    return _is_of_form(field, node)


def _is_of_form(field: Field, node: Scalar) -> bool:
    """True of a form that a field certainly accepts; the schema decides on any other."""
    if field.kind == "count":
        return node.form == "number" and node.text.isdigit()
    return node.form == "text" or (node.form == "number" and field.kind not in _TEXT_ALONE)


_TEXT_ALONE = frozenset({"choice", "instant"})


def has_allowed_form(field: Field, node: Scalar) -> bool:
    """True if the schema allows a scalar of this form; a closed choice checks itself."""
    is_closed = field.kind == "choice" and field.otherwise is None
    return is_closed or _is_of_form(field, node)


def is_empty(node: Node) -> bool:
    """True if nothing is written: a key without a value counts as left out, as on a form."""
    return isinstance(node, Scalar) and (node.form == "nothing" or not node.text.strip())


@functools.cache
def _validator(schema: str) -> Draft202012Validator:
    from jsonschema import Draft202012Validator  # noqa: PLC0415 - slow to import

    return Draft202012Validator(load_schema(schema))


def _can_be_left_out(path: str, entry: KeyValue, table: FieldTable) -> bool:
    """True of a known key whose value is empty, or fits and is not asked for by the schema."""
    node = entry.value
    if not path or isinstance(node, Section):
        return False
    if is_empty(node):
        return True
    schema: Any = _validator(table.schema).schema
    return path not in schema.get("required", ()) and _fits(path, node, table)


def _instance(node: Node, path: str, table: FieldTable) -> Any:
    """Convert the node to JSON data, without known keys that are empty or whose value fits.

    Only the shape is checked, so the value of a number does not matter; and each value alone, as no
    other keyword of the schema asks for a second one.
    """
    if isinstance(node, Section):
        keys = table.keys.get(path, {})
        named = ((keys.get(entry.key.text, ""), entry) for entry in node.entries)
        kept = (pair for pair in named if not _can_be_left_out(*pair, table))
        return {entry.key.text: _instance(entry.value, path, table) for path, entry in kept}
    if isinstance(node, Listing):
        return [_instance(item, "", table) for item in node.items]
    if node.form == "nothing":
        return None
    if node.form == "truth":
        return node.text.lower() == "true"
    if node.form == "number":
        from fractions import Fraction  # noqa: PLC0415 - cold start

        return int(node.text) if node.text.isascii() and node.text.isdigit() else Fraction(1, 2)
    return node.text


def _faults_of(
    error: ValidationError, root: Section, table: FieldTable, *, guess: bool
) -> Iterator[Fault]:
    keys = [str(key) for key in error.absolute_path]
    path = ".".join(keys)
    node = _at(root, keys)
    if error.validator == "additionalProperties" and isinstance(node, Section):
        known: Any = error.schema
        for entry in node.entries:
            if entry.key.text not in known["properties"]:
                yield unknown_key_fault(path, entry, root, table, guess=guess)
    elif error.validator in {"type", "enum"}:
        # A scalar outside a list of choices is the leaf's own finding, not a fault of shape.
        if error.validator == "type" or not isinstance(node, Scalar):
            yield wrong_kind_fault(path, node, table)
    else:
        raise AssertionError(f"the schema uses {error.validator}, which has no finding")


def unknown_key_fault(
    path: str, entry: KeyValue, root: Section, table: FieldTable, *, guess: bool = True
) -> Fault:
    """Make the fault of a key that the section at `path` of the document `root` cannot have.

    The path that the key clearly means is unreadable, unless it is written as well.
    """
    key = entry.key.text
    likely = guess and len(key) <= LONGEST_KEY
    meant = table.suggest_path(path, key) if likely else None
    nearest = table.nearest_key(path, key) if likely else None
    details = {"nearest": f"; the nearest is {_seen_from(path, nearest)}" if nearest else ""}
    if key == nearest:
        details = {"nearest": f"; it is written as {_last(key)} under {_head(key)}"}
    free = meant is not None and not _is_written(root, meant)
    spoilt = table.sections.get(meant, (meant,)) if meant and free else ()
    return Fault("key-not-known", _joined(path, key), key, entry.key.place, details, spoilt)


def _last(path: str) -> str:
    return path.rpartition(".")[2]


def _head(path: str) -> str:
    return path.rpartition(".")[0]


def _joined(path: str, key: str) -> str:
    """Return the path of an unknown key; one that is not a word is quoted."""
    word = key if key.isidentifier() else f'"{key}"'
    return f"{path}.{word}" if path else word


def _seen_from(section: str, path: str) -> str:
    """Name a path within a section: only its key if it belongs there."""
    return _last(path) if _head(path) == section else path


def _is_written(root: Section, path: str) -> bool:
    """True if `path`, or a leaf instead of a section around it, is written."""
    node: Node | None = root
    for key in path.split("."):
        if not isinstance(node, Section):
            break
        node = node.get(key)
    return node is not None and not is_empty(node)


def wrong_kind_fault(path: str, node: Node, table: FieldTable) -> Fault:
    """Make the fault of a value whose kind does not suit the field or section at `path`."""
    field = table.fields.get(path)
    form = describe_form(field) if field else _GROUP
    written = (node.text.strip() if isinstance(node, Scalar) else "") or _kind_of(node)
    name = in_sentence(table.display_name(path))
    details = {"name": name, "met": _kind_of(node), "form": form}
    spoilt = table.sections.get(path, (path,) if field else ())
    return Fault("kind-not-expected", path, written, node.place, details, spoilt)


def describe_form(field: Field) -> str:
    """Say what belongs in a field, by its kind only, so that no clinical value is suggested."""
    if field.kind == "quantity":
        return f"a number and its unit, {join_or(field.decimals)}"
    if field.kind == "choice" and field.otherwise is None:
        return f"one of: {list_choices(field)}"
    if field.kind == "instant":
        return f"a date and time with its offset from UTC, such as {field.example}"
    if field.kind == "zone":
        return "the name of a time zone as the IANA database has it"
    return "a whole number" if field.kind == "count" else "a text"


def list_choices(field: Field) -> str:
    """List the choices of a field, and the settings that may be written instead."""
    instead = ", ".join(field.section_keys)
    return ", ".join(field.choices) + (f", or its {instead}" if instead else "")


def join_or(words: Iterable[str]) -> str:
    """Join words as alternatives: `mmHg or cmH2O`, `s, min or h`."""
    *ahead, last = words
    return f"{', '.join(ahead)} or {last}" if ahead else last


_GROUP = "a group of settings, each with a name of its own"


def _kind_of(node: Node) -> str:
    if isinstance(node, Section):
        return _GROUP
    if isinstance(node, Listing):
        return "a list"
    kinds = {
        "truth": "the word true or false",
        "number": "a number",
        "text": "a text",
    }
    return kinds[node.form]


def _at(root: Section, keys: list[str]) -> Node:
    """Return the node at which the schema found an error. INVARIANT: the path has only sections."""
    node: Node | None = root
    for key in keys:
        node = node.get(key) if isinstance(node, Section) else None
    assert node is not None
    return node
