"""The field table of an order: each leaf's path, kind, range, choices and trade name.

All of it is read from the order schema's annotations; never a second list, never a judgement.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from orderlint.units import read_constant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Literal, TypeAlias

    Kind: TypeAlias = Literal["quantity", "choice", "text", "instant", "count"]


@dataclass(frozen=True, slots=True)
class Field:
    """One leaf of an order. `name` is its trade name, `index` its place in document order.

    A quantity has `dimension`, `lowest` and `highest` (ticks) and `decimals` (unit symbol → most
    decimals); for all else these are None, 0, 0 and empty. A choice has `choices` and `spellings`
    (as written → choice, the choices themselves among them; by `folded` text if `otherwise` is
    set, which is the choice for all other text). `abbreviations` are folded spellings that should
    be written out. `example` is one good value as text.
    """

    path: str
    name: str
    description: str
    kind: Kind
    dimension: str | None
    lowest: int
    highest: int
    decimals: Mapping[str, int]
    choices: tuple[str, ...]
    spellings: Mapping[str, str]
    abbreviations: frozenset[str]
    otherwise: str | None
    example: str
    index: int

    def choice_of(self, text: str) -> str | None:
        """The choice that `text` stands for, or None if it is none of them."""
        if self.otherwise is None:
            return self.spellings.get(text.strip())
        return self.spellings.get(folded(text), self.otherwise)

    def nearest_choice(self, text: str) -> str | None:
        """The choice whose spelling is most like `text`, if any is like it."""
        nearest = _nearest(folded(text), {folded(key): key for key in self.spellings})
        return self.spellings[nearest] if nearest else None

    def is_abbreviation(self, text: str) -> bool:
        """Whether `text` is a spelling that should be written out in full."""
        return folded(text) in self.abbreviations


@dataclass(frozen=True, slots=True)
class FieldTable:
    """All leaves by path in document order, and all sections with the paths of their leaves.

    A section's leaves are those at its path or below it: `irrigation.additive` is a leaf (the
    choice `none`) and a section of three more.
    """

    fields: Mapping[str, Field]
    sections: Mapping[str, tuple[str, ...]]
    section_names: Mapping[str, str]

    def trade_name(self, path: str) -> str:
        """The name of a leaf or section as staff say it; an unknown path is its own name."""
        field = self.fields.get(path)
        return field.name if field else self.section_names.get(path, path)

    def nearest_key(self, section_path: str, key: str) -> str | None:
        """The path, of a leaf or section, most likely meant by an unknown `key`; None if unclear.

        `section_path` is where the key stands, empty for the top of the order. In turn: the same
        words joined otherwise (pause_upper, upper_pause: pause.upper), a like key of the section,
        the same words as a path elsewhere, the one key of that name elsewhere, any like path.
        """
        around = f"{section_path}."
        every = dict.fromkeys((*self.section_names, *self.fields))
        paths = [path for path in every if not around.startswith(f"{path}.")]
        by_words = {_words(path): path for path in paths}
        beside = [path for path in paths if path.rpartition(".")[0] == section_path]
        same_name = [path for path in paths if _last(path) == key]
        return (
            by_words.get(_words(f"{section_path}.{key}"))
            or _nearest(_spaced(key), {_spaced(_last(path)): path for path in beside})
            or by_words.get(_words(key))
            or (same_name[0] if len(same_name) == 1 else None)
            or _nearest(_spaced(key), {_spaced(path): path for path in paths})
        )


def folded(text: str) -> str:
    """Lower case with single spaces: how spellings of an open choice are compared."""
    return " ".join(text.split()).casefold()


def in_sentence(name: str) -> str:
    """A trade name within a sentence: a small first letter, unless its first word is an acronym."""
    first = name.replace("-", " ").partition(" ")[0]
    return name if len(first) > 1 and first.isupper() else name[:1].lower() + name[1:]


def load_schema(name: str) -> dict[str, Any]:
    """The JSON Schema of `name`, such as order. FileNotFoundError if there is none."""
    here = Path(__file__).parent
    inside, beside = here / "schemas", here.parent / "schemas"
    # An installed wheel has the schemas inside the package, a checkout beside it.
    folder = inside if inside.is_dir() else beside
    schema: dict[str, Any] = json.loads((folder / f"{name}.schema.json").read_bytes())
    return schema


@functools.cache
def field_table() -> FieldTable:
    """The table of every field of an order, read once."""
    schema = load_schema("order")
    kinds = {f"#/$defs/{name}": _kind(kind) for name, kind in schema["$defs"].items()}
    fields: dict[str, Field] = {}
    sections: dict[str, tuple[str, ...]] = {}
    names: dict[str, str] = {}
    for path, node in _nodes(schema["properties"], ""):
        if "properties" in node:
            names[path] = node["title"]
            sections[path] = ()
        else:
            fields[path] = _field(path, node, kinds, len(fields))
    for path in sections:
        sections[path] = tuple(leaf for leaf in fields if f"{leaf}.".startswith(f"{path}."))
    return FieldTable(fields, sections, names)


def _nodes(properties: Mapping[str, Any], prefix: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Every leaf and section with its path. One that may be either yields both, the leaf first."""
    for key, node in properties.items():
        path = f"{prefix}{key}"
        if "if" in node:
            yield path, {**node, **node["else"]}
        section = node.get("then", node)
        yield path, section
        if "properties" in section:
            yield from _nodes(section["properties"], f"{path}.")


