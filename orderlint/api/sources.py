"""Reads what a caller gives: its bytes under a name, then the document, the order or the set.

The one place that opens files, and that knows how a document becomes an order or a set, of its own
form or of FHIR by the codes of a site. Never a rule, and never judges a field.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.finding import Refused
from orderlint.reading import FHIR, MAPPING, TEXT, Document, kind_words, read
from orderlint.reading.unicode_checks import LARGEST_FILE

if TYPE_CHECKING:
    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.order import Order

Source: TypeAlias = str | bytes | os.PathLike[str] | Mapping[str, object]
"""Text or bytes are the content itself, a path is a file, a mapping is the document itself."""
Codes: TypeAlias = "ConceptMap | Source | None"
"""A concept map that was loaded, or the source of one; None for our own codes alone."""


class Content(NamedTuple):
    """The bytes of one document under the name that places carry.

    `json` says whether they are JSON; None where the name, or the first character, says so.
    """

    name: str
    data: bytes
    json: bool | None = None

    @property
    def digest(self) -> str:
        """The SHA-256 of the bytes, in hexadecimal digits."""
        import hashlib  # noqa: PLC0415 - only a page, a sheet or a certificate has it

        return hashlib.sha256(self.data).hexdigest()

    def read(self, expect: str | None = None) -> Document:
        """The document; `expect` is the one kind that is wanted. Raises Refused."""
        return read(self.data, self.name, expect, json=self.json)

    def read_one_of(self, *kinds: str) -> Document:
        """The document, of one of these kinds; the first is the one that is asked for."""
        document = read(self.data, self.name, json=self.json)
        return document if document.kind in kinds else self.read(kinds[0])


class DifferentKindsError(ValueError):
    """An order and an order set, which cannot be compared."""

    def __init__(self, first: Document, second: Document) -> None:
        super().__init__(
            f"{first.file} is {kind_words(first)} and {second.file} is {kind_words(second)}; only "
            "two of one kind can be compared."
        )


def content_of(source: Source, name: str | None = None) -> Content:
    """The content of a source, under `name` or what it is called by itself.

    Raises Refused where a file cannot be opened or a mapping holds what no document can, and
    TypeError for what is no source.
    """
    if isinstance(source, str):
        return Content(TEXT if name is None else name, source.encode("utf-8", "surrogatepass"))
    if isinstance(source, bytes):
        return Content(TEXT if name is None else name, source)
    if isinstance(source, Mapping):
        from orderlint.api.mappings import mapping_text  # noqa: PLC0415 - the command line has none

        name = MAPPING if name is None else name
        text = mapping_text(source, name)
        return Content(name, text.encode("utf-8", "surrogatepass"), json=True)
    if isinstance(source, os.PathLike):
        file = os.fspath(source)
        data = read_file(file, LARGEST_FILE)
        return Content(file if name is None else name, data, file.lower().endswith(".json"))
    raise TypeError(f"a source is str, bytes, a path or a mapping, not {type(source).__name__}")


def read_file(file: str, most: int) -> bytes:
    """The bytes of a file: at most one more than `most`, so that a larger one can be told.

    Raises Refused where it cannot be read.
    """
    try:
        with open(file, "rb") as stream:  # noqa: PTH123 - a name is opened just as it was given
            return stream.read(most + 1)
    except (OSError, ValueError) as error:
        raise Refused(reason_of(error), file) from None


def reason_of(error: OSError | ValueError) -> str:
    """Why a file cannot be read, as a sentence."""
    if isinstance(error, FileNotFoundError):
        return "There is no such file."
    if isinstance(error, IsADirectoryError):
        return "This is a directory, not a file."
    if isinstance(error, PermissionError):
        return "There is no permission to read this file."
    reason = error.strerror if isinstance(error, OSError) else None
    return f"The file cannot be read: {reason or 'it is not a file name'}."


def load_concept_map(source: Source, *, name: str | None = None) -> ConceptMap:
    """Read a ConceptMap of FHIR once: which codes of a site are which settings.

    `source` is as for orderlint.verify. Raises Refused, with line and column, at the first mistake
    in it.

    >>> system, order = "https://orderlint.example/fhir/order-settings", [{"code": "order",
    ...     "equivalence": "equal"}]
    >>> group = {"source": "https://site.example/codes", "target": system,
    ...     "element": [{"code": "EVD-1", "target": order}]}
    >>> load_concept_map({"resourceType": "ConceptMap", "group": [group]}).codes
    {('https://site.example/codes', 'EVD-1'): 'order'}
    """
    from orderlint.fhir.concept_map import read_concept_map  # noqa: PLC0415 - cold start

    return read_concept_map(content_of(source, name).read(FHIR))


def order_in(document: Document, codes: Codes = None) -> Order:
    """The order that a document is, or that a resource of FHIR holds. Raises Refused."""
    if document.kind != FHIR:
        from orderlint.order_reader import read_order  # noqa: PLC0415 - not every verb reads one

        return read_order(document)
    from orderlint.fhir.bundle.reading import only_one, order_of  # noqa: PLC0415 - few come in a Bundle

    return order_of(only_one(document, _loaded(codes)))


def set_in(content: Content, codes: Codes = None) -> Document:
    """The order set in a file, also one that is written as a Questionnaire. Raises Refused."""
    document = as_set(content.read(), codes)
    return document if document.kind == "order-set" else content.read("order-set")


def as_set(document: Document, codes: Codes = None) -> Document:
    """A Questionnaire as the order set that it is; any other document as it is. Raises Refused."""
    if document.kind != FHIR:
        return document
    from orderlint.fhir.concept_map import OURS  # noqa: PLC0415 - cold start
    from orderlint.fhir.questionnaire.reading import is_questionnaire, set_document  # noqa: PLC0415

    root = document.root
    if not is_questionnaire(root):
        return document
    return set_document(root, document.file, _loaded(codes) or OURS)


def _loaded(codes: Codes) -> ConceptMap | None:
    from orderlint.fhir.concept_map import ConceptMap  # noqa: PLC0415 - cold start

    return codes if codes is None or isinstance(codes, ConceptMap) else load_concept_map(codes)
