"""Only what the grammar has gets through, and a mistake is pointed at."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.language.surface import (
    Arithmetic,
    Call,
    Comparison,
    Group,
    Junction,
    LanguageError,
    Minus,
    Name,
    Negation,
    Number,
    Text,
)
from orderlint.language.syntax import DEEPEST, LONGEST, parse


def test_a_condition_becomes_its_surface_tree():
    found = parse("given(a.b) and not -a + 0.5 * c <= 3 < d or e in {'x', 'y'}")
    first = Call("given", (Name("a.b", 6),), 0)
    total = Arithmetic(
        "+",
        Minus(Name("a", 20), 19),
        Arithmetic("*", Number(parse("0.5").value, 24), Name("c", 30), 24),
        19,
    )
    chain = Comparison(total, (("<=", Number(parse("3").value, 35)), ("<", Name("d", 39))), 19)
    group = Comparison(Name("e", 44), (("in", Group((Text("x", 50), Text("y", 55)), 49)),), 44)
    both = Junction("and", (first, Negation(chain, 15)), 0)
    # By repr, which names each class: as tuples, two of different classes may be equal.
    assert repr(found) == repr(Junction("or", (both, group), 0))


def test_a_decimal_is_exact():
    assert parse("0.1").value * 10 == 1


def test_a_path_may_end_in_a_word_of_python():
    assert parse("additive.class == 'x'").first == Name("additive.class", 0)


def test_columns_count_characters():
    with pytest.raises(LanguageError) as error:
        parse("'Ringer’s é' == f(a)")
    assert error.value.at == 16


REFUSED = {
    "a[0] < b": 1,
    "a < b if c else d": 0,
    "[x for x in a] == b": 0,
    "{x for x in a} == b": 0,
    "(lambda: a) == b": 7,
    "f'{a}' == b": 1,
    "a == b'x'": 6,
    "(a := b) == c": 3,
    "a == (b, c)": 5,
    "a in [b, c]": 5,
    "a in {b: c}": 7,
    "a == {*b}": 6,
    "a is b": 0,
    "a < b ** 2": 4,
    "a < b / 2": 4,
    "a < b // 2": 4,
    "a < b % 2": 6,
    "a < b @ c": 6,
    "a < ~b": 4,
    "a < +b": 4,
    "open('x')": 0,
    "given(a, b)": 0,
    "given()": 0,
    "given(x=a)": 0,
    "a.given(b)": 0,
    "(a + b).c < d": 1,
    "a < 1e3": 4,
    "a < 0x1F": 4,
    "a < 1_000": 4,
    "a < 1j": 4,
    "a < 1.": 4,
    "a < .5": 4,
    "a < 1234567890123456": 4,
    "a < True": 4,
    "a < None": 4,
    "a < ...": 4,
    "a == u'x'": 6,
    "a <": 3,
    "a < b; c": 5,
    "__import__('os')": 0,
    "await a": 0,
    "a == 'x\\n'": 5,
    " a < b": 0,
    "a < b\0": 5,
    "": 0,
    "a == '\ud800'": 0,
    "1if a else b": 0,
}


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_not_in_the_language_is_refused_where_it_stands(text):
    with pytest.raises(LanguageError) as error:
        parse(text)
    assert error.value.at == REFUSED[text]


@pytest.mark.parametrize(
    "text",
    [
        "a < b" + " " * LONGEST,
        "not " * (DEEPEST + 2) + "a",
        "-" * 500 + "1",
        "(" * 250 + "a" + ")" * 250,
        "(" * 250,
        "f(" * 150,
        "a" + ".b" * 300,
    ],
)
def test_size_and_depth_are_capped(text):
    with pytest.raises(LanguageError):
        parse(text)


@given(st.text(alphabet="ab.()<>=!'\"{}[],:+-*/ \\0123456789_éf\0\n", max_size=40))
def test_no_text_does_more_than_parse_or_be_refused(text):
    found = outcome(text)
    assert not isinstance(found, int) or 0 <= found <= len(text)


def outcome(text):
    """The surface tree, or the column at which the text is refused."""
    try:
        return parse(text)
    except LanguageError as error:
        return error.at
