"""No step of a sum in SQL passes 62 bits, in the order in which a database multiplies and adds."""

from __future__ import annotations

import re

import duckdb

from orderlint.fields import BEFORE, CHECKED_AT, field_table
from orderlint.language.amounts import BOUND
from orderlint.language.to_sql import sql, value_of
from orderlint.language.tree import Compare, Multiple, Term, atoms
from orderlint.rulebook.load import load

RULES = [rule for rule in load("all").rules.values() if rule.found_by == "condition"]
ATOMS = {
    atom
    for rule in RULES
    for instance in rule.instances
    for atom in atoms(instance.condition)
    if isinstance(atom, Compare | Multiple)
}


def largest(path):
    """The greatest size of a value of a leaf."""
    field = field_table().fields.get(path.removeprefix(BEFORE))
    field = field or field_table().fields["written"]
    assert path.removeprefix(BEFORE) in field_table().fields or path == CHECKED_AT
    return max(abs(field.lowest), abs(field.highest))


def steps(compare):
    """The size of each literal, product and partial sum of a comparison, from left to right."""
    total = 0
    yield abs(compare.bound)
    for term in compare.terms:
        product = abs(term.coefficient)
        yield product
        for path in term.paths:
            product *= largest(path)
            yield product
        total += product
        yield total


def test_no_step_passes_62_bits():
    compares = [atom for atom in ATOMS if isinstance(atom, Compare)]
    assert max(len(term.paths) for atom in compares for term in atom.terms) == 2
    assert max(step for atom in compares for step in steps(atom)) < BOUND <= 2**62
    assert all(largest(atom.path) < BOUND for atom in ATOMS if isinstance(atom, Multiple))


def test_a_database_computes_in_the_order_that_is_bounded():
    terms = (Term(-3, ("starts", "pause.lower")), Term(2, ("pause.upper",)))
    written = sql(Compare(terms, "<=", 5))
    assert written == '(-3 * "starts" * "pause.lower" + 2 * "pause.upper" <= 5)'


def test_each_is_computed_in_bigints_at_both_ends_of_the_range():
    paths = sorted({path for atom in ATOMS for path in re.findall(r'"([^"]+)"', sql(atom))})
    numbers = [path for path in paths if not path.endswith(" unit")]
    selected = ", ".join(sql(atom) for atom in sorted(ATOMS, key=repr))
    for sign in (1, -1):
        cells = [f"{sign * largest(path)}::BIGINT AS {value_of(path)}" for path in numbers]
        cells += [f'NULL::VARCHAR AS "{path}"' for path in paths if path.endswith(" unit")]
        row = f"SELECT {selected} FROM (SELECT {', '.join(cells)})"
        # DuckDB raises an error at an overflow.
        assert len(duckdb.connect().execute(row).fetchone()) == len(ATOMS)
