"""Files made to break a reader, each with the refusal that is due.

`attacks()` gives, by name: the bytes, the file name, the whole message, and line and column
(None where the message is about the file as a whole).
"""

from __future__ import annotations

import functools

Attack = tuple[bytes, str, str, int | None, int | None]

YAML = "attack.yaml"
JSON = "attack.json"
YAML_HEAD = b"document: order\nformat: 1\n"
JSON_HEAD = b'{"document": "order", "format": 1,\n'

TOO_DEEP = "More than 32 sections and lists stand inside one another."
TOO_LARGE = "The file is larger than 1 MiB, the most that is read."
TOO_MANY = "The file has more than 20,000 keys and values."
TOO_LONG = "More than 20,000 characters stand in one key or value."
LONG_DIGITS = "More than 40 digits stand in a row here."
TWICE = "The same key stands twice in one section."
LONE_RETURN = "The text holds U+000D CARRIAGE RETURN without a line feed after it. Take it out."


@functools.cache
def attacks() -> dict[str, Attack]:
    """All of them. Every one is refused; none may cost more than a moment."""
    return _structure() | _depth_and_size() | _numbers() | _characters() | _escapes()


def hidden(named: str) -> str:
    """The message for a character, given its number and name."""
    return f"The text holds {named}, which does not show as what it is. Take it out."


def _yaml(body: str | bytes, message: str, line: int, column: int) -> Attack:
    """An attack on the lines after a proper head; `line` counts from the head's end."""
    body = body.encode() if isinstance(body, str) else body
    return YAML_HEAD + body, YAML, message, line + 2, column


def _json(body: str | bytes, message: str, line: int, column: int) -> Attack:
    body = body.encode() if isinstance(body, str) else body
    return JSON_HEAD + body + b"}", JSON, message, line + 1, column


def _whole(data: bytes, file: str, message: str) -> Attack:
    return data, file, message, None, None


def _structure() -> dict[str, Attack]:
    bomb = "a: &a [x, x]\n" + "".join(
        f"{after}: &{after} [{', '.join(['*' + name] * 9)}]\n"
        for name, after in zip("abcdefgh", "bcdefghi", strict=True)
    )
    anchor = "Anchors (&) are not read. Write the value without one."
    alias = "Aliases (*) are not read. Write the value out."
    tag = "Tags (!) are not read. Write the value without one."
    key = "A key must be a word, not "
    return {
        "alias bomb": _yaml(bomb, anchor, 1, 4),
        "anchor": _yaml("rate: &rate 60 mL/h\n", anchor, 1, 7),
        "anchor on a key": _yaml("&rate rate: 60 mL/h\n", anchor, 1, 1),
        "alias": _yaml("rate: *rate\n", alias, 1, 7),
        "alias as a key": _yaml("*rate : 60 mL/h\n", alias, 1, 1),
        "tag": _yaml("rate: !!python/object/apply:os.system [x]\n", tag, 1, 7),
        "plain tag": _yaml("rate: ! 60\n", tag, 1, 7),
        "tag directive": (
            b"%TAG ! tag:example.org,2000:\n---\n" + YAML_HEAD,
            YAML,
            "%TAG directives are not read.",
            1,
            1,
        ),
        "older YAML": (
            b"%YAML 1.1\n---\n" + YAML_HEAD,
            YAML,
            "The file says that it is another YAML than 1.2, the only one that is read.",
            1,
            1,
        ),
        "merge key": _yaml(
            "pause:\n  <<: {lower: 2 mmHg}\n",
            "Merge keys (<<) are not read. Write the values out.",
            2,
            3,
        ),
        "two documents": _yaml(
            "---\ndocument: order\n", "A second document begins here; a file holds one.", 1, 1
        ),
        "duplicate key": _yaml("rate: 6 mL/h\nrate: 60 mL/h\n", TWICE, 2, 1),
        "duplicate key in quotes": _yaml('rate: 6 mL/h\n"r\\x61te": 60 mL/h\n', TWICE, 2, 1),
        "duplicate key in JSON": _json('"rate": 6,\n "r\\u0061te": 60', TWICE, 2, 2),
        "list as a key": _yaml("? [a]\n: 1\n", key + "a list or a section.", 1, 3),
        "section as a key": _yaml("? {a: 1}\n: 1\n", key + "a list or a section.", 1, 3),
        "null as a key": _yaml("~: 1\n", key + "empty or null.", 1, 1),
        "number as a key": _yaml("22: 1\n", key + "a number.", 1, 1),
        "truth as a key": _yaml("true: 1\n", key + "true or false.", 1, 1),
        "empty file": _whole(b"", YAML, "The file is empty."),
        "blank file": _whole(b" \n\n", JSON, "The file is empty."),
        "only comments": _whole(b"# rate: 60 mL/h\n", YAML, "The file has nothing in it."),
        "list as the whole": (
            b"- document: order\n",
            YAML,
            "The file is a list. It must be names with values, such as `document: order`.",
            1,
            1,
        ),
        "unclosed list": _yaml(
            "rate: [1, 2\n",
            "This cannot be read as YAML at the end of the file "
            "(while parsing a flow sequence, did not find expected ',' or ']').",
            2,
            1,
        ),
        "unclosed text in JSON": _json(
            '"rate": "60', 'This cannot be read as JSON at “"” (Unterminated string).', 1, 9
        ),
    }


