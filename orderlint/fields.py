"""The field table of a document: path, kind, range, choices and display name of each leaf.

Built from the annotations of a JSON Schema. Never a second list of fields, never a verdict.
"""

from __future__ import annotations

import functools
import json
import os
from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.field import Field, casefold_spaces, nearest_of
from orderlint.units import parse_instant, read_constant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.field import Kind


BEFORE = "before."
"""Prefix of the path of a leaf of the earlier of two orders."""
CHECKED_AT = "checked_at"
"""The name of the instant at which an order is checked."""


class FieldTable(NamedTuple):
    """All leaves of a document by path, in document order, and all its sections.

    `sections` maps a section's path to the paths of the leaves at that path or below it:
    `irrigation.additive` is both a leaf (the choice `none`) and a section of three leaves. `keys`
    maps a section's path ('' for the top level) to its keys, each with its path. INVARIANT: keys
    are looked up there and never joined into paths, so that a key that contains a point is not
    taken for a path. `schema` is the name of the schema from which the table is read.
    """

    fields: Mapping[str, Field]
    sections: Mapping[str, tuple[str, ...]]
    section_names: Mapping[str, str]
    keys: Mapping[str, Mapping[str, str]]
    schema: str = "order"

    def display_name(self, path: str) -> str:
        """Return the name that staff use for a leaf or section; an unknown path itself."""
        if path.startswith(BEFORE):
            return f"{self.display_name(path.removeprefix(BEFORE))} before"
        field = self.fields.get(path)
        return field.name if field else self.section_names.get(path, path)

    def suggest_path(self, section_path: str, key: str) -> str | None:
        """Return the path of the leaf or section that an unknown `key` clearly means, or None.

        `section_path` is the section that has the key, empty for the top level. Tries, in this
        order: the same words joined differently (pause_upper or upper_pause for pause.upper), a
        similar key of the section, the same words as another path.
        """
        paths = self._outside(section_path)
        by_words = {_words(path): path for path in paths}
        in_section = {_spaced(_last(path)): path for path in self.keys[section_path].values()}
        return (
            by_words.get(_words(f"{section_path}.{key}"))
            or nearest_of(_spaced(key), in_section)
            or by_words.get(_words(key))
        )

    def nearest_key(self, section_path: str, key: str) -> str | None:
        """Return the path that an unknown `key` means or may mean, to be named in a message.

        Besides `suggest_path`: the only path that ends in the same key, or a similar path. This
        wider search is made for top-level keys only.
        """
        meant = self.suggest_path(section_path, key)
        if meant or section_path:
            return meant
        paths = self._outside(section_path)
        same_name = [path for path in paths if _last(path) == key]
        if len(same_name) == 1:
            return same_name[0]
        return nearest_of(_spaced(key), {_spaced(path): path for path in paths})

    def _outside(self, section_path: str) -> list[str]:
        """Return every path except the section itself and the sections around it."""
        around = f"{section_path}."
        every = dict.fromkeys((*self.section_names, *self.fields))
        return [path for path in every if not around.startswith(f"{path}.")]


def load_schema(name: str) -> dict[str, Any]:
    """Load the JSON Schema `name`, such as "order". Raises FileNotFoundError if there is none."""
    schema: dict[str, Any] = json.loads(schema_text(name))
    return schema


def schema_text(name: str) -> str:
    """The JSON Schema `name` as its file has it. Raises FileNotFoundError if there is none."""
    with open(schema_path(name), encoding="utf-8") as file:
        return file.read()


def schema_path(name: str) -> str:
    """The file of the JSON Schema `name`."""
    here = os.path.dirname(os.path.abspath(__file__))
    installed, checkout = (os.path.join(folder, "schemas") for folder in (here, f"{here}/.."))
    # An installed wheel has the schemas inside the package, a checkout next to it.
    folder = installed if os.path.isdir(installed) else checkout
    return os.path.join(folder, f"{name}.schema.json")


def field_table(schema: str = "order") -> FieldTable:
    """Return the table of every field that a document of this schema may have; cached."""
    return _table(schema)


