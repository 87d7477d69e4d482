"""What becomes of a document in another form: which element went where, and what was left.

As the words of the report, its blocks, and the order itself. Never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import blocks as b
from orderlint.report.order.as_yaml import order_yaml
from orderlint.report.visible_text import safe
from orderlint.report.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.fhir.conversion import Conversion, ConvertedSetting
    from orderlint.finding import Finding, NotUnderstood

LEFT = "Not understood, and in no setting"
NONE_LEFT = "Nothing: all of it is in a setting, or changes none."
BESIDE = "is a free text beside the instructions"
"""Why a text is in no setting: an order has one such text."""


def blocks(made: Conversion) -> Iterator[b.Block]:
    """Each setting with its element, then what is in none, then why nothing was written."""
    yield b.paragraph(f"{made.file}: {counted(len(made.moved), 'setting')}.", "document")
    if made.moved:
        rows = b.Rows(tuple(map(_moved_words, made.moved)))
        yield b.ReportSection("Which element went where", (rows,))
    yield b.list_section(LEFT, map(left_words, made.left), without=NONE_LEFT)
    if made.refused:
        yield b.list_section("Nothing was written, because of this", made.refused)


def _moved_words(moved: ConvertedSetting) -> tuple[str, str]:
    """A setting as it is written, its line and column, and the elements it is from or went to."""
    place = f"{moved.place.line}:{moved.place.column}"
    return f"{moved.path}: “{moved.written}” ({place})", ", ".join(moved.elements)


def left_words(left: NotUnderstood) -> str:
    """An element that is in no setting, as it is written, and why."""
    return f"{left.element} “{left.written}” {left.why}."


def unsaid_words(unsaid: NotUnderstood) -> str:
    """An element that is not understood, why, and what of it an order would not say."""
    rest = "A setting may stand in it." if unsaid.may_hold_setting else "No setting says so."
    return f"{unsaid.place}: {left_words(unsaid)} {rest}"


def lost_words(finding: Finding) -> str:
    """What is found in a resource and would not be found in the order that is made of it."""
    return f"{finding.place.where}: {finding.says}"


def order_text(made: Conversion) -> str:
    """The order in YAML, each value as it was written; comments at its head have what is left."""
    head = [f"From {made.file}.", *map(left_words, made.left)]
    settings = {moved.path: moved.written for moved in made.moved}
    return order_yaml(settings, "".join(f"# {safe(line)}\n" for line in head))