def _depth_and_size() -> dict[str, Attack]:
    deep = "".join(" " * level + "a:\n" for level in range(1400))
    many = "".join(f"a{number}: 1\n" for number in range(15_000))
    return {
        "100,000 brackets": _yaml("a: " + "[" * 100_000, TOO_DEEP, 1, 35),
        "100,000 brackets, one a line": _yaml("a:\n" + " [\n" * 100_000, TOO_DEEP, 33, 2),
        "100,000 braces": _yaml("a: " + "{" * 100_000, TOO_DEEP, 1, 35),
        "100,000 brackets in JSON": _json('"a": ' + "[" * 100_000, TOO_DEEP, 1, 37),
        "100,000 sections in JSON": _json('"a": ' + '{"a":' * 100_000, TOO_DEEP, 1, 161),
        "100,000 deep block list": _yaml("a:\n" + "- " * 100_000, TOO_DEEP, 2, 63),
        "100,000 deep block mapping": _yaml(
            "? " * 100_000, "A key must be a word, not a list or a section.", 1, 3
        ),
        "block mapping as deep as fits": _yaml(deep, TOO_DEEP, 33, 33),
        "100,000 closing brackets in JSON": _json(
            '"a": ' + "]" * 100_000, "This cannot be read as JSON at “]” (Expecting value).", 1, 6
        ),
        "33 lists in JSON": _json('"a": ' + "[" * 32 + "]" * 32, TOO_DEEP, 1, 37),
        "10 MB scalar": _whole(YAML_HEAD + b"a: " + b"x" * 10_000_000, YAML, TOO_LARGE),
        "10 MB scalar in JSON": _whole(
            JSON_HEAD + b'"a": "' + b"x" * 10_000_000 + b'"}', JSON, TOO_LARGE
        ),
        "20,001 characters": _yaml(f"a: {'x ' * 10_000}x", TOO_LONG, 1, 4),
        "20,001 characters of a JSON key": _json(f'"{"x" * 20_001}": 1', TOO_LONG, 1, 1),
        "20,001 characters in JSON": _json(f'"a": "{"x" * 20_001}"', TOO_LONG, 1, 6),
        "too many keys": _yaml(many, "A section has more than 200 keys.", 199, 1),
        "too many items in JSON": _json('"a": [' + "\n1," * 20_000 + "1]", TOO_MANY, 19_995, 1),
    }


def _numbers() -> dict[str, Attack]:
    digits = "1" * 5000
    return {
        "5,000 digits": _yaml(f"a: {digits}\n", LONG_DIGITS, 1, 4),
        "5,000 digits in a text": _yaml(f"a: '{digits} mL'\n", LONG_DIGITS, 1, 4),
        "5,000 decimals": _yaml(f"a: 0.{digits}\n", LONG_DIGITS, 1, 4),
        "5,000 digits in JSON": _json(f'"a": {digits}', LONG_DIGITS, 1, 6),
        "5,000 digits in a key": _json(f'"{digits}": 1', LONG_DIGITS, 1, 1),
        ".nan": _yaml("a: .nan\n", ".nan is not a number that an order can hold.", 1, 4),
        "-.Inf": _yaml("a: -.Inf\n", "-.Inf is not a number that an order can hold.", 1, 4),
        "NaN": _json('"a": NaN', "NaN is not a number that an order can hold.", 1, 6),
        "-Infinity": _json(
            '"a": -Infinity', "-Infinity is not a number that an order can hold.", 1, 6
        ),
    }


