"""Only what the grammar has gets through, and a mistake is pointed at."""

import re
from pathlib import Path

import pytest
from each_case import of_each
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
from orderlint.language.syntax import DEEPEST, LONGEST, MOST_DIGITS, parse


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
    assert parse("X.class == b") == Comparison(Name("X.class", 0), (("==", Name("b", 11)),), 0)


def test_a_quoted_text_is_kept_as_it_is():
    for text in ("x.class", "don t", " a ", "Ringer’s"):
        for quoted in (f"'{text}'", f'"{text}"'):
            assert parse(f"a == {quoted}").rest[0][1] == Text(text, 5)


def test_a_condition_may_go_over_several_lines():
    assert parse("a\n  < b\n") == Comparison(Name("a", 0), (("<", Name("b", 6)),), 0)


@pytest.mark.parametrize("sign", ["<", "<=", ">", ">=", "==", "!=", "in", "not in"])
def test_each_sign_of_comparison(sign):
    found = parse(f"a {sign} b")
    assert found == Comparison(Name("a", 0), ((sign, Name("b", 3 + len(sign))),), 0)


@pytest.mark.parametrize("sign", "+-*/")
def test_each_sign_of_arithmetic(sign):
    found = parse(f"a {sign} b", division=True)
    assert found == Arithmetic(sign, Name("a", 0), Name("b", 4), 0)


@pytest.mark.parametrize(
    "call", ["given(a)", "multiple(a, b)", "unit_of(a)", "written(a, 'x')", "product(a, b)"]
)
def test_each_function_takes_its_arguments_and_no_more(call):
    name, _, arguments = call.removesuffix(")").partition("(")
    found = parse(call)
    assert found.function == name
    assert len(found.arguments) == len(arguments.split(", "))
    for other in (f"{name}({arguments}, c)", f"{name}()"):
        with pytest.raises(LanguageError, match=rf"{name} takes {len(found.arguments)} argument"):
            parse(other)


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
    "a == '9 mL' and a < 10 mmHg": 20,
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


@of_each("text", REFUSED)
def test_what_is_not_in_the_language_is_refused_where_it_stands(text):
    with pytest.raises(LanguageError) as error:
        parse(text)
    assert error.value.at == REFUSED[text]
    assert error.value.message == str(error.value)


@of_each(
    ("text", "said"),
    [
        (" a < b", "a condition begins with a word"),
        ("a[0] < b", "this is not how a condition is written"),
        ("a <", "this does not read as a condition (invalid syntax)"),
        ("a < 10 mmHg", "a number stands without a unit in a condition; a name under limits: can"),
        ("a < 10.5mmHg", "a number stands without a unit in a condition; a name under limits:"),
        ("a < 10 and <", "this does not read as a condition (invalid syntax)"),
        ("a == '10 mmHg' <", "this does not read as a condition (invalid syntax)"),
        ("a == '\ud800'", "this does not read as a condition"),
        ("a if b else c", "an if is not in the language"),
        ("{x for x in a} == b", "a comprehension is not in the language"),
        ("(x for x in a) == b", "a comprehension is not in the language"),
        ("a.given(b)", "a call like this is not in the language"),
        ("a == (b, c)", "a tuple is not in the language"),
        ("a in {}", "an empty group is not in the language"),
        ("a == {*b}", "a star is not in the language"),
        ("(await a) == b", "await is not in the language"),
        ("(yield a) == b", "yield is not in the language"),
        ("a < +b", "this is not in the language"),
        ("(a + b).c < d", "a name is words joined by points"),
        ("a < 1e3", "a literal is a plain whole number or decimal, or a quoted choice"),
        ("open('x')", "there is no function open; there are given, multiple, unit_of, mass_of, "),
        ("a < b / 2", "a condition has + and -, and * by a constant"),
        ("a is b", "compare with < <= > >= == != in"),
        ("a < b" + " " * LONGEST, f"may have {LONGEST} characters, this has {LONGEST + 5}"),
        ("not " * (DEEPEST + 1) + "a", f"a condition may nest {DEEPEST} deep"),
    ],
)
def test_what_is_wrong_is_said(text, said):
    with pytest.raises(LanguageError, match=re.escape(said)):
        parse(text)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        *(("a == 'x' 'y'", 9), ("a == 'x''y'", 8), ("'x'\n 'y' == a", 5), ("a == r'x'", 6)),
        *(('a == "x" "y"', 9), ("a == \"x\"'y'", 8), ('a == r"x"', 6)),
    ],
)
def test_a_quoted_text_stands_alone(text, at):
    with pytest.raises(LanguageError) as error:
        parse(text)
    assert error.value.at == at
    assert parse("a in {'x' , 'y'} and 'z' == b")


def test_the_caps_are_those_that_are_documented():
    folder = Path(__file__).parents[2] / "orderlint/language"
    page = (folder / "README.md").read_text(encoding="utf-8")
    assert f"at most {LONGEST} characters, {DEEPEST} levels, {MOST_DIGITS} digits. An" in page


def test_a_condition_may_be_as_long_as_the_cap():
    assert parse("a < b".ljust(LONGEST))
    with pytest.raises(LanguageError) as error:
        parse("a < b".ljust(LONGEST + 1))
    assert error.value.at == 0


@pytest.mark.parametrize(
    ("form", "levels"),
    [
        ("#", 0),
        ("-#", 1),
        ("not #", 1),
        ("# + b", 1),
        ("b + #", 1),
        ("# < b", 1),
        ("b < #", 1),
        ("b and #", 1),
        ("given(#)", 1),
        ("b in {#}", 2),
    ],
)
def test_each_form_counts_one_level(form, levels):
    deepest = "-" * (DEEPEST - levels) + "a"
    assert parse(form.replace("#", deepest))
    with pytest.raises(LanguageError, match="nest") as error:
        parse(form.replace("#", f"-{deepest}"))
    assert error.value.at == form.index("#") + DEEPEST - levels + 1


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
