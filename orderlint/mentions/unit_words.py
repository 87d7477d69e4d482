"""Finds where a text says in which unit all its levels are. Never the unit of one number."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

_UNIT = r"(?:mmHg|cm ?H2O)\b"
_SAID = (
    r"\b(?:(?:all|these|the) )?(?:levels|limits|pressures|values|settings|numbers)"
    rf"(?: (?:are|is|all|in|given|written|set|to|be|read)){{1,4}} (?P<unit>{_UNIT})"
)
_OF_SOMETHING_ELSE = r"\b(?:drain|pole|scale|height|blood|arterial|venous|perfusion|map|cpp|cuff)\b"
_OTHER = {"mmhg": "cmH2O", "cmh2o": "mmHg"}


def units_said(text: str) -> Iterator[tuple[int, int, tuple[int, int], str]]:
    """The offsets of such words, those of their sentence, and the unit that they rule out."""
    folded = text.casefold()
    if "mmhg" not in folded and "h2o" not in folded:  # few texts have either
        return
    said = re.compile(_SAID, re.IGNORECASE)
    for sentence in re.finditer(r"[^.;,!?\n]+", text):
        if re.search(_OF_SOMETHING_ELSE, sentence[0], re.IGNORECASE):
            continue
        for found in said.finditer(text, *sentence.span()):
            other = _OTHER[found["unit"].casefold().replace(" ", "")]
            yield found.start(), found.end(), sentence.span(), other
