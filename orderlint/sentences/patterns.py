"""Compiles the patterns of clauses, and matches a clause against one. Reads patterns.yaml.

A pattern fits a whole clause or does not fit. Never a second list of settings or units.
"""

from __future__ import annotations

import functools
import itertools
import re
from importlib.resources import files
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.reading.from_yaml import read_yaml
from orderlint.reading.node import Listing, Scalar, Section
from orderlint.reading.quantity_text import split_quantity
from orderlint.reading.worded_quantity import as_quantity_text
from orderlint.unit_spellings import SPELLINGS_OF
from orderlint.units import find_unit, to_ticks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.field import Field


class Value(NamedTuple):
    """A value of a setting as it is written in a clause, and its offsets in the clause.

    `text` is what stands there and, at the left end of a range, the unit of the right end.
    """

    path: str
    text: str
    start: int
    end: int


class Pattern(NamedTuple):
    """How one clause may be written. `paths` are the settings of which it has a value, in order.

    `strict` are those whose value must have its unit, and of an interval the word `every`.
    """

    source: str
    paths: tuple[str, ...]
    strict: frozenset[str]
    expression: re.Pattern[str]

    def values_in(self, clause: str) -> tuple[Value, ...] | None:
        """The values in a clause that it fits as a whole, else None."""
        found = self.expression.fullmatch(clause)
        if found is None:
            return None
        written = []
        for at, path in enumerate(self.paths):
            if found[f"v{at}"] is not None:
                text, start = found[f"v{at}"].rstrip(), found.start(f"v{at}")
                written.append(Value(path, text, start, start + len(text)))
        values = _with_units_of_ranges(written)
        fits = all(is_value(value, is_strict=value.path in self.strict) for value in values)
        return tuple(values) if values and fits and _rises(values) else None


def is_value(value: Value, *, is_strict: bool = False) -> bool:
    """Whether a text is one of a setting's values: of its units, choices or forms.

    A number whose unit is left out is one, for the reader of orders asks for it; not an interval,
    and not where it `is_strict`. Then `2 h` is no interval either: it may be how long.
    """
    field = field_table().fields[value.path]
    if field.kind == "quantity":
        return _is_quantity(field, value.text, is_strict=is_strict)
    if field.kind == "choice":
        choice = field.choice_of(value.text)
        return choice is not None and choice != field.otherwise
    return True


def _is_quantity(field: Field, text: str, *, is_strict: bool) -> bool:
    plain = as_quantity_text(text) if field.is_interval else text
    split = split_quantity(plain)
    if split is None or (field.is_interval and is_strict and plain == text):
        return False
    if split.unsafe is not None or not split.unit:
        return not (is_strict or field.is_interval) and split.unsafe is None
    if split.unit.casefold() in _LENGTHS:
        return field.path == "drainage.height"  # asked about by a rule of its own
    unit = find_unit(split.unit)
    return unit is not None and unit.symbol in field.decimals


_LENGTHS = frozenset({"cm", "cms"})


def _with_units_of_ranges(written: Sequence[Value]) -> list[Value]:
    """The values; one that has no unit gets that of the next, which is the right end of its range.

    The only place where a unit is carried over.
    """
    values = list(written)
    for at, (left, right) in enumerate(itertools.pairwise(values)):
        if (left.path, right.path) == _RANGE and _unit_of(left.text) == "":
            unit = _unit_of(right.text)
            values[at] = left._replace(text=f"{left.text} {unit}") if unit else left
    return values


_RANGE = ("pause.lower", "pause.upper")


def _rises(values: Sequence[Value]) -> bool:
    """Whether each range in the values goes up; what ends in a minus may be a slip of a dash."""
    return all(
        _is_below(left.text, right.text)
        for left, right in itertools.pairwise(values)
        if (left.path, right.path) == _RANGE
    )


def _is_below(left: str, right: str) -> bool:
    low, high = _ticks(left), _ticks(right)
    return low is not None and high is not None and low < high and not right.startswith(_MINUSES)


def _ticks(text: str) -> int | None:
    """The ticks of a pressure. Where its range has no unit, any does: it is compared, no more."""
    split = split_quantity(text)
    unit = find_unit(split.unit or "mmHg") if split else None
    return to_ticks(split.number, unit) if split and split.number and unit else None


_MINUSES = ("-", "−", "–")


def _unit_of(text: str) -> str:
    split = split_quantity(text)
    return split.unit if split else ""


@functools.cache
def patterns() -> tuple[Pattern, ...]:
    """Every pattern: those of the file, then one for each field by its display name."""
    listed = (compile_pattern(record_text(record, "reads")) for record in pattern_records())
    fields = field_table().fields
    return (*listed, *(labelled(fields[path]) for path in fields if path not in _NO_LABEL))


