"""Parses text into nodes with line, column, raw text and notation flags. No meaning, no floats.

`read` reads a file, `quantity_text.split_quantity` one written quantity.
"""

from orderlint.reading.document import KINDS, MAPPING, STDIN, TEXT, Document, read

__all__ = ["KINDS", "MAPPING", "STDIN", "TEXT", "Document", "read"]
