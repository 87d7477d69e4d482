from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import yaml
from hypothesis import assume, given
from hypothesis import strategies as st
from running import AT, CLEAN, run

from orderlint.finding import Place, Refused
from orderlint.reading import KINDS, Document, read
from orderlint.reading.document import FORMATS
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.rulebook import load, rules_folder, source_documents

if TYPE_CHECKING:
    from collections.abc import Iterator

HEAD = "document: order\nformat: 1\n"


def scalar(text: str, key: str = "a", file: str = "o.yaml") -> Scalar:
    found = read(text.encode(), file).root.get(key)
    assert isinstance(found, Scalar)
    return found


def plain(node: Node) -> object:
    """The tree as Python's own lists and dicts of texts."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Listing):
        return [plain(item) for item in node.items]
    return {entry.key.text: plain(entry.value) for entry in node.entries}


def scalars(node: Node) -> list[Scalar]:
    if isinstance(node, Scalar):
        return [node]
    if isinstance(node, Listing):
        return [found for item in node.items for found in scalars(item)]
    return [found for entry in node.entries for found in [entry.key, *scalars(entry.value)]]


# --- the head ---


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_read_and_named(kind: str) -> None:
    text = f"document: {kind}\nformat: {FORMATS.get(kind, '1')}\n"
    document = read(text.encode(), "x.yaml", expect=kind)
    assert (document.kind, document.file) == (kind, "x.yaml")


@pytest.mark.parametrize(
    ("text", "message", "line", "column"),
    [
        ("format: 1\n", "`document:` is missing. It must be one of: ", 1, 1),
        ("format: 1\ndocument: odrer\n", "`document:` is odrer. It must be one of: ", 2, 11),
        ("format: 1\ndocument: [order]\n", "`document:` is a list. It must be one of: ", 2, 11),
        ("format: 1\ndocument: {a: b}\n", "`document:` is a section. It must be ", 2, 11),
        ("format: 1\ndocument:\n", "`document:` is empty. It must be one of: ", 2, 10),
        (f"document: {'x ' * 99}\n", f"`document:` is {'x ' * 20}…. It must be one ", 1, 11),
        ("document: order\n", "`format:` is missing. It must be 1.", 1, 1),
        ("document: order\nformat: 2\n", "`format:` is 2. It must be 1, without", 2, 9),
        ("document: order\nformat: '1'\n", "`format:` is '1'. It must be 1, without", 2, 9),
        ("document: order\nformat: 1.0\n", "`format:` is 1.0. It must be 1, without", 2, 9),
        ("document: order\nformat: [1]\n", "`format:` is a list. It must be 1, wi", 2, 9),
    ],
)
def test_a_wrong_head_is_refused_at_its_value(
    text: str, message: str, line: int, column: int
) -> None:
    with pytest.raises(Refused) as caught:
        read(text.encode(), "x.yaml")
    assert caught.value.message.startswith(message)
    assert caught.value.place == Place("x.yaml", line, column)


def test_another_kind_than_expected_is_refused() -> None:
    with pytest.raises(Refused) as caught:
        read(b"document: order-set\nformat: 1\n", "x.yaml", expect="order")
    assert str(caught.value) == "x.yaml:1:11: This is an order set; an order is wanted here."


@pytest.mark.parametrize(
    ("file", "is_json"),
    [("x.json", True), ("X.JSON", True), ("<stdin>", True), ("x.yaml", False), ("x", False)],
)
def test_json_or_yaml_is_told_by_name_and_first_character(file: str, is_json: bool) -> None:
    text = b'{"document": "order", format: 1}'  # YAML, but not JSON
    if is_json:
        with pytest.raises(Refused, match="cannot be read as JSON"):
            read(text, file)
    else:
        assert read(text, file).kind == "order"


def test_standard_input_is_yaml_unless_it_begins_with_a_brace() -> None:
    assert read(HEAD.encode(), "-").kind == "order"
    assert read(b' \n{"document": "order", "format": 1}', "-").kind == "order"


# --- scalars ---


def test_forms_of_the_core_schema() -> None:
    # YAML 1.2.2, section 10.3.2, example 10.9 (from memory), without the infinities.
    text = (
        "A null: null\nBooleans: [ true, True, false, FALSE ]\nIntegers: [ 0, 0o7, 0x3A, -19 ]\n"
        "Floats: [ 0., -0.0, .5, +12e03, -2E+05 ]\n"
    )
    root = read((HEAD + text).encode(), "o.yaml").root
    forms = [[found.form for found in scalars(entry.value)] for entry in root.entries[2:]]
    assert forms == [["nothing"], ["truth"] * 4, ["number"] * 4, ["number"] * 5]


@given(
    # The patterns of the core schema: YAML 1.2.2, section 10.3.2 (from memory).
    st.from_regex(r"[-+]?[0-9]{1,20}", fullmatch=True)
    | st.from_regex(r"0o[0-7]{1,20}|0x[0-9a-fA-F]{1,20}", fullmatch=True)
    | st.from_regex(
        r"[-+]?(\.[0-9]{1,9}|[0-9]{1,9}(\.[0-9]{0,9})?)([eE][-+]?[0-9]{1,9})?", fullmatch=True
    )
)
def test_numbers_of_the_core_schema_are_numbers(written: str) -> None:
    found = scalar(f"{HEAD}a: {written}\n")
    assert (found.text, found.raw) == (written, written)
    assert found.form == "number"


# The patterns of the library's own resolver, which is for YAML 1.1.
NUMBERS_1_1 = {
    pattern
    for candidates in yaml.resolver.Resolver.yaml_implicit_resolvers.values()
    for tag, pattern in candidates
    if tag.rpartition(":")[2] in {"int", "float"}
}


@given(st.one_of([st.from_regex(pattern, fullmatch=True) for pattern in NUMBERS_1_1]))
def test_what_a_reader_of_yaml_1_1_takes_for_a_number_is_one_here(written: str) -> None:
    written = written.strip()
    assume(not re.search(r"\d{41}|inf|nan", written, re.IGNORECASE))
    assert scalar(f"{HEAD}a: {written}\n").form == "number"


@pytest.mark.parametrize(
    "written",
    ["1e3", "010", "0x1F", "0o7", "0b1", "1:30", "1_000", ".5", "5.", "+5", "-5", "1e999"],
)
def test_disputed_numbers_are_numbers_with_their_text(written: str) -> None:
    found = scalar(f"{HEAD}a: {written}\n")
    assert (found.text, found.form) == (written, "number")
    quoted = scalar(f"{HEAD}a: '{written}'\n")
    assert (quoted.text, quoted.raw, quoted.form) == (written, f"'{written}'", "text")


@pytest.mark.parametrize(
    "written",
    ["yes", "no", "on", "off", "tRUE", "nULL", "60 mL/h", "2026-03-02", "1,000", ".", "--", "e3"],
)
def test_all_else_is_text(written: str) -> None:
    assert scalar(f"{HEAD}a: {written}\n").form == "text"


def test_block_and_quoted_scalars_keep_what_was_written() -> None:
    text = HEAD + 'a: |\n  one\n  two\n\nb: "c\\x41"\nc: two\n  lines\n'
    assert (scalar(text).text, scalar(text).raw) == ("one\ntwo\n", "|\n  one\n  two")
    assert (scalar(text, "b").text, scalar(text, "b").raw) == ("cA", '"c\\x41"')
    assert (scalar(text, "c").text, scalar(text, "c").raw) == ("two lines", "two\n  lines")


def test_json_forms() -> None:
    text = '{"document": "order", "format": 1, "a": [null, true, false, -1.50E+2, "1"]}'
    node = read(text.encode(), "o.json").root.get("a")
    assert isinstance(node, Listing)
    found = [(item.text, item.raw, item.form) for item in scalars(node)]
    assert found == [
        ("null", "null", "nothing"),
        ("true", "true", "truth"),
        ("false", "false", "truth"),
        ("-1.50E+2", "-1.50E+2", "number"),
        ("1", '"1"', "text"),
    ]


# --- against other readers, and places ---

SOUND = st.text(
    st.characters(
        codec="utf-8", exclude_categories=["Cc", "Cf", "Cs", "Cn", "Zl", "Zp", "Mn", "Lo"]
    ),
    max_size=12,
)
WORDS = SOUND.map("k{}".format)  # never like a number or a truth value
TREES = st.recursive(
    SOUND | st.integers(-(10**20), 10**20) | st.booleans() | st.none(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=12,
)


def worded(tree: object) -> object:
    """A tree of the standard parser with each value as its text."""
    if isinstance(tree, dict):
        return {key: worded(value) for key, value in tree.items()}
    if isinstance(tree, list):
        return [worded(item) for item in tree]
    return tree if isinstance(tree, str) else json.dumps(tree)


def places_hold(document: Document, text: str) -> None:
    lines = text.split("\n")
    for found in scalars(document.root):
        start = sum(len(line) + 1 for line in lines[: found.place.line - 1])
        at = start + found.place.column - 1
        assert text[at : at + len(found.raw)] == found.raw


@given(TREES, st.sampled_from([None, 0, 2, "\t"]))
def test_json_agrees_with_the_standard_parser_and_places_hold(
    tree: object, indent: int | str | None
) -> None:
    text = json.dumps(
        {"document": "order", "format": 1, "tree": tree}, indent=indent, ensure_ascii=False
    )
    document = read(text.encode(), "o.json")
    assert plain(document.root) == worded(json.loads(text, parse_int=str))
    places_hold(document, text)


@given(TREES, st.booleans(), st.sampled_from(["\n", "\r\n"]))
def test_yaml_agrees_with_the_library_in_python_and_places_hold(
    tree: object, flow: bool, line_break: str
) -> None:
    text = yaml.safe_dump(
        {"document": "order", "format": 1, "tree": tree},
        default_flow_style=flow,
        allow_unicode=True,
        sort_keys=False,
        line_break=line_break,
    )
    document = read(text.encode(), "o.yaml")
    assert plain(document.root) == yaml.load(text, Loader=yaml.BaseLoader)
    places_hold(document, text)


def test_places_count_characters_not_bytes() -> None:
    text = f"{HEAD}größe: 🜁 x\n"
    assert scalar(text, "größe").place == Place("o.yaml", 3, 8)


def test_a_byte_order_mark_moves_no_place() -> None:
    for file, text in {"o.yaml": HEAD, "o.json": '{"document": "order", "format": 1}'}.items():
        assert read(b"\xef\xbb\xbf" + text.encode(), file) == read(text.encode(), file)


def test_importing_the_room_imports_neither_parser() -> None:
    code = "import sys, orderlint.reading; print({'yaml', 'json', 'unicodedata'} & {*sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_a_section_is_asked_by_key() -> None:
    root = read(f"{HEAD}pause: {{lower: 2 mmHg}}\n".encode(), "o.yaml").root
    pause = root.get("pause")
    assert isinstance(pause, Section)
    assert (pause.get("upper"), pause.place) == (None, Place("o.yaml", 3, 8))


def test_what_libyaml_says_without_a_place_is_still_a_refusal(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fails(*_: object, **__: object) -> Iterator[yaml.Event]:
        raise yaml.reader.ReaderError("o.yaml", 0, 1, "utf-8", "no reason")
        yield

    monkeypatch.setattr(yaml, "parse", fails)
    with pytest.raises(Refused, match="cannot be read as YAML") as caught:
        read(HEAD.encode(), "o.yaml")
    assert caught.value.place == "o.yaml"


@pytest.mark.parametrize("value", ["one", "{a: [b, {c: d}]}", "\n  - x: [1, 2]\n  - y\n", ""])
def test_a_skipped_key_is_left_out_and_what_follows_keeps_its_place(value):
    text = f"{HEAD}notes: {value}\nunit: {{notes: {{deep: [1]}}, bed: 4}}\n"
    whole, part = read(text.encode(), "o.yaml"), read(text.encode(), "o.yaml", skip={"notes"})
    assert [entry.key.text for entry in part.root.entries] == ["document", "format", "unit"]
    assert part.root.get("unit").get("bed") == whole.root.get("unit").get("bed")
    assert part.root.get("unit").get("notes") is None


def test_the_examples_of_the_rules_are_skipped_and_nothing_else_moves():
    whole, bare = source_documents.shipped_files(), source_documents.shipped_files(examples=False)
    for name, document in whole.families.items():
        for ours, theirs in zip(_rules(document), _rules(bare.families[name]), strict=True):
            kept = tuple(entry for entry in ours.entries if entry.key.text != "examples")
            assert theirs.entries == kept


def _rules(document):
    return document.root.get("rules").items


def without_libyaml(monkeypatch):
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    monkeypatch.delattr(yaml, "CBaseLoader")


SHIPPED = [
    *Path(source_documents.__file__).parents[1].glob("rules/*.yaml"),
    *CLEAN.parent.glob("*.yaml"),
]


@pytest.mark.slow
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_without_the_c_part_of_pyyaml_a_file_is_read_alike(path, monkeypatch):
    def found():
        try:
            return read(path.read_bytes(), path.name)
        except Refused as reason:
            return str(reason)

    with_libyaml = found()
    without_libyaml(monkeypatch)
    assert found() == with_libyaml


@pytest.mark.parametrize(
    "broken", ["a: [1", "a: 'b", "\ta: 1", "a: b: c", "a: |x\n b", "a: " + "[" * 99]
)
def test_without_the_c_part_of_pyyaml_what_is_no_yaml_is_refused(broken, monkeypatch):
    without_libyaml(monkeypatch)
    with pytest.raises(Refused):
        read(f"{HEAD}{broken}\n".encode(), "o.yaml")


@pytest.mark.slow
def test_without_the_c_part_of_pyyaml_an_order_is_verified(monkeypatch):
    without_libyaml(monkeypatch)
    source_documents.shipped_files.cache_clear()
    rules_folder.document.cache_clear()
    assert load._build("order") == load.load("order")
    assert run("verify", CLEAN, *AT).status == 0
