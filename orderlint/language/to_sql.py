"""Translates a condition into standard SQL over a table with the columns named here.

The cases stand in the same order as in evaluate; unknown is NULL. Connects to no database.
"""

from __future__ import annotations

import json
from hashlib import sha256
from typing import TYPE_CHECKING, assert_never

from orderlint.language.naming import names_one
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    Or,
    Same,
    Written,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.field import Field
    from orderlint.language.tree import OneKind, Subject, Term, Tree
    from orderlint.order import Leaf


def sql(tree: Tree) -> str:
    """The tree as an SQL condition: TRUE, FALSE or NULL for each row."""
    match tree:
        case Given(paths):
            return _joined("OR", [given_of(path) for path in paths])
        case Written(path, flag):
            return flag_of(path, flag)
        case Names(path, listed):
            return named_of(path, listed)
        case Compare(terms, sign, bound, one_kind):
            total = " + ".join(_term(term) for term in terms) or "0"
            compared = f"({total} {'=' if sign == '==' else sign} {bound})"
            if one_kind is not None:
                return f"(CASE WHEN {_of_one_kind(one_kind)} THEN {compared} END)"
            return compared
        case Multiple(path, step):
            return f"({value_of(path)} % {step} = 0)"
        case Member(subject, among):
            words = ", ".join(sql_text(word) for word in among)
            return f"({_choice(subject)} IN ({words}))"
        case Same(left, right):
            return f"({_choice(left)} = {_choice(right)})"
        case Not(item):
            return f"(NOT {sql(item)})"
        case And(items):
            return _joined("AND", [sql(item) for item in items])
        case Or(items):
            return _joined("OR", [sql(item) for item in items])
        case _:
            assert_never(tree)


def _joined(word: str, conditions: list[str]) -> str:
    if not conditions:
        return "TRUE" if word == "AND" else "FALSE"
    return "(" + f" {word} ".join(conditions) + ")"


def _term(term: Term) -> str:
    return " * ".join([str(term.coefficient), *(value_of(path) for path in term.paths)])


def _of_one_kind(one_kind: OneKind) -> str:
    kinds = [[_in(path, kind) for path in one_kind.paths] for kind in one_kind.kinds]
    return _joined("OR", [_joined("AND", each) for each in kinds])


def _in(path: str, units: tuple[str, ...]) -> str:
    return f"{unit_of(path)} IN ({', '.join(map(sql_text, units))})"


def _choice(subject: Subject) -> str:
    return unit_of(subject.path) if subject.is_unit else value_of(subject.path)


def sql_text(word: str) -> str:
    """A choice as an SQL text."""
    return "'" + word.replace("'", "''") + "'"


def given_of(path: str) -> str:
    """Column, BOOLEAN NOT NULL: whether the leaf is written."""
    return identifier(f"{path} given")


def value_of(path: str) -> str:
    """Column, BIGINT ticks or VARCHAR choice; NULL unless known."""
    return identifier(path)


def unit_of(path: str) -> str:
    """Column, VARCHAR: the unit written; NULL unless known."""
    return identifier(f"{path} unit")


def flag_of(path: str, flag: str) -> str:
    """Column, BOOLEAN: whether the text has a notation flag; NULL where nothing is written."""
    return identifier(f"{path} written {flag}")


def named_of(path: str, listed: tuple[str, ...]) -> str:
    """Column, BOOLEAN: whether the text names an entry of a list; NULL where there is no text."""
    return identifier(f"{path} names {digest_of_list(listed)}")


LONGEST_NAME = 63
"""Bytes that PostgreSQL keeps of a name; it drops the rest and says nothing."""
_DIGITS = 12


def identifier(name: str) -> str:
    """The name of a column, quoted; a long one is cut, with the digest of the whole at its end.

    So two names are the same only where they were the same before.
    """
    if len(name.encode()) > LONGEST_NAME:
        kept = name.encode()[: LONGEST_NAME - _DIGITS - 1].decode(errors="ignore")
        name = f"{kept} {sha256(name.encode()).hexdigest()[:_DIGITS]}"
    return quoted_name(name)


def quoted_name(name: str) -> str:
    """The name of something that is in the database already, whole."""
    return '"' + name.replace('"', '""') + '"'


def digest_of_list(listed: tuple[str, ...]) -> str:
    """What stands for a list of names in the name of a column: hexadecimal digits."""
    return sha256(json.dumps(listed).encode()).hexdigest()[:_DIGITS]


def columns(
    field: Field, flags: frozenset[str], lists: frozenset[tuple[str, ...]] = frozenset()
) -> Iterator[str]:
    """Definitions of a field's columns, in the order of `row`."""
    number = field.kind in {"quantity", "count", "instant"}
    yield f"{given_of(field.path)} BOOLEAN NOT NULL"
    yield f"{value_of(field.path)} {'BIGINT' if number else 'VARCHAR'}"
    yield f"{unit_of(field.path)} VARCHAR"
    for flag in sorted(flags):
        yield f"{flag_of(field.path, flag)} BOOLEAN"
    for listed in sorted(lists):
        yield f"{named_of(field.path, listed)} BOOLEAN"


def row(
    leaf: Leaf, flags: frozenset[str], lists: frozenset[tuple[str, ...]] = frozenset()
) -> Iterator[bool | int | str | None]:
    """The values of a leaf's columns."""
    yield leaf.given
    yield leaf.value
    yield leaf.unit if leaf.known else None
    for flag in sorted(flags):
        yield flag in leaf.flags if leaf.given else None
    for listed in sorted(lists):
        yield names_one(leaf.text, listed) if leaf.has_words else None
