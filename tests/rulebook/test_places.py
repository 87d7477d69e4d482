"""A mistake in a condition is refused at its own character in the file, however it is written."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rule_files import MARK, family, record, refused

from orderlint.language.surface import LanguageError
from orderlint.reading import read
from orderlint.rulebook.parsed_text import pinpoint

# Each with what the message must hold.
MISTAKES = {
    "an unknown field": ("pause.lower < §pause.uper", "did you mean pause.upper?"),
    "an unknown value of the policy": (
        "pause.lower < §site.narowest",
        "the policy has no site.narowest; did you mean site.narrowest?",
    ),
    "an unknown key of a table": ("pause.lower < §site.step.adult", "the policy has no"),
    "a pressure beside a volume": ("given(access) and §pause.lower < irrigation.bag", "beside"),
    "a choice that is none": ("therapy == §'irrigate'", "'irrigate' is not one of: irrigation"),
    "a policy's choice that is none": ("therapy == §site.outflow", "'gravity' is not one of"),
    "a flag that is none": ("written(pause.lower, §'odd')", "'odd' is not one of"),
    "a function that is none": ("§known(pause.lower)", "there is no function known"),
    "a character that is none": ("pause.lower < pause.upper §; x", "not how a condition"),
    "a tab": ("pause.lower <§\tpause.upper", "not how a condition"),
    "a space that does not break": ("pause.lower <§\u00a0pause.upper", "not how a condition"),
    "a bracket too many": ("pause.lower < pause.upper§)", "does not read as a condition"),
    "an end too early": ("pause.lower <§", "does not read as a condition"),
    "it, where there is none": ("given(§it)", "there is no field it"),
    "two fields multiplied": ("§pause.lower * pause.upper < treat_above", "* is a constant"),
    "what is neither true nor false": ("given(access) or §treat_above", "neither true nor false"),
}


@pytest.mark.parametrize("key", ["require", "when"])
@pytest.mark.parametrize("case", MISTAKES)
def test_a_mistake_is_refused_where_it_stands(case, key):
    text, message = MISTAKES[case]
    assert message in refused(record(**{key: text}))


WRITTEN = {
    "in double quotes": '"given(access) or given(§acces)"',
    "in double quotes, with escapes": r'"therapy == \"drainage\"\x20or\u0020given\x28§acces)"',
    "in double quotes, on two lines": '"given(access) or\n\n      given(§acces)"',
    "in double quotes, a line cut short": '"given(access) or \\\n      given(§acces)"',
    "in single quotes": "'therapy == ''drainage'' or given(§acces)'",
    "in single quotes, beginning with a quote": "'''drainage'' == therapy or given(§acces)'",
    "in single quotes, on two lines": "'therapy ==\t\n       ''drainage'' or given(§acces)'",
    "plain, on the next line": "given(access) or\n      given(§acces)",
    "plain, after an empty line": "given(access) or\n\n        given( §acces )",
    "plain, below its key": "\n      given(access) or given(§acces)",
    "folded": ">-\n      given(access) or\n      given(§acces)",
    "folded, further in": ">\n      given(access) or\n        given(§acces)\n",
    "folded, after a comment": ">-  # g, é, - and 'x'\n      given(access)\n      or given(§acces)",
    "folded, with its indentation": ">2-\n      2 < 3 or given(§acces)",
    "folded, beginning with a minus": ">-\n      - pause.lower < treat_above or given(§acces)",
    "in lines of its own": "|\n      given(access) or\n      given(§acces)\n",
}


@pytest.mark.parametrize("key", ["require", "when"])
@pytest.mark.parametrize("case", WRITTEN)
def test_a_mistake_is_found_however_the_text_is_written(case, key):
    assert refused(record(**{key: WRITTEN[case]})) == (
        "there is no field acces; did you mean access?"
    )


@pytest.mark.parametrize(
    "text",
    [
        "access == 'é' and §known(access)",
        "access == 'é' and access == 'ü' and §)",
        "access in {'lumbar', §'é'}",
        ">-\n      access == 'é' and\n      access == '漢' and §known(access)",
        r'"access == \"\u00e9\" and §known(access)"',
        r'"access == \"\U0001d11e\" and §known(access)"',
        "'access == ''é'' and §known(access)'",
        "access == '𝄞' and §known(access)",
    ],
)
def test_a_character_is_counted_as_one_whatever_its_bytes(text):
    assert refused(record(require=text))


def test_a_mistake_in_a_record_on_one_line_is_found():
    line = "  - {rule: demo, level: note, why: é, require: given(§acces), says: x, ask: y, "
    assert "acces" in refused(f"{line}ask_whom: author, source: {{kind: logic}}}}\n")


def test_a_line_may_end_as_on_windows():
    text = family(record(require=">-\n      given(access) or\n      given(§acces)"))
    assert "acces" in refused(rules=text.replace("\n", "\r\n"))


PATHS = {
    "a longer path": "[pause.upper]",
    "a shorter path": "[id]",
    "the second of two": "[pause.upper, id]",
}


@pytest.mark.parametrize("over", PATHS.values(), ids=PATHS)
def test_a_place_is_that_of_the_text_before_it_is_filled(over):
    text = "given({it}) and not given({it}) or given(§acces)"
    assert "acces" in refused(record(over=over, require=text))
    assert "acces" in refused(record(over=over, require="given(§acces) or given({it})"))
    assert "acces" in refused(record(over=over, when=f"given(it) or {text}"))


def test_a_mistake_in_what_was_filled_is_at_its_brace():
    text = "given({it}) or §{it} < pause.upper"
    assert "beside" in refused(record(over="[irrigation.rate]", require=text))
    assert "pause.lower.it" in refused(record(over="[pause.lower]", require="given(§{it}.it)"))


def test_both_conditions_may_be_wrong_and_the_first_is_refused():
    assert "acces" in refused(record(when="given(§acces)", require="given(therapi)"))


SEVERAL = {
    "figures": "{share: pause.lower / §pause.uper}",
    "limits": "{most: §5}",
    "assumes": "site.outflow §= 'gravity'",
}


@pytest.mark.parametrize("key", SEVERAL)
def test_other_texts_are_refused_at_their_place_too(key):
    assert refused(record(**{key: SEVERAL[key]}))


# Written in every style that YAML has, a text keeps the place of each of its words.

WORDS = ["pause.lower", "<", "'drainage'", "(", "é", "漢𝄞", "-", "{a}", "''", '"x"']
STYLES = ["plain", "'", '"', ">-", "|", "json"]


@st.composite
def written_words(draw: st.DrawFn) -> tuple[str, str, list[str]]:
    """A style, a text of words in it, and the words; a mark stands before each in the text."""
    style = draw(st.sampled_from(STYLES))
    words = ["x", *draw(st.lists(st.sampled_from(WORDS), max_size=8))]
    breaks = (
        [" "] if style == "json" else [" ", "\n     ", "\n       "][: 2 if style == ">-" else 3]
    )
    gaps = [draw(st.sampled_from(breaks)) for _ in words[1:]]
    spelled = [_spelled(word, style, draw) for word in words]
    body = spelled[0] + "".join(f"{gap}{word}" for gap, word in zip(gaps, spelled[1:], strict=True))
    return style, body, words


def _spelled(word: str, style: str, draw: st.DrawFn) -> str:
    """The word as it is written in a style, with the mark before it."""
    if style == "'":
        return MARK + word.replace("'", "''")
    if style not in {'"', "json"}:
        return MARK + word
    escaped = draw(st.booleans())
    if style == "json":
        return MARK + json.dumps(word, ensure_ascii=escaped)[1:-1]
    letters = (f"\\U{ord(c):08x}" if escaped and not c.isascii() else c for c in word)
    return MARK + "".join(letters).replace('"', '\\"')


def _document(style: str, body: str) -> tuple[str, str]:
    if style == "json":
        return f'{{"document": "rules", "format": 1, "when": "{body}"}}', "demo.json"
    before, after = {">-": (">-\n     ", ""), "|": ("|\n     ", "")}.get(style, (style, style))
    quoted = body if style == "plain" else f"{before}{body}{after}"
    return f"document: rules\nformat: 1\nwhen: {quoted}\n", "demo.yaml"


@given(written_words())
def test_every_word_is_found_in_every_style(drawn):
    style, body, words = drawn
    text, file = _document(style, body)
    scalar = read(text.replace(MARK, "").encode(), file, "rules").root.get("when")
    offset = 0
    for number, word in enumerate(words):
        offset = scalar.text.index(word, offset)
        parts = text.split(MARK)
        before = "".join(parts[: number + 1])
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        place = pinpoint(scalar, LanguageError("", offset)).place
        assert (place.line, place.column) == (line, column)
        offset += len(word)
