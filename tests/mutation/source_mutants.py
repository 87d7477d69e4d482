"""One module's source → each small change of it: mutmut's operators, and four of ours in its form.

Only makes the changes. Never runs them, never writes a file.
"""

from __future__ import annotations

import ast
from typing import TYPE_CHECKING, NamedTuple

import libcst as cst
import libcst.matchers as m
from mutmut.mutation.file_mutation import deep_replace
from mutmut.mutation.mutators import mutation_operators, operator_string

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

SENTENCE = 4
"""Words from which on a text is a sentence."""


class Mutant(NamedTuple):
    """A changed module. `function` is the outermost one it changes, or the empty text.

    `was` and `becomes` are the lines that differ, each run of blanks as one.
    """

    function: str
    was: str
    becomes: str
    source: str


def drop_alternative(node: cst.MatchOr) -> Iterator[cst.CSTNode]:
    """`case A | B` → `case A`."""
    for index in range(len(node.patterns)):
        kept = [*node.patterns[:index], *node.patterns[index + 1 :]]
        kept[-1] = kept[-1].with_changes(separator=cst.MaybeSentinel.DEFAULT)
        yield node.with_changes(patterns=kept) if len(kept) > 1 else kept[0].pattern


def drop_guard(node: cst.MatchCase) -> Iterator[cst.CSTNode]:
    """`case A if b` → `case A`."""
    if node.guard is not None:
        yield node.with_changes(guard=None)


def drop_filter(node: cst.CompFor) -> Iterator[cst.CSTNode]:
    """`for a in b if c` → `for a in b`."""
    if node.ifs:
        yield node.with_changes(ifs=[])


def drop_operand(node: cst.BooleanOperation) -> Iterator[cst.CSTNode]:
    """`a and b` → `a`, `b`."""
    for side in (node.left, node.right):
        yield side.with_changes(lpar=[cst.LeftParen()], rpar=[cst.RightParen()])


def force_condition(node: cst.If | cst.While) -> Iterator[cst.CSTNode]:
    """`if a` → `if True`, `if False`; `while a` → `while False`."""
    for word in ("True", "False") if isinstance(node, cst.If) else ("False",):
        yield node.with_changes(test=cst.Name(word))


OPERATORS = (
    *mutation_operators,
    (cst.MatchOr, drop_alternative),
    (cst.MatchCase, drop_guard),
    (cst.CompFor, drop_filter),
    (cst.BooleanOperation, drop_operand),
    ((cst.If, cst.While), force_condition),
)

# What is no mutant, by rule. Names and types that only a reader or a type checker sees:
UNSEEN = (
    m.Annotation()
    | m.If(test=m.Name("TYPE_CHECKING"))
    | m.AnnAssign(annotation=m.Annotation(m.Name("TypeAlias")))
    | m.ImportFrom()
)
# How a class or a function is wrapped; test_package holds that dataclasses are frozen and slotted.
WRAPPING = m.Decorator()
# A call that only narrows a type is forced either way by the condition that it stands in.
NARROWING = m.Call(func=m.Name("isinstance") | m.Name("len"))


class _Finder(cst.CSTVisitor):
    """Every pair of a node and what an operator makes of it, with the outermost function."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[cst.CSTNode, cst.CSTNode, str]] = []
        self.inside: list[str] = []
        self.messages = 0

    def on_visit(self, node: cst.CSTNode) -> bool:
        if m.matches(node, UNSEEN | WRAPPING | NARROWING):
            return False
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self.inside.append(node.name.value)
        self.messages += isinstance(node, cst.Raise | cst.Assert)
        for kind, operator in OPERATORS:
            if isinstance(node, kind) and not (operator is operator_string and self.says(node)):
                changed = [(node, new, ".".join(self.inside)) for new in operator(node)]
                self.found.extend(changed)
        return True

    def on_leave(self, original_node: cst.CSTNode) -> None:
        if isinstance(original_node, cst.FunctionDef | cst.ClassDef):
            self.inside.pop()
        self.messages -= isinstance(original_node, cst.Raise | cst.Assert)

    def says(self, node: cst.CSTNode) -> bool:
        """Whether a literal is words for people: in the message of an error, or a sentence."""
        if self.messages:
            return True
        value = ast.literal_eval(node.value) if isinstance(node, cst.SimpleString) else ""
        return isinstance(value, str) and len(value.split()) >= SENTENCE


def mutants_of(source: str) -> list[Mutant]:
    """Each mutant that compiles and differs from the source and from those before it."""
    module = cst.parse_module(source)
    parts = [module.code_for_node(part) for part in (*module.header, *module.body, *module.footer)]
    mutants = []
    for index, statement in enumerate(module.body, len(module.header)):
        before, after = "".join(parts[:index]), "".join(parts[index + 1 :])
        for function, code in _changed(module, statement, parts[index]):
            was, becomes = _difference(parts[index].splitlines(), code.splitlines())
            mutants.append(Mutant(function, was, becomes, before + code + after))
    return mutants


def _changed(module: cst.Module, statement: cst.CSTNode, code: str) -> Iterator[tuple[str, str]]:
    """One statement at the top of a module, with each change that tells."""
    finder = _Finder()
    statement.visit(finder)
    seen = {None, _meaning(code)}
    for node, changed, function in finder.found:
        mutated = module.code_for_node(deep_replace(statement, node, changed))
        meaning = _meaning(mutated)
        if meaning not in seen:
            seen.add(meaning)
            yield function, mutated


def _meaning(source: str) -> str | None:
    try:
        return ast.dump(_Lax().visit(ast.parse(source)))
    except SyntaxError:
        return None


class _Lax(ast.NodeTransformer):
    """`zip(a, b, strict=True)` → `zip(a, b)`: it asserts a length that the code has seen to."""

    def visit_Call(self, node: ast.Call) -> ast.AST:
        self.generic_visit(node)
        if isinstance(node.func, ast.Name) and node.func.id == "zip":
            node.keywords = []
        return node


def _difference(was: Sequence[str], becomes: Sequence[str]) -> tuple[str, str]:
    first = next(
        (n for n, (a, b) in enumerate(zip(was, becomes, strict=False)) if a != b),
        min(len(was), len(becomes)),
    )
    same = 0
    while same < min(len(was), len(becomes)) - first and was[-1 - same] == becomes[-1 - same]:
        same += 1
    return _joined(was[first : len(was) - same]), _joined(becomes[first : len(becomes) - same])


def _joined(lines: Sequence[str]) -> str:
    return " ".join(" ".join(lines).split())