@functools.cache
def _table(name: str) -> FieldTable:
    schema = load_schema(name)
    kinds = {f"#/$defs/{name}": _kind(kind) for name, kind in schema["$defs"].items()}
    fields: dict[str, Field] = {}
    sections: dict[str, tuple[str, ...]] = {}
    names: dict[str, str] = {}
    for path, node in _nodes(schema["properties"], ""):
        if "properties" in node:
            names[path] = node["title"]
            sections[path] = ()
        else:
            fields[path] = _field(path, node, kinds)
    for path in sections:
        sections[path] = tuple(leaf for leaf in fields if f"{leaf}.".startswith(f"{path}."))
    return FieldTable(fields, sections, names, _keys((*names, *fields)), name)


def _keys(paths: tuple[str, ...]) -> Mapping[str, Mapping[str, str]]:
    keys: dict[str, dict[str, str]] = {"": {}}
    for path in paths:
        section, _, key = path.rpartition(".")
        keys.setdefault(section, {})[key] = path
    return keys


def _nodes(properties: Mapping[str, Any], prefix: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield every leaf and section with its path; for one that may be either, the leaf first."""
    for key, node in properties.items():
        path = f"{prefix}{key}"
        if "if" in node:
            yield path, {**node, **node["else"]}
        section = node.get("then", node)
        yield path, section
        if "properties" in section:
            yield from _nodes(section["properties"], f"{path}.")


def _field(path: str, node: Mapping[str, Any], kinds: Mapping[str, Mapping[str, Any]]) -> Field:
    kind = kinds[node["$ref"]] if "$ref" in node else _kind(node)
    return Field(
        path=path,
        name=node["title"],
        description=node["description"],
        example=str(node["examples"][0]),
        section_keys=tuple(node["then"]["properties"]) if "then" in node else (),
        is_interval=node.get("interval", False),
        is_care=node.get("care", False),
        is_a_day=node.get("a_day", False),
        **kind,
    )


def _kind(node: Mapping[str, Any]) -> dict[str, Any]:
    """Return the arguments of `Field` that depend on the kind, not on path or wording."""
    choices, spellings = _choices(node)
    qualifiers = map(casefold_spaces, node.get("qualifiers", ()))
    return {
        "kind": _kind_name(node),
        "dimension": node.get("dimension"),
        "lowest": _end(node.get("lowest", node.get("const", 0))),
        "highest": _end(node.get("highest", node.get("const", 0))),
        "decimals": node.get("decimals", {}),
        "choices": choices,
        "spellings": spellings,
        "abbreviations": frozenset(map(casefold_spaces, node.get("abbreviations", ()))),
        "otherwise": node.get("otherwise"),
        "meanings": node.get("words", {}),
        "qualifiers": tuple(sorted(qualifiers, key=len, reverse=True)),
    }


def _end(written: str | int) -> int:
    """Convert a bound of a range: to ticks of a quantity or instant, or to a count."""
    text = str(written)
    if " " in text:
        return read_constant(text)[0]
    return parse_instant(text) or int(text) if text[:1].isdigit() else 0


def _kind_name(node: Mapping[str, Any]) -> Kind:
    if "dimension" in node:
        return "quantity"
    if "enum" in node or "choices" in node or isinstance(node.get("const"), str):
        return "choice"
    if node.get("format") == "date-time":
        return "instant"
    if node.get("type") == "integer" or "const" in node:
        return "count"
    if node.get("zone"):
        return "zone"
    return "label" if node.get("label") else "text"


def _choices(node: Mapping[str, Any]) -> tuple[tuple[str, ...], dict[str, str]]:
    """Return the choices in order, and every accepted spelling with its choice."""
    written: Mapping[str, str] = node.get("spellings", {})
    if "choices" in node:
        choices = tuple(node["choices"])
        pairs = [*zip(choices, choices, strict=True), *written.items()]
        return choices, {casefold_spaces(spelling): choice for spelling, choice in pairs}
    listed = node.get("enum") or [node.get("const")]
    # INVARIANT: a truth value in `enum` is listed there as text as well.
    texts = [text for text in listed if isinstance(text, str)]
    choices = tuple(text for text in texts if text not in written)
    return choices, {text: written.get(text, text) for text in texts}


def _words(path: str) -> tuple[str, ...]:
    """Return the words of a path or key, sorted, whatever separates them."""
    return tuple(sorted(_spaced(path).split()))


def _spaced(path: str) -> str:
    return path.translate(str.maketrans("._-", "   ")).strip().casefold()


def _last(path: str) -> str:
    return path.rpartition(".")[2]
