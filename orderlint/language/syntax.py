"""Parses a condition into a surface tree, with Python's parser and a whitelist of its nodes."""

from __future__ import annotations

import ast
import functools
import re
import warnings
from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.language.surface import (
    UNDER_LIMITS,
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

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.language.surface import ArithmeticSign, Sign, Surface

LONGEST = 600
"""Characters in one condition."""
DEEPEST = 12
"""Levels of nesting in one condition."""
MOST_DIGITS = 15
"""Digits in one literal."""

FUNCTIONS: Mapping[str, int] = {
    "given": 1,
    "multiple": 2,
    "unit_of": 1,
    "mass_of": 1,
    "activity_of": 1,
    "written": 2,
    "names": 2,
    "product": 2,
}
"""The functions of conditions with the number of their arguments."""

# A condition consists of quoted texts and some ASCII characters. Python would also accept
# comments, prefixed and adjoining strings, and letters that only look like ASCII.
_PIECE = re.compile(r"""'[^'"\\\n]*'|"[^'"\\\n]*"|[A-Za-z0-9_.,(){}<>=!+*/\n -]+""")
# Python cannot parse a path that contains its keyword `class`. INVARIANT: the stand-in has the same
# length, so that columns stay right, and is the name of no field.
_KEYWORD, _STAND_IN = "class", "clas_"
_KEYWORD_PATH = re.compile(rf"(?<=\.){_KEYWORD}\b")
_NUMBER = re.compile(rf"(?=[\d.]{{1,{MOST_DIGITS}}}$)(0|[1-9]\d*)(\.\d+)?")
# A number with a unit after it; what is quoted is passed over.
_WITH_UNIT = re.compile(
    r"""'[^']*'|"[^"]*"|(?<![\w.])(?P<number>\d+(?:\.\d+)?)"""
    r" ?(?!(?:and|or|not|in|if|else|is)\b)[A-Za-z]"
)
_SIGNS: dict[type[ast.cmpop], Sign] = {
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
    ast.In: "in",
    ast.NotIn: "not in",
}
_OPERATORS: dict[type[ast.operator], ArithmeticSign] = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
}


def parse(
    text: str, functions: Mapping[str, int] = FUNCTIONS, *, division: bool = False
) -> Surface:
    """The surface tree of a condition, or of a figure when `division` is allowed.

    `functions` maps each function's name to its number of arguments. Raises LanguageError, with a
    column, at the first mistake.
    """
    if len(text) > LONGEST:
        raise LanguageError(f"a condition may have {LONGEST} characters, this has {len(text)}", 0)
    return _parsed(text, tuple(functions.items()), division)


# Cached because the built-in rules are read again under each policy. INVARIANT: a surface tree is
# frozen, so that rulebooks can share it; the cache keeps no exceptions.
@functools.lru_cache(maxsize=2_048)
def _parsed(text: str, functions: tuple[tuple[str, int], ...], division: bool) -> Surface:
    flat = "".join(_pieces(text))
    whole = _python(flat)
    return _Parser(flat, dict(functions), division).read(whole, 0)


def _pieces(text: str) -> Iterator[str]:
    """The pieces of a condition, quoted and not, without line breaks, for Python's parser."""
    at, after_quoted = 0, False
    if text[:1].isspace():
        raise LanguageError("a condition begins with a word", 0)
    while at < len(text):
        piece = _PIECE.match(text, at)
        quoted = text[at] in {"'", '"'}
        if piece is None or (quoted and (after_quoted or text[at - 1 : at].isalnum())):
            raise LanguageError("this is not how a condition is written", at)
        plain = piece[0].replace("\n", " ")
        yield plain if quoted else _KEYWORD_PATH.sub(_STAND_IN, plain)
        after_quoted = quoted or plain.isspace()  # blank only between two quoted
        at = piece.end()


def _python(text: str) -> ast.expr:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return ast.parse(text, mode="eval").body
    except SyntaxError as error:
        # Python gives no column where the text ends too early.
        with_unit = next((f for f in _WITH_UNIT.finditer(text) if f["number"]), None)
        if with_unit:
            said = f"a number stands without a unit in a condition; {UNDER_LIMITS}"
            raise LanguageError(said, with_unit.start()) from None
        column = min(error.offset - 1, len(text)) if error.offset else len(text)
        raise LanguageError(f"this does not read as a condition ({error.msg})", column) from None
    except (ValueError, MemoryError, RecursionError, Warning):
        raise LanguageError("this does not read as a condition", 0) from None


