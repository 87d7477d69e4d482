"""Reads input files, policies and rulebooks for the verbs.

Never what the bytes of an order mean.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import orderlint
from orderlint.api.sources import Content, read_file, reason_of
from orderlint.finding import Refused, RuleFileRefused
from orderlint.reading import STDIN
from orderlint.reading.unicode_checks import LARGEST_FILE

if TYPE_CHECKING:
    from orderlint import SitePolicy
    from orderlint.api.policies import Purpose
    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.rulebook.rule import Rulebook


def shown_name(file: str) -> str:
    """The name of an input argument in messages."""
    return STDIN if file == "-" else file


def here() -> str:
    """The current folder; '' if it no longer exists."""
    try:
        return os.getcwd()  # noqa: PTH109 - a text, as names are given
    except OSError:
        return ""


def read_input(file: str, largest: int | None = None) -> bytes:
    """The bytes of a file or of standard input, at most one more than may be read at all.

    `largest` is the limit, that of an order if None.

    Raises Refused where it cannot be read.
    """
    most = LARGEST_FILE if largest is None else largest
    if file != "-":
        return read_file(file, most)
    if sys.stdin is None:
        raise Refused("Standard input is closed.", STDIN)
    try:
        return sys.stdin.buffer.read(most + 1)
    except (OSError, ValueError) as error:
        raise Refused(reason_of(error), STDIN) from None


def read_content(file: str) -> Content:
    """The content of a file or of standard input, under its name. Raises Refused."""
    return Content(shown_name(file), read_input(file))


def digest_of_whole(data: bytes | None) -> str | None:
    """The SHA-256 of a document; None where it was not read, or is too large to be read whole."""
    return None if data is None or len(data) > LARGEST_FILE else Content("", data).digest


def read_site_policy(file: str | None) -> SitePolicy | None:
    """The site policy in a file, None where there is no file. Raises Refused."""
    if file is None:
        return None
    return orderlint.load_policy(read_input(file), name=shown_name(file))


def read_codes(file: str | None) -> ConceptMap | None:
    """The concept map in a file, None where there is no file. Raises Refused."""
    if file is None:
        return None
    return orderlint.load_concept_map(read_input(file), name=shown_name(file))


def load_rulebook(purpose: Purpose, policy: SitePolicy | None) -> Rulebook:
    """The rulebook without examples, under a policy or the built-in one."""
    from orderlint.api import policies  # noqa: PLC0415 - cold start

    try:
        return policies.rulebook_for(purpose, policy)
    except RuleFileRefused:
        raise
    except Refused as reason:  # of our own rules, which is no refusal of a file of the user's
        raise RuntimeError("rules of our own do not load") from reason


def rulebook_with_examples(policy: str | None) -> Rulebook:
    """Every rule with its examples, under the policy in a file or the built-in one.

    Raises Refused where the policy does not read.
    """
    from orderlint.rulebook.load import load  # noqa: PLC0415 - cold start

    return load("all", None if policy is None else read_content(policy).read("site-policy"))
