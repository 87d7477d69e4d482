"""Text in Markdown shows as it is written, by a parser of CommonMark with GitHub's tables."""

from __future__ import annotations

import re

import pytest
from drawing import most
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from policy_files import RULE, local

from orderlint.report.markdown_escape import escaped
from orderlint.report.rules.listing import as_markdown, rule_as_markdown

READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])
NASTY = [
    *("a &amp; b", "&lt;b&gt; &#124; &#x41;", "R&D & <b>bold</b>", "x < 5 | y > 3", "a | b \\| c"),
    *("\\", "ends in \\", "\\\\|", "`code` ``x``", "*a* **b** _c_ __d__ net_in_a", "~~gone~~"),
    *("[a](b) ![c](d) [e]: f <http://g.example>", "# no", "no #", "- no", "+ no", "1. no", "2) no"),
    *("---", "===", "> no", "~~~", "```", "<!-- no -->", "<?no?>", "<script>x</script>", "| a |"),
    *("|---|", "- [ ] no", "[^1]", "a  b", "* no", "$x$", "_", "__", "_a", "a_"),
]
SHAPES = {
    "paragraph": ("**x:** {}\n", 0),
    "item": ("- {}\n", 0),
    "heading": ("## {}\n", 0),
    "cell": ("| a | b |\n|---|---|\n| {} | last |\n", 2),
}
EXPECTED = {
    "paragraph": ["p", "strong"],
    "item": ["ul", "li", "p"],
    "heading": ["h2"],
    "cell": [*("table", "thead", "tr", "th", "th"), *("tbody", "tr", "td", "td")],
}


def read(text):
    """The elements opened, and the text of each line of words."""
    opened, words = [], []
    for token in READER.parse(text):
        if token.type == "inline":
            opened += [child.tag for child in token.children if child.nesting == 1]
            kinds = {child.type for child in token.children if not child.nesting}
            assert kinds <= {"text", "text_special"}, kinds
            words.append("".join(child.content for child in token.children))
        elif token.nesting == 1:
            opened.append(token.tag)
        else:
            assert token.nesting == -1, token.type
    return opened, words


def shows_as_written(text):
    line = " ".join(text.split())
    for shape, (around, number) in SHAPES.items():
        opened, words = read(around.format(escaped(text)))
        assert opened == EXPECTED[shape], (shape, text)
        assert words[number].removeprefix("x: ") == line, (shape, text)


@of_each("text", NASTY)
def test_a_text_shows_as_it_is_written_wherever_it_stands(text):
    shows_as_written(text)


@most(200)
@given(st.lists(st.sampled_from([*"\\`*_[]<>|&~$#!-+=.():;1aB \té", "amp;", "www."]), min_size=1))
def test_any_text_shows_as_it_is_written(parts):
    if "".join(parts).strip():
        shows_as_written("".join(parts))


@pytest.mark.parametrize("text", ["see http://a.example", "HTTPS://a.example", "www.a.example"])
def test_no_link_is_made_of_a_bare_address(text):
    shows_as_written(text)
    assert not re.search(r"[a-z]://|www\.", escaped(text), re.IGNORECASE)


def test_the_texts_of_a_policy_show_as_written_in_the_rulebook_and_in_a_rule():
    says = "Ward & team, &amp; <b>x</b> | y \\| _z_ *w* `v`."
    parts = RULE.replace("The band is {pause.lower}", f"{says} The band is {{pause.lower}}")
    assert says in parts
    book = local(parts)
    for page in (as_markdown(book), rule_as_markdown(book.rules["demo"], book)):
        rendered = READER.render(page)
        assert "Ward &amp; team, &amp;amp; &lt;b&gt;x&lt;/b&gt; | y \\| _z_ *w* `v`." in rendered