def _characters() -> dict[str, Attack]:
    """Raw in a value, a key and a comment of YAML, and in a text of JSON."""
    found: dict[str, Attack] = {}
    for named in (
        "U+0000 NULL",
        "U+001B ESCAPE",
        "U+007F DELETE",
        "U+0085 NEXT LINE",
        "U+00AD SOFT HYPHEN",
        "U+200B ZERO WIDTH SPACE",
        "U+200D ZERO WIDTH JOINER",
        "U+200F RIGHT-TO-LEFT MARK",
        "U+2028 LINE SEPARATOR",
        "U+2029 PARAGRAPH SEPARATOR",
        "U+202E RIGHT-TO-LEFT OVERRIDE",
        "U+2066 LEFT-TO-RIGHT ISOLATE",
        "U+3164 HANGUL FILLER",
        "U+FE0F VARIATION SELECTOR-16",
        "U+FEFF ZERO WIDTH NO-BREAK SPACE",
        "U+FFFE (a noncharacter)",
        "U+E0041 TAG LATIN CAPITAL LETTER A",
    ):
        character = chr(int(named.split()[0][2:], 16))
        found |= _raw(named, character, hidden(named))
    return found | _raw("lone carriage return", "\r", LONE_RETURN) | _not_utf8()


def _raw(name: str, character: str, message: str) -> dict[str, Attack]:
    return {
        f"{name} in a value": _yaml(f"rate: 6{character}0 mL/h\n", message, 1, 8),
        f"{name} in a key": _yaml(f"ra{character}te: 60 mL/h\n", message, 1, 3),
        f"{name} in a comment": _yaml(f"a: 1\n# {character}x\n", message, 2, 3),
        f"{name} in JSON": _json(f'"rate": "6{character}0"', message, 1, 11),
    }


def _not_utf8() -> dict[str, Attack]:
    def message(byte: int, value: str) -> str:
        return f"Byte {byte} of the file (0x{value}) is not UTF-8 text. Save the file as UTF-8."

    return {
        "Latin-1": _yaml(b"a: \xc3\xa9\xe9\n", message(32, "E9"), 1, 5),
        "overlong NUL": _yaml(b"a: \xc0\x80\n", message(30, "C0"), 1, 4),
        "surrogate in UTF-8": _yaml(b"a: \xed\xa0\x80\n", message(30, "ED"), 1, 4),
        "cut short": _yaml(b"a: \xe2\x80", message(30, "E2"), 1, 4),
        "UTF-16": ("document: order\n".encode("utf-16"), YAML, message(1, "FF"), 1, 1),
        "not UTF-8 in JSON": _json(b'"a": "\xff"', message(42, "FF"), 1, 7),
    }


def _escapes() -> dict[str, Attack]:
    """Written as an escape sequence: the file is clean, the value is not."""
    half = "U+D800 (half of a character)"
    escapes = {
        "U+0000 NULL": (r"\0", r"\u0000"),
        "U+001B ESCAPE": (r"\e", r"\u001b"),
        "U+0085 NEXT LINE": (r"\N", r"\u0085"),
        "U+2028 LINE SEPARATOR": (r"\L", r"\u2028"),
        "U+202E RIGHT-TO-LEFT OVERRIDE": (r"\u202e", r"\u202E"),
    }
    found: dict[str, Attack] = {}
    for named, (in_yaml, in_json) in escapes.items():
        found |= {
            f"{named} escaped in a value": _yaml(f'a: "6{in_yaml}0"\n', hidden(named), 1, 4),
            f"{named} escaped in a key": _yaml(f'"a{in_yaml}": 1\n', hidden(named), 1, 1),
            f"{named} escaped in JSON": _json(f'"a": "6{in_json}0"', hidden(named), 1, 6),
            f"{named} escaped in a JSON key": _json(f'"a{in_json}": 1', hidden(named), 1, 1),
        }
    return found | {
        "lone carriage return escaped": _yaml('a: "6\\r0"\n', LONE_RETURN, 1, 4),
        "lone surrogate in JSON": _json(r'"a": "\ud800"', hidden(half), 1, 6),
        "lone surrogate in a JSON key": _json(r'"\ud800": 1', hidden(half), 1, 1),
        "lone surrogate in YAML": _yaml(
            'a: "\\ud800"\n',
            "This cannot be read as YAML at “d” "
            "(while parsing a quoted scalar, found invalid Unicode character escape code).",
            1,
            7,
        ),
    }
