"""The texts from which fuzzing begins: made of the examples each time, and some that they lack."""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import TYPE_CHECKING

import core_yaml

from orderlint.api.conversion import to_fhir
from orderlint.api.sources import Content
from orderlint.api.verbs import review
from orderlint.cli.certificates import certificate_of
from orderlint.order import INSTRUCTING_TEXTS
from orderlint.readback.dialogue import Entered, Question
from orderlint.readback.saved_answers import Saved, saved_text
from orderlint.report.draft import draft_text
from orderlint.sentences.draft import drafted

if TYPE_CHECKING:
    from collections.abc import Iterator

TESTS = Path(__file__).parents[1]
EXAMPLES = TESTS.parent / "examples"
RULES = TESTS.parent / "orderlint" / "rules"
CORPUS = Path(__file__).parent / "corpus"
DIGEST = "0" * 64
"""Stands for the digest of the order of a kept read-back."""
SET = EXAMPLES / "set-irrigation-adult.yaml"


def documents(kind: str) -> list[bytes]:
    """The examples of one kind of document in YAML, and the seeds of corpus/."""
    return [path.read_bytes() for path in _examples(kind)] + committed(kind)


def _examples(kind: str) -> list[Path]:
    first = f"document: {kind}\n"
    return [path for path in sorted(EXAMPLES.glob("*.yaml")) if first in path.read_text("utf-8")]


def committed(name: str) -> list[bytes]:
    """The seeds of this folder for one target or kind of document."""
    return [path.read_bytes() for path in sorted(CORPUS.glob(f"{name}.*"))]


def orders_in_json() -> list[bytes]:
    """The examples of orders as JSON."""
    made = (json.dumps(core_yaml.load_file(path)) for path in _examples("order"))
    return [
        *(text.encode() for text in made),
        *(path.read_bytes() for path in sorted(EXAMPLES.glob("*.json"))),
    ]


def resources() -> list[bytes]:
    """Examples as resources of FHIR: orders, and a set."""
    small = (EXAMPLES / "minimal.yaml", EXAMPLES / "fluid-and-additive.json", SET)
    made = (to_fhir(Content(path.name, path.read_bytes())).text for path in small)
    return [text.encode() for text in made]


def reports() -> list[bytes]:
    """Reports on order sets, as baselines are."""
    made = (
        review(path).render("json") for path in (SET, EXAMPLES / "set-blanks-and-mixed-units.yaml")
    )
    return [_of_few(text).encode() for text in made]


def _of_few(report: str) -> str:
    """A report with few of its findings and of what is not checked: small seeds change faster."""
    given = json.loads(report)
    for document in given["documents"]:
        for key, value in document.items():
            document[key] = value[:3] if isinstance(value, list) else value
    return json.dumps(given)


FEW_RULES = ("pause-limits-reversed", "treat-above-over-upper-pause")
"""The rules of the certificate that is changed: a small seed changes faster."""


@functools.cache
def certificate() -> dict[str, object]:
    """The certificate of an example, of FEW_RULES."""
    made = json.loads(certificate_of(review(SET), None))
    made["rules"] = {rule: made["rules"][rule] for rule in FEW_RULES}
    return made


def kept() -> list[bytes]:
    """Read-backs that were stopped after none and after some entries."""
    at = "2026-03-02T14:30:00-06:00"
    some = Entered(at, {"therapy": "irrigation"}, {}, {Question("therapy", again=False): at})
    of_each = (Saved("order.yaml", DIGEST, each) for each in (Entered(at, {}, {}), some))
    return [saved_text(saved).encode() for saved in of_each] + committed("kept")


def conditions() -> list[bytes]:
    """The conditions and figures of the built-in rules."""
    return [text.encode() for text in dict.fromkeys(_conditions())]


def _conditions() -> Iterator[str]:
    for path in sorted(RULES.glob("*.yaml")):
        for record in core_yaml.load_file(path).get("rules", ()):
            values = (record.get("when"), record.get("require"))
            yield from (value for value in values if isinstance(value, str))
            yield from (record.get("figures") or {}).values()


def free_texts() -> list[bytes]:
    """What stands in the free texts of the examples."""
    found = set()
    for example in _examples("order"):
        order = core_yaml.load_file(example)
        for path in INSTRUCTING_TEXTS:
            section, _, key = path.rpartition(".")
            within = order.get(section) if section else order
            if isinstance(within, dict) and isinstance(within.get(key), str):
                found.add(within[key].encode())
    return sorted(found)


def notes() -> list[bytes]:
    """The example of a note, and what stands in the free texts of the examples."""
    return [(EXAMPLES / "note.txt").read_bytes(), *free_texts()]


def drafts() -> list[bytes]:
    """What is drafted of the example of a note."""
    return [draft_text(drafted(notes()[0], "note.txt", "0")).encode()]


def tables() -> list[bytes]:
    """A row an order, and a row a setting."""
    return [
        b"id,therapy,treat_above,irrigation.rate\nx,irrigation,8 mmHg,60 mL/h\ny,drainage,,\n",
        b'order;field;value;unit\n1;treat_above;8;mmHg\n1;instructions;"a; b";\n2;id;x;\n',
    ]
