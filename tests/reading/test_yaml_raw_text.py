"""What stands in a YAML file outside every key and value is an indicator, white space or a comment.

Each case names the section of YAML 1.2.2 by which it is none, or is no such YAML. PyYAML reads with
libyaml or, where it is installed without, by itself; both must refuse.
"""

from __future__ import annotations

import pytest
import yaml

from orderlint.finding import Place, Refused
from orderlint.reading import read
from orderlint.reading.node import Listing, Node, Scalar, Section

HEAD = "document: order\nformat: 1\n"
QUESTION_MARK = "Keys marked with a question mark (?) are not read. Write the key without one."
COMMENT = "A comment must have a space before its #."
DASH = "A dash stands here without a value. Put it in quotes if it is the value."
GOES_ON = "What line 3 begins goes on here; it must be indented by a space."
ABOVE = "Blank lines before this line are indented further than it. Take their spaces out."


@pytest.fixture(params=[True, False], ids=["libyaml", "PyYAML alone"])
def _parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.param and not yaml.__with_libyaml__:
        request.applymarker(pytest.mark.xfail(run=False, reason="PyYAML has no C part here"))
    monkeypatch.setattr(yaml, "__with_libyaml__", request.param)


REFUSED = {
    # 7.3.3: a question mark before a letter begins a plain value; parsers take it for an indicator.
    "doubt of a key in braces": ("pause: {?lower: 2 mmHg}", QUESTION_MARK, 1, 9),
    "doubt of a value in brackets": ("pause: [?2 mmHg]", QUESTION_MARK, 1, 9),
    "a key so marked in braces": ("pause: {? lower: 2 mmHg}", QUESTION_MARK, 1, 9),
    "a key so marked": ("pause:\n  ? lower\n  : 2 mmHg", QUESTION_MARK, 2, 3),
    # 6.6: a comment is separated from what stands before it by white space.
    "no space after a bracket": ("a: [x]#y", COMMENT, 1, 7),
    "no space after a comma": ("a: [x,#y\n z]", COMMENT, 1, 7),
    "no space after an opening bracket": ("a: [#y\n z]", COMMENT, 1, 5),
    "no space after double quotes": ('a: "x"#y', COMMENT, 1, 7),
    "no space after single quotes": ("a: 'x'#y", COMMENT, 1, 7),
    # 7.3.3: a dash begins a plain value only before a character that is safe there.
    "a dash alone in brackets": ("a: [-]", DASH, 1, 5),
    "dashes in brackets": ("a:\n- [-, -]", DASH, 2, 4),
    # 6.3: lines of one value in brackets or quotes are indented, by spaces.
    "brackets that go on at the edge": ("a: [x,\ny]", GOES_ON, 2, 1),
    "braces that go on at the edge": ("a: {x: 1,\ny: 2}", GOES_ON, 2, 1),
    "double quotes that go on at the edge": ('a: "x\ny"', GOES_ON, 2, 1),
    "double quotes that end at the edge": ('a: "x\n"', GOES_ON, 2, 1),
    "single quotes that go on at the edge": ("a: 'x\ny'", GOES_ON, 2, 1),
    "quotes that go on after a tab": ('a: "x\n\ty"', GOES_ON, 2, 1),
    "quotes in brackets": ("a: [\n 'x\ny']", GOES_ON.replace("3", "4"), 3, 1),
    "quotes no deeper than their section": (
        "a:\n  b: 'x\n  y'",
        "What line 4 begins goes on here; it must be indented by 3 spaces.",
        3,
        1,
    ),
    # 8.1.1.1: no blank line before a text in a block is indented further than its first line.
    "a text that parsers take for a comment": ("a: >\n \n  \n   \n # x", ABOVE, 5, 2),
}


@pytest.mark.usefixtures("_parser")
@pytest.mark.parametrize("name", REFUSED)
def test_what_no_key_and_no_value_holds_is_refused_at_its_place(name: str) -> None:
    body, message, line, column = REFUSED[name]
    with pytest.raises(Refused) as caught:
        read(f"{HEAD}{body}\n".encode(), "o.yaml")
    assert caught.value.message.startswith(message)
    assert caught.value.place == Place("o.yaml", line + 2, column)


@pytest.mark.usefixtures("_parser")
@pytest.mark.parametrize(
    ("text", "line"),
    [
        (f"{HEAD}a: >#x\n y\n", 3),  # 6.6
        (f"{HEAD}a: |2-#x\n   y\n", 3),
        (f"{HEAD}a:\n- [\n\tx,\n y\n ]\n", 5),  # 6.3
        (f"%ORDER a\n---\n{HEAD}", 1),  # 6.8: a directive that is not known
        (f"%YAML 1.2#a\n---\n{HEAD}", 1),
    ],
)
def test_what_one_of_the_parsers_refuses_itself_both_refuse(text: str, line: int) -> None:
    with pytest.raises(Refused) as caught:
        read(text.encode(), "o.yaml")
    assert isinstance(caught.value.place, Place)
    assert caught.value.place.line == line


def plain(node: Node | None) -> object:
    if isinstance(node, Section):
        return {entry.key.text: plain(entry.value) for entry in node.entries}
    return [plain(item) for item in node.items] if isinstance(node, Listing) else scalar(node)


def scalar(node: Node | None) -> str:
    assert isinstance(node, Scalar)
    return node.text


@pytest.mark.usefixtures("_parser")
@pytest.mark.parametrize(
    ("body", "value"),
    [
        ("a: lower? # doubt", "lower?"),
        ("a: ?2 mmHg", "?2 mmHg"),
        ("a: '?'", "?"),
        ("a: ['-', -1, \"#\"]", ["-", "-1", "#"]),
        ('a: {"b":c}  # d', {"b": "c"}),
        ("a:  # b\n# c\n  - d  # e\n\n  -\n    - f#\n", ["d", ["f#"]]),
        ("a: [  # b\n# c\n  d,\n\n  e\n]", ["d", "e"]),  # a bracket that closes hides nothing
        ("a: {\n  b: 1,\n}\n", {"b": "1"}),
        ("a: 'b\n\n  c'", "b\nc"),
        ("a: b\n  c", "b c"),
        ("a:\n- 'b\n  c'\n- {d:\n  e}", ["b c", {"d": "e"}]),
        ("a: | # b\n  c # d\n\n   e\n # f\n", "c # d\n\n e\n"),
        ("a: |2-  # b\n   \n\n   c", " \n\n c"),
        ("a: |+\n   \n\n# b", "\n\n"),
        ("a: >\n\n\n # b", "\n\n# b\n"),
        ("a: 1\n...\n# b", "1"),
    ],
)
def test_what_yaml_has_is_read(body: str, value: object) -> None:
    root = read(f"# order\n---\n{HEAD}{body}\n".encode(), "o.yaml").root
    assert plain(root.get("a")) == value


@pytest.mark.usefixtures("_parser")
def test_a_whole_in_braces_may_begin_its_lines_at_the_edge() -> None:
    root = read(b'{document: order,\nformat: 1,\na: "b\nc"}\n', "o.yaml").root
    assert plain(root.get("a")) == "b c"
