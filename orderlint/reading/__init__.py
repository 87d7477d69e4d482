"""Text → nodes with line, column, raw text and notation flags. No meaning, no floats.

`read` is the way in for files, `quantity_text.split_quantity` for one written quantity.
"""

from orderlint.reading.document import KINDS, MAPPING, STDIN, TEXT, Document, read

__all__ = ["KINDS", "MAPPING", "STDIN", "TEXT", "Document", "read"]