class _Parser:
    """Turns Python's tree of one text into a surface tree."""

    def __init__(self, text: str, functions: Mapping[str, int], division: bool) -> None:
        self.text = text.encode()
        self.functions = functions
        self.division = division

    def at(self, node: ast.expr) -> int:
        """The node's column in characters; Python counts bytes."""
        return len(self.text[: node.col_offset].decode())

    def read(self, node: ast.expr, depth: int) -> Surface:
        at = self.at(node)
        if depth > DEEPEST:
            raise LanguageError(f"a condition may nest {DEEPEST} deep", at)
        match node:
            case ast.Name() | ast.Attribute():
                return Name(self.path(node), at)
            case ast.Constant():
                return self.literal(node, at)
            case ast.Set(elts=items):
                return Group(tuple(self.read(item, depth + 1) for item in items), at)
            case ast.Call(func=ast.Name(id=function), args=arguments, keywords=[]):
                return self.call(function, arguments, depth, at)
            case ast.BinOp(left=left, op=operator, right=right):
                sides = self.read(left, depth + 1), self.read(right, depth + 1)
                return Arithmetic(self.operator(operator, at), *sides, at)
            case ast.UnaryOp(op=ast.USub(), operand=item):
                return Minus(self.read(item, depth + 1), at)
            case ast.UnaryOp(op=ast.Not(), operand=item):
                return Negation(self.read(item, depth + 1), at)
            case ast.BoolOp(op=word, values=items):
                inner = tuple(self.read(item, depth + 1) for item in items)
                return Junction("and" if isinstance(word, ast.And) else "or", inner, at)
            case ast.Compare(left=first, ops=signs, comparators=others):
                return self.comparison(first, signs, others, depth, at)
            case _:
                raise LanguageError(f"{_WORDS.get(type(node), 'this')} is not in the language", at)

    def path(self, node: ast.expr) -> str:
        match node:
            case ast.Name(id=name):
                return name
            case ast.Attribute(value=inner, attr=name):
                return f"{self.path(inner)}.{_KEYWORD if name == _STAND_IN else name}"
            case _:
                raise LanguageError("a name is words joined by points", self.at(node))

    def literal(self, node: ast.Constant, at: int) -> Surface:
        if isinstance(node.value, str):
            return Text(node.value, at)
        written = self.text[node.col_offset : node.end_col_offset].decode()
        if not _NUMBER.fullmatch(written):
            raise LanguageError(
                "a literal is a plain whole number or decimal, or a quoted choice", at
            )
        return Number(Fraction(written), at)

    def call(self, function: str, arguments: list[ast.expr], depth: int, at: int) -> Call:
        count = self.functions.get(function)
        if count is None:
            known = ", ".join(self.functions)
            raise LanguageError(f"there is no function {function}; there are {known}", at)
        if len(arguments) != count:
            raise LanguageError(f"{function} takes {count} argument(s)", at)
        return Call(function, tuple(self.read(item, depth + 1) for item in arguments), at)

    def operator(self, operator: ast.operator, at: int) -> ArithmeticSign:
        sign = _OPERATORS.get(type(operator))
        if sign is None or (sign == "/" and not self.division):
            raise LanguageError("a condition has + and -, and * by a constant", at)
        return sign

    def comparison(
        self, first: ast.expr, signs: list[ast.cmpop], others: list[ast.expr], depth: int, at: int
    ) -> Comparison:
        rest = []
        for sign, other in zip(signs, others, strict=True):
            if type(sign) not in _SIGNS:
                raise LanguageError("compare with < <= > >= == != in", at)
            rest.append((_SIGNS[type(sign)], self.read(other, depth + 1)))
        return Comparison(self.read(first, depth + 1), tuple(rest), at)


# Names for errors. All other Python syntax needs a character that no condition has.
_WORDS: dict[type[ast.expr], str] = {
    ast.IfExp: "an if",
    ast.SetComp: "a comprehension",
    ast.GeneratorExp: "a comprehension",
    ast.Call: "a call like this",
    ast.Tuple: "a tuple",
    ast.Dict: "an empty group",
    ast.Starred: "a star",
    ast.Await: "await",
    ast.Yield: "yield",
}