def _field(
    path: str, node: Mapping[str, Any], kinds: Mapping[str, Mapping[str, Any]], index: int
) -> Field:
    kind = kinds[node["$ref"]] if "$ref" in node else _kind(node)
    return Field(
        path=path,
        name=node["title"],
        description=node["description"],
        example=str(node["examples"][0]),
        index=index,
        **kind,
    )


def _kind(node: Mapping[str, Any]) -> dict[str, Any]:
    """What a field has from its kind alone: all of `Field` but its place and its words."""
    choices, spellings = _choices(node)
    quantity = "dimension" in node
    return {
        "kind": _kind_name(node),
        "dimension": node.get("dimension"),
        "lowest": read_constant(node["lowest"])[0] if quantity else 0,
        "highest": read_constant(node["highest"])[0] if quantity else 0,
        "decimals": node.get("decimals", {}),
        "choices": choices,
        "spellings": spellings,
        "abbreviations": frozenset(map(folded, node.get("abbreviations", ()))),
        "otherwise": node.get("otherwise"),
    }


def _kind_name(node: Mapping[str, Any]) -> Kind:
    if "dimension" in node:
        return "quantity"
    if "enum" in node or "choices" in node or isinstance(node.get("const"), str):
        return "choice"
    if node.get("format") == "date-time":
        return "instant"
    return "count" if node.get("type") == "integer" or "const" in node else "text"


def _choices(node: Mapping[str, Any]) -> tuple[tuple[str, ...], dict[str, str]]:
    """The choices in order, and every accepted spelling with the choice it stands for."""
    written: Mapping[str, str] = node.get("spellings", {})
    if "choices" in node:
        choices = tuple(node["choices"])
        pairs = [*zip(choices, choices, strict=True), *written.items()]
        return choices, {folded(spelling): choice for spelling, choice in pairs}
    listed = node.get("enum") or [node.get("const")]
    # INVARIANT: a truth value in `enum` stands for a spelling of it that is listed as text too.
    texts = [text for text in listed if isinstance(text, str)]
    choices = tuple(text for text in texts if text not in written)
    return choices, {text: written.get(text, text) for text in texts}


def _words(path: str) -> tuple[str, ...]:
    """The words of a path or key, in no order, however they are joined."""
    return tuple(sorted(_spaced(path).split()))


def _spaced(path: str) -> str:
    return path.translate(str.maketrans("._-", "   ")).strip().casefold()


def _last(path: str) -> str:
    return path.rpartition(".")[2]


def _nearest(text: str, named: Mapping[str, str]) -> str | None:
    """What is named most like `text`, or None if nothing is named much like it."""
    from difflib import get_close_matches  # noqa: PLC0415 - only where something is misspelt

    close = get_close_matches(text, named, n=1, cutoff=0.7)
    return named[close[0]] if close else None
