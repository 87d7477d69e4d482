"""A character of a value is found in the file, however the value is written there.

What an escape stands for is asked of PyYAML and of the standard parser of JSON.
"""

from __future__ import annotations

import json
import re

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from orderlint.reading import read
from orderlint.reading.node import Scalar, Section
from orderlint.reading.source_positions import places_within

HEAD = "document: order\nformat: 1\n"
TEXTS = st.text(
    st.one_of(
        st.sampled_from("ab U5.0,µ>'\"\\:#-é\n\n \u00a0😀"),
        st.characters(
            codec="utf-8", exclude_categories=["Cc", "Cf", "Cs", "Cn", "Zl", "Zp", "Mn", "Lo"]
        ),
    ),
    min_size=1,
    max_size=60,
).filter(str.strip)
_ESCAPE = re.compile(r"\\(?:u[dD][89abAB]..\\u....|x..|u....|U........|.)", re.DOTALL)


def solid(text: str) -> list[int]:
    return [offset for offset, character in enumerate(text) if not character.isspace()]


def value(data: str, file: str, *path: str) -> Scalar:
    node = read(data.encode(), file).root
    for key in path:
        assert isinstance(node, Section)
        node = node.get(key)
    assert isinstance(node, Scalar)
    return node


def written_at(data: str, line: int, column: int, decode) -> str:
    """The character that is written at a place; an escape is decoded."""
    rest = data.split("\n")[line - 1][column - 1 :]
    escape = _ESCAPE.match(rest) if decode else None
    return decode(f'"{escape[0]}"') if escape else rest[0]


def check(data: str, file: str, decode, *path: str) -> Scalar:
    scalar = value(data, file, *path)
    offsets = solid(scalar.text)
    places = list(places_within(scalar, offsets))
    assert len(places) == len(offsets)
    for offset, place in zip(offsets, places, strict=True):
        assert place.file == file
        assert written_at(data, place.line, place.column, decode) == scalar.text[offset]
    return scalar


def double_quoted(scalar: Scalar):
    return yaml.safe_load if scalar.raw.startswith('"') else None


@pytest.mark.parametrize("style", [None, "'", '"', "|", ">"])
@given(text=TEXTS, width=st.sampled_from([8, 20, 80]), plain=st.booleans())
def test_in_yaml_in_every_style(style, text, width, plain):
    body = {"notify": {"events": text, "call": "x"}, "stop_when": text}
    data = HEAD + yaml.safe_dump(
        body, default_style=style, width=width, allow_unicode=plain, sort_keys=False
    )
    for path in (("notify", "events"), ("stop_when",)):
        found = value(data, "o.yaml", *path)
        assert found.text == text
        check(data, "o.yaml", double_quoted(found), *path)


@given(text=TEXTS, ascii_only=st.booleans(), indent=st.sampled_from([None, 2]))
def test_in_json(text, ascii_only, indent):
    body = {"document": "order", "format": 1, "notify": {"events": text}}
    data = json.dumps(body, ensure_ascii=ascii_only, indent=indent)
    assert check(data, "o.json", json.loads, "notify", "events").text == text


FLOWING = {
    "plain over lines": "a: one\n  two 5.0\n\n  three\n",
    "single over lines": "a: 'it''s\n   two, ''5.0''\n\n  end'\n",
    "double over lines": (
        'a: "one\n  two \\"5.0\\" \\\n  th\\x72ee\\n\\\n  \\ four\\tfive \\u00b5g"\n'
    ),
    "block with a comment": "a: |  # 5.0 of it\n  one\n    two 5.0\n\n  # three\nb: 1\n",
    "folded, kept": "a: >2+\n   one\n  two\n   5.0\n\n",
    "in a flow": "{a: one two 5.0, b: 'x'}\n",
    "carriage returns": "a: >-\r\n  one\r\n  two 5.0\r\nb: 'x\r\n  y'\r\n",
}


@pytest.mark.parametrize("name", FLOWING)
def test_over_lines_with_what_only_some_styles_have(name):
    data = HEAD + "irrigation:\n" + "".join(f"  {line}\n" for line in FLOWING[name].split("\n"))
    scalar = value(data, "o.yaml", "irrigation", "a")
    assert "5.0" in scalar.text
    check(data, "o.yaml", double_quoted(scalar), "irrigation", "a")


def test_a_few_characters_of_a_long_text():
    text = "word " * 1000 + "5.0"
    scalar = value(f"{HEAD}a: {text}\n", "o.yaml", "a")
    (place,) = places_within(scalar, [text.index("5")])
    assert (place.line, place.column) == (3, 4 + text.index("5"))
