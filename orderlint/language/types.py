"""What each name in a condition means: a field, a constant, a list, a derived fact."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

from orderlint.fields import BEFORE, CHECKED_AT, FieldTable
from orderlint.language.surface import UNDER_LIMITS, LanguageError, Surface

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.field import Field


@dataclass(frozen=True, slots=True)
class Quantity:
    """A constant with a dimension: ticks, and its text as written."""

    dimension: str
    ticks: int
    text: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A constant choice."""

    text: str


@dataclass(frozen=True, slots=True)
class Listed:
    """A list of constants of one kind."""

    items: tuple[Quantity | Choice, ...]


Constant: TypeAlias = Quantity | Choice | Listed


@dataclass(frozen=True, slots=True)
class Scope:
    """The names that one condition may use.

    `policy_values`: the policy's values by name, without `site.`. `limits`: the rule's own
    constants. `derived`: facts by name. `it`: the path that `it` means, under `over:`. `change`:
    whether `before.` may be read.
    """

    table: FieldTable
    policy_values: Mapping[str, Constant] = field(default_factory=dict)
    limits: Mapping[str, Quantity] = field(default_factory=dict)
    derived: Mapping[str, Surface] = field(default_factory=dict)
    it: str | None = None
    change: bool = False

    def constant(self, path: str, at: int) -> Constant | None:
        """The constant of that name, or None when it names something else."""
        if path.startswith("site."):
            found = self.policy_values.get(path[5:])
            if found is None:
                raise LanguageError(f"the policy has no {path}{self._near(path)}", at)
            return found
        return self.limits.get(path)

    def field(self, path: str, at: int) -> tuple[str, Field]:
        """The leaf's path (with `before.` where it has that) and its field."""
        full = self.full(path)
        plain = full.removeprefix(BEFORE) if self.change else full
        found = self.table.fields.get(plain)
        if full == CHECKED_AT:
            return full, _checked_at(self.table)
        if found is None:
            raise LanguageError(f"there is no field {full}{self._near(full)}", at)
        return full, found

    def section(self, path: str, at: int) -> tuple[str, ...]:
        """The leaves of a section, or the leaf itself."""
        full = self.full(path)
        before = BEFORE if self.change and full.startswith(BEFORE) else ""
        leaves = self.table.sections.get(full.removeprefix(before))
        if leaves is None:
            return (self.field(path, at)[0],)
        return tuple(f"{before}{leaf}" for leaf in leaves)

    def full(self, path: str) -> str:
        """The path with `it` replaced by the one it stands for."""
        if self.it is not None and path in {"it", f"{BEFORE}it"}:
            return f"{path.removesuffix('it')}{self.it}"
        return path

    def _near(self, path: str) -> str:
        import difflib  # noqa: PLC0415 - only where something is misspelt

        known = [*self.table.fields, *(f"site.{name}" for name in self.policy_values), *self.limits]
        close = difflib.get_close_matches(path, [*known, *self.derived])
        return f"; did you mean {close[0]}?" if close else ""


def _checked_at(table: FieldTable) -> Field:
    """A field for the time of checking, which is an instant but no field of an order."""
    instant = next(field for field in table.fields.values() if field.kind == "instant")
    return instant._replace(path=CHECKED_AT, name="Time of checking")


def expect_dimension(left: str, right: str, at: int) -> None:
    """Raise LanguageError unless two sides have the same dimension."""
    if left != right:
        holds = f"; {UNDER_LIMITS}" if "number" in {left, right} else ""
        said = f"{_dimension_words(left)} cannot stand beside {_dimension_words(right)}{holds}"
        raise LanguageError(said, at)


def _dimension_words(dimension: str) -> str:
    return {"number": "a plain number", "instant": "an instant"}.get(dimension, f"a {dimension}")
