"""Bytes of an input file, or why there are none.

Only opening and reading. Never what the bytes of an order mean.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from orderlint.finding import Refused
from orderlint.reading import STDIN

if TYPE_CHECKING:
    from orderlint.rulebook.load import Purpose
    from orderlint.rulebook.rule import Rulebook


def shown_name(file: str) -> str:
    """The name by which an input argument is spoken of."""
    return STDIN if file == "-" else file


def here() -> str:
    """The folder that names are given from; '' where it is there no more."""
    try:
        return os.getcwd()  # noqa: PTH109 - a text, as names are given
    except OSError:
        return ""


def read_input(file: str, largest: int | None = None) -> bytes:
    """The bytes of a file or of standard input, at most one more than may be read at all.

    `largest` is how many may be read where that is another number than of an order.

    Raises Refused where it cannot be read.
    """
    from orderlint.reading.unicode_checks import LARGEST_FILE  # noqa: PLC0415 - cold start

    most = 1 + (LARGEST_FILE if largest is None else largest)
    if file == "-" and sys.stdin is None:
        raise Refused("Standard input is closed.", STDIN)
    try:
        if file == "-":
            return sys.stdin.buffer.read(most)
        with open(file, "rb") as stream:  # noqa: PTH123 - a name is opened just as it was given
            return stream.read(most)
    except (OSError, ValueError) as error:
        raise Refused(_reason(error), shown_name(file)) from None


def digest_of(data: bytes) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal digits."""
    import hashlib  # noqa: PLC0415 - cold start

    return hashlib.sha256(data).hexdigest()


def rulebook_under(
    policy: str | None,
    purpose: Purpose = "order",
) -> Rulebook:
    """The rulebook for a purpose, under a policy file or the built-in policy. Raises Refused."""
    if policy is not None:
        return policy_from(read_input(policy), policy, purpose)
    from orderlint.rulebook.load import load  # noqa: PLC0415 - cold start

    return load(purpose)


def policy_from(data: bytes, file: str, purpose: Purpose = "order") -> Rulebook:
    """The rulebook under the site policy in these bytes of a file. Raises Refused."""
    from orderlint.reading import read  # noqa: PLC0415 - cold start
    from orderlint.rulebook.load import load  # noqa: PLC0415 - cold start

    return load(purpose, read(data, shown_name(file), "site-policy"))


def _reason(error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError):
        return "There is no such file."
    if isinstance(error, IsADirectoryError):
        return "This is a directory, not a file."
    if isinstance(error, PermissionError):
        return "There is no permission to read this file."
    reason = error.strerror if isinstance(error, OSError) else None
    return f"The file cannot be read: {reason or 'it is not a file name'}."