_NO_LABEL = frozenset({"document", "format"})


def pattern_records() -> tuple[Section, ...]:
    """The records of patterns.yaml as they are written."""
    text = files("orderlint.sentences").joinpath("patterns.yaml").read_text("utf-8")
    root = read_yaml(text, "patterns.yaml", frozenset())
    assert isinstance(root, Section)
    records = root.get("patterns")
    assert isinstance(records, Listing)
    return tuple(record for record in records.items if isinstance(record, Section))


def record_text(record: Section, key: str) -> str:
    """A text of a record."""
    found = record.get(key)
    assert isinstance(found, Scalar)
    return found.text


def labelled(field: Field) -> Pattern:
    """`Irrigation rate: 60 mL/h`. A text, a name or a time needs the colon, lest words be taken."""
    joint = "[:|=|is|of|at]" if field.kind in {"quantity", "choice"} else "(:|=)"
    return compile_pattern(f"[the] {field.name} {joint} <{field.path}>")


def compile_pattern(source: str) -> Pattern:
    """A pattern of its text in the notation of patterns.yaml. Raises ValueError for any other."""
    paths: list[str] = []
    strict: set[str] = set()
    made = []
    for token in _TOKEN.findall(source):
        if token.startswith("<") and token != "<":
            path = token.strip("<!>")
            if "!" in token:
                strict.add(path)
            field = field_table().fields[path]
            made.append(f"(?P<v{len(paths)}>{_value(field, is_strict='!' in token)}){_END}")
            paths.append(path)
        else:
            made.append(_MARKS.get(token) or _word(token))
    if "".join(_TOKEN.findall(source)) != "".join(source.split()):
        raise ValueError(f"{source!r} is no pattern")
    return Pattern(
        source, tuple(paths), frozenset(strict), re.compile("".join(made), re.IGNORECASE)
    )


_TOKEN = re.compile(r"<[a-z_.]+!?>|[\[\]()|]|[:=>≥]|<(?=[|)])|[^\s\[\]()|<>:=≥]+")
_END = r"(?![^\W_])\s*"
_MARKS = {"at": rf"(?:at{_END}|@\s*)", "[": "(?:", "]": ")?", "(": "(?:", ")": ")", "|": "|"}
_DASH = r"(?:(?<=\s)[-–—]\s+|(?<!\s)[-–—](?!\s))"
"""Of a range: with a blank on both sides or on neither, else it may be a minus."""


def _word(token: str) -> str:
    if token == "-":
        return _DASH
    if not token[0].isalnum():
        return re.escape(token) + r"\s*"
    return r"[-\s]\s*".join(map(re.escape, token.split("-"))) + _END


def _value(field: Field, *, is_strict: bool) -> str:
    """An expression for what may be written as a value; whether it is one is asked afterwards."""
    if field.kind == "quantity":
        # A dash without a blank after a word may join the two: `height-12` is not understood.
        number = r"(?:(?<![^\W_])[-−–])?\d(?:[\d.,]*\d)?"
        unit = "|".join(map(_flexible, _units(field)))
        once = rf"{number}(?:\s*(?:{unit}))?"
        return rf"(?:{_INTERVAL}|(?:every\s+)?{once})" if field.is_interval else once
    if field.kind == "choice":
        return _SITE if is_strict else r"\S(?:.{0,60}?\S)?"
    if is_strict:
        return rf"(?:the\s+)?(?:{_ROLE})"
    return r"\S(?:.*\S)?"


_INTERVAL = (
    r"hourly|daily|every\s+hour|every\s+day|q\s?\d+\s?(?:h|hrs?|hours?|mins?)|\d+[-\s]hourly"
)
_SITE = r"(?:right|left|rt|lt|r|l|lumbar|subdural)(?: [A-Za-z]+){1,5}"
"""A catheter as it is called where nothing says that its name follows."""
_ROLE = "NCC|NSGY|neurosurgery|neurocritical care|MD|physician|registrar|resident|fellow|team"
"""Who is called, where no colon says that a name follows."""


def _units(field: Field) -> list[str]:
    """The spellings of a field's units, the longest first."""
    known = [s for symbol in field.decimals for s in SPELLINGS_OF.get(symbol, (symbol,))]
    lengths = [*_LENGTHS] if field.path == "drainage.height" else []
    return sorted([*known, *lengths], key=lambda spelling: -len(spelling))


def _flexible(spelling: str) -> str:
    """A spelling of a unit, with blanks around its slash or between its words."""
    words = (r"\s*/\s*".join(map(re.escape, word.split("/"))) for word in spelling.split())
    return r"\s+".join(words)
