"""The form of an order, made from the field table: its sections, fields and what each offers.

In the order of the table, as an order set is. No field has a value of our own.
"""

from __future__ import annotations

import functools
import itertools
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.reading.quantity_text import split_quantity
from orderlint.report.visible_text import safe
from orderlint.schema_check import describe_form

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.field import Field

_HEAD = frozenset({"document", "format"})
_OFFSET = " The -06:00 at its end says that the clock there is six hours behind UTC."
_LONG = frozenset({"instructions", "stop_when", "notify.events"})


class Control(NamedTuple):
    """A field of the form. `units` are those of a quantity, `choices` those of a choice.

    `form` says what a text of a special form looks like; '' for another. `phrases` are what a free
    text or a name may be, for whoever does not want to write it out: the schema's example, never a
    level, a rate or a time. `trouble` is what the typist must put right before anything is read.
    `source` is where a text says it, for whoever confirms it.
    """

    path: str
    name: str
    hint: str
    kind: str
    text: str
    unit: str
    units: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()
    phrases: tuple[str, ...] = ()
    is_long: bool = False
    form: str = ""
    trouble: str = ""
    source: SourceOf | None = None


class SourceOf(NamedTuple):
    """Where a text says what stands in a field, by line, and whether a person has confirmed it."""

    lines: tuple[tuple[int, str], ...]
    is_confirmed: bool

    @property
    def words(self) -> str:
        """The words of the text, to be compared with the field."""
        return " ".join(f"Line {line} says “{safe(text)}”." for line, text in self.lines)


class UnitTwice(NamedTuple):
    """What was typed, the unit in it, and another unit that is picked beside it."""

    text: str
    typed: str
    picked: str

    @property
    def words(self) -> str:
        """What is said of it at the field."""
        return (
            f"“{self.typed}” is typed with the number, and “{self.picked}” is picked beside it. "
            "Leave only the unit that is meant."
        )


class FormSection(NamedTuple):
    """A section of the form: the key of its part of an order, its name, and whether it is open.

    Without a key, it is a run of fields that stand in no section.
    """

    key: str
    name: str
    controls: tuple[Control, ...]
    is_open: bool


def groups(
    values: Mapping[str, str],
    needed: Mapping[str, frozenset[str]],
    twice: Mapping[str, UnitTwice],
    sources: Mapping[str, SourceOf],
) -> tuple[FormSection, ...]:
    """The form with these texts by path; `needed` are the sections that each therapy needs.

    `twice` are the paths where two units stand, `sources` those read in a text. A section is open
    if the therapy that is chosen needs it, or if something stands in it.
    """
    open_keys = needed.get(values.get("therapy", ""), frozenset())
    names, made = field_table().section_names, []
    for key, fields in _sections():
        controls = tuple(
            _control(field, values.get(field.path, ""), twice.get(field.path))._replace(
                source=sources.get(field.path)
            )
            for field in fields
        )
        is_written = any(control.text or control.source for control in controls)
        is_open = key == "" or key in open_keys or is_written
        made.append(FormSection(key, names.get(key, "Order"), controls, is_open))
    return tuple(made)


@functools.cache
def _sections() -> tuple[tuple[str, tuple[Field, ...]], ...]:
    """The fields in the order of the table, each run of one section with its key, else ''."""
    fields = (field for path, field in field_table().fields.items() if path not in _HEAD)
    runs = itertools.groupby(fields, lambda f: f.path.partition(".")[0] if "." in f.path else "")
    return tuple((key, tuple(run)) for key, run in runs)


def _control(field: Field, text: str, twice: UnitTwice | None) -> Control:
    number, unit = (twice.text, twice.picked) if twice else _split(field, text)
    return Control(
        *(field.path, field.name, field.description, field.kind, number, unit),
        units=tuple(field.decimals),
        choices=field.choices if field.otherwise is None else (),
        phrases=tuple(_phrases(field)),
        is_long=field.path in _LONG or "\n" in number,
        form=_form(field),
        trouble=twice.words if twice else "",
    )


def _form(field: Field) -> str:
    """What form a text has that is no choice, quantity or free text, with the schema's example."""
    if field.kind not in {"instant", "zone", "label", "count"}:
        return ""
    wanted = describe_form(field)
    said = wanted if field.example in wanted else f"{wanted}, such as {field.example}"
    return f"{said[0].upper()}{said[1:]}.{_OFFSET if field.kind == 'instant' else ''}"


def _split(field: Field, text: str) -> tuple[str, str]:
    """The number and the unit of a quantity that is plainly written, else the text and no unit."""
    split = split_quantity(text) if field.kind == "quantity" else None
    if split is None or split.unit not in field.decimals:
        return text, ""
    number = text[: text.rindex(split.unit)].rstrip()
    return (number, split.unit) if f"{number} {split.unit}" == text else (text, "")


def _phrases(field: Field) -> Iterator[str]:
    if field.kind == "zone":
        from orderlint.local_time import zone_names  # noqa: PLC0415 - a list of six hundred

        yield from sorted(zone_names())
    elif field.kind == "text":
        yield field.example
    elif field.otherwise is not None:
        yield from field.choices
