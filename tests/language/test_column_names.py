"""Names of columns: PostgreSQL cuts long ones without a word, and most engines ignore case."""

from __future__ import annotations

import re
from itertools import chain

from orderlint.fields import BEFORE, CHECKED_AT, field_table
from orderlint.language.to_sql import (
    LONGEST_NAME,
    flag_of,
    given_of,
    identifier,
    named_of,
    unit_of,
    value_of,
)
from orderlint.language.tree import Names, atoms
from orderlint.order import FLAGS
from orderlint.rulebook.load import load

PATHS = [*field_table().fields, CHECKED_AT]
PATHS += [f"{BEFORE}{path}" for path in field_table().fields]
RULES = [rule for rule in load("all").rules.values() if rule.found_by == "condition"]
LISTS = {
    atom.listed
    for rule in RULES
    for instance in rule.instances
    for atom in atoms(instance.condition)
    if isinstance(atom, Names)
}
# Joined with commas, these would be one list.
ALIKE = {("x", "y"), ("x, y",), ("x", "y, z"), ("x, y", "z")}


def every_name():
    for path in PATHS:
        yield from (given_of(path), value_of(path), unit_of(path))
        yield from (flag_of(path, flag) for flag in FLAGS)
        yield from (named_of(path, listed) for listed in LISTS | ALIKE)


def test_no_two_columns_that_there_can_be_have_one_name():
    names = list(every_name())
    assert len(names) > len(PATHS) * 20
    assert len({name.casefold() for name in names}) == len(names)


def test_every_name_is_kept_whole_and_read_as_it_is_by_any_engine():
    for name in every_name():
        assert re.fullmatch(r'"[a-z0-9_. -]+"', name), name
        assert len(name) - 2 <= LONGEST_NAME


def test_a_long_name_is_cut_and_stays_apart_from_others_that_begin_alike():
    long = ["é" * 40, "é" * 41, f"{'é' * 40}x"]
    names = [identifier(each) for each in long]
    assert len(set(names)) == 3
    assert all(len(name[1:-1].encode()) <= LONGEST_NAME for name in names)
    assert identifier("x" * LONGEST_NAME) == f'"{"x" * LONGEST_NAME}"'
    assert identifier('say "x"') == '"say ""x"""'


def test_some_name_is_cut():
    whole = set(chain.from_iterable((f'"{p} written {f}"' for f in FLAGS) for p in PATHS))
    assert whole - set(every_name())
