"""The field table of a document: each leaf's path, kind, range, choices and trade name.

All of it is read from the annotations of a schema; never a second list, never a judgement.
"""

from __future__ import annotations

import functools
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from orderlint.units import instant_ticks, read_constant

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Literal, TypeAlias

    Kind: TypeAlias = Literal["quantity", "choice", "text", "label", "zone", "instant", "count"]


BEFORE = "before."
"""How the path of a leaf begins that is of the earlier of two orders."""


@dataclass(frozen=True, slots=True)
class Field:
    """One leaf of an order. `name` is its trade name, `example` one good value as text.

    A text is for people to read, a label is a name by which something is found, a zone the name
    of a time zone.

    A quantity has a `dimension` and `decimals` (unit symbol → most decimals); for all else these
    are None and empty. A quantity, an instant and a count have the `lowest` and `highest`
    conceivable value, in ticks, milliseconds since 1970 UTC, and as it is; else 0. A choice has
    `choices` and `spellings` (as written → choice, the choices themselves among them; by `folded`
    text if `otherwise` is set, which is the choice for all other text). `abbreviations` are folded
    spellings that should be written out. `instead` are the keys of a section that may stand in its
    place.
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
    instead: tuple[str, ...] = ()

    def choice_of(self, text: str) -> str | None:
        """The choice that `text` stands for, or None if it is none of them."""
        found = self.spellings.get(text.strip())
        if self.otherwise is None:
            return found or self.in_other_case.get(folded(text))
        return self.spellings.get(folded(text), self.otherwise)

    @property
    def in_other_case(self) -> Mapping[str, str]:
        """Closed choices by their folded spelling: `Irrigation` is no other therapy."""
        return {folded(spelling): choice for spelling, choice in self.spellings.items()}

    @property
    def aside(self) -> bool:
        """Whether a finding on it can wait for those on what is set, hung or given.

        So of what names and dates the order as a paper, of its texts, and of the weight.
        """
        record = self.kind not in ("quantity", "choice") and "." not in self.path
        return record or self.dimension == "mass"

    def compared(self, value: int | str | None, text: str) -> int | str:
        """What is compared of a leaf: its value; of a text, or where there is none, the words.

        A choice that stands for all other text is its text.
        """
        is_text = self.kind == "text" or (self.otherwise is not None and value == self.otherwise)
        return likened(text) if value is None or is_text else value

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
    choice `none`) and a section of three more. `keys` has, for each section and for the top of
    the order (''), each key that may stand there with its path. INVARIANT: keys are looked up
    there and never joined into paths, so that a key with a point in it is not taken for a path.
    `schema` is the name of the schema that it is read from.
    """

    fields: Mapping[str, Field]
    sections: Mapping[str, tuple[str, ...]]
    section_names: Mapping[str, str]
    keys: Mapping[str, Mapping[str, str]]
    schema: str = "order"

    def trade_name(self, path: str) -> str:
        """The name of a leaf or section as staff say it; an unknown path is its own name."""
        if path.startswith(BEFORE):
            return f"{self.trade_name(path.removeprefix(BEFORE))} before"
        field = self.fields.get(path)
        return field.name if field else self.section_names.get(path, path)

    def meant_by(self, section_path: str, key: str) -> str | None:
        """The path, of a leaf or section, that an unknown `key` surely means; None if unclear.

        `section_path` is where the key stands, empty for the top of the order. In turn: the same
        words joined otherwise (pause_upper, upper_pause: pause.upper), a like key of the section,
        the same words as a path elsewhere.
        """
        paths = self._elsewhere(section_path)
        by_words = {_words(path): path for path in paths}
        beside = {_spaced(_last(path)): path for path in self.keys[section_path].values()}
        return (
            by_words.get(_words(f"{section_path}.{key}"))
            or _nearest(_spaced(key), beside)
            or by_words.get(_words(key))
        )

    def nearest_key(self, section_path: str, key: str) -> str | None:
        """The path that an unknown `key` means, or may mean and is only to be named.

        Beyond what is sure: the one key of that name elsewhere, or any like path. A key within a
        section is not guessed to belong elsewhere.
        """
        meant = self.meant_by(section_path, key)
        if meant or section_path:
            return meant
        paths = self._elsewhere(section_path)
        same_name = [path for path in paths if _last(path) == key]
        if len(same_name) == 1:
            return same_name[0]
        return _nearest(_spaced(key), {_spaced(path): path for path in paths})

    def _elsewhere(self, section_path: str) -> list[str]:
        """Every path but those of the sections in which the key stands."""
        around = f"{section_path}."
        every = dict.fromkeys((*self.section_names, *self.fields))
        return [path for path in every if not around.startswith(f"{path}.")]


def folded(text: str) -> str:
    """Lower case with single spaces: how spellings of an open choice are compared."""
    return " ".join(text.split()).casefold()


_UNIT_LIKE = re.compile(r"((?:(?<=\d)|(?<=\d )|(?<=/))[^\W\d_]{1,3}(?![^\W\d_]))")


def likened(text: str) -> str:
    """`text` with single spaces and in lower case, but for units: how two texts are compared.

    Behind a number or a slash case tells apart: MU is a million units, mU a thousandth of one.
    """
    parts = _UNIT_LIKE.split(" ".join(text.split()))
    return "".join(part if at % 2 else part.casefold() for at, part in enumerate(parts))


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


def field_table(schema: str = "order") -> FieldTable:
    """The table of every field that a document of this schema may have, read once."""
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
    """Every leaf and section with its path. One that may be either yields both, the leaf first."""
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
        instead=tuple(node["then"]["properties"]) if "then" in node else (),
        **kind,
    )


def _kind(node: Mapping[str, Any]) -> dict[str, Any]:
    """What a field has from its kind alone: all of `Field` but its place and its words."""
    choices, spellings = _choices(node)
    return {
        "kind": _kind_name(node),
        "dimension": node.get("dimension"),
        "lowest": _end(node.get("lowest", node.get("const", 0))),
        "highest": _end(node.get("highest", node.get("const", 0))),
        "decimals": node.get("decimals", {}),
        "choices": choices,
        "spellings": spellings,
        "abbreviations": frozenset(map(folded, node.get("abbreviations", ()))),
        "otherwise": node.get("otherwise"),
    }


def _end(written: str | int) -> int:
    """An end of a conceivable range: ticks of a quantity or an instant, or a count."""
    text = str(written)
    if " " in text:
        return read_constant(text)[0]
    return instant_ticks(text) or int(text) if text[:1].isdigit() else 0


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
