"""Writes what was read of a resource as an order. Each value as it was written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.convert.words import left_words
from orderlint.report.order.as_yaml import order_yaml
from orderlint.report.visible_text import safe

if TYPE_CHECKING:
    from orderlint.fhir.conversion import Conversion


def order_text(made: Conversion) -> str:
    """The order in YAML; comments at its head have what is in no setting of it."""
    head = [f"From {made.file}.", *map(left_words, made.left)]
    settings = {moved.path: moved.written for moved in made.moved}
    return order_yaml(settings, "".join(f"# {safe(line)}\n" for line in head))
