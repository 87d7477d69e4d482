"""Parses text into nodes with line, column, raw text and notation flags. No meaning, no floats.

`read` reads a file, `quantity_text.split_quantity` one written quantity.
"""

from orderlint.reading.document import FHIR, KINDS, MAPPING, STDIN, TEXT, Document, kind_words, read

__all__ = ["FHIR", "KINDS", "MAPPING", "STDIN", "TEXT", "Document", "kind_words", "read"]
