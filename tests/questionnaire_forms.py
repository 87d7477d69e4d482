"""Order sets as Questionnaires, the short way."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from order_sets import EXAMPLES, HEAD

from orderlint.fhir.questionnaire.reading import refusals, set_document
from orderlint.fhir.questionnaire.writing import questionnaire_text
from orderlint.order_set.as_yaml import order_set_yaml
from orderlint.order_set.read import read_order_set
from orderlint.reading import FHIR, read
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from orderlint.order_set.model import OrderSet
    from orderlint.reading.node import Section

CODES = "https://orderlint.example/fhir/order-settings"
FILE = "form.json"
SETS = sorted(path.name for path in EXAMPLES.glob("set-*.yaml"))


def written(entries: str) -> dict[str, Any]:
    """The Questionnaire of a set with some lines under `order:`."""
    return written_set(HEAD + "".join(f"  {line}\n" for line in entries.splitlines()))


def written_set(text: str | bytes, file: str = "set.yaml") -> dict[str, Any]:
    """The Questionnaire of a whole set's text."""
    data = text.encode() if isinstance(text, str) else text
    made: dict[str, Any] = json.loads(questionnaire_text(read(data, file, "order-set")))
    return made


def root_of(form: dict[str, Any] | str) -> Section:
    text = form if isinstance(form, str) else json.dumps(form, indent=1, ensure_ascii=False)
    document = read(text.encode(), FILE, FHIR)
    return document.root


def set_of(form: dict[str, Any] | str) -> OrderSet:
    """The order set that a Questionnaire is."""
    return read_order_set(set_document(root_of(form), FILE), load("order-set").derived)


def yaml_of(form: dict[str, Any] | str) -> str:
    """The YAML of the set that a Questionnaire is. Raises Refused where it has no place in one."""
    document = set_document(root_of(form), FILE)
    for refusal in refusals(document):
        raise refusal
    return order_set_yaml(document.root)


def items(form: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Every item by its linkId."""
    found: dict[str, dict[str, Any]] = {}
    for item in form.get("item", ()):
        found |= {item["linkId"]: item, **items(item)}
    return found


def question(path: str, type_: str = "choice", **more: Any) -> dict[str, Any]:
    """A question of one setting."""
    code = {"system": CODES, "code": path}
    return {"linkId": path, "code": [code], "type": type_, "required": True, **more}


def choice(path: str, *texts: str, **more: Any) -> dict[str, Any]:
    """A question with some options."""
    return question(path, answerOption=[{"valueCoding": {"display": t}} for t in texts], **more)


def form_of(*made: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A Questionnaire of some items."""
    return {"resourceType": "Questionnaire", "status": "active", "item": [*made], **more}


def when(question_: str, operator: str, **answer: Any) -> dict[str, Any]:
    return {"question": question_, "operator": operator, **answer}
