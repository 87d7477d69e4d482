"""Small Questionnaires drawn by hypothesis, and every order that filling one in can make.

How a form is filled in is written here a second time, from the words of the standard alone
(hl7.org/fhir/R4/questionnaire.html): what is disabled has no answer, nor has what stands in it.
"""

from __future__ import annotations

import itertools
from typing import Any

from hypothesis import strategies as st
from questionnaire_forms import CODES, when

Form = dict[str, Any]
WRITTEN = "written by hand"
OPTIONS = {
    "therapy": ("irrigation", "drainage"),
    "treat_above": ("8 mmHg", "10 mmHg"),
    "titration.max": ("80 mL/h", "90 mL/h"),
    "notify.net_in.within": ("1 h", "2 h"),
    "access": ("lumbar", "subdural"),
}
BLANKS = ("stop_when", "notify.call", "titration.goal")
TICK = "tick"


def coded(path: str) -> Form:
    return {"linkId": path, "code": [{"system": CODES, "code": path}]}


@st.composite
def questions(draw: st.DrawFn, path: str) -> Form:
    """A question of a setting: options, a blank, or a value that stands."""
    item = coded(path)
    if path in BLANKS:
        return {**item, "type": "string", "required": draw(st.booleans())}
    texts = draw(st.lists(st.sampled_from(OPTIONS[path]), min_size=1, unique=True))
    if draw(st.integers(0, 4)) == 0:
        initial = [{"valueString": texts[0]}]
        return {**item, "type": "string", "required": True, "readOnly": True, "initial": initial}
    listed = [{"valueString": text} for text in texts]
    required = draw(st.integers(0, 9)) > 0
    return {**item, "type": "choice", "required": required, "answerOption": listed}


@st.composite
def terms(draw: st.DrawFn, asked: list[Form]) -> Form:
    """What an item asks of one question."""
    item = draw(st.sampled_from(asked))
    listed = [*item.get("answerOption", []), *item.get("initial", [])]
    operator = draw(st.sampled_from(["exists", "=", "=", "!="]))
    if operator == "exists" or not listed:
        return when(item["linkId"], "exists", answerBoolean=draw(st.booleans()))
    return when(item["linkId"], operator, answerString=draw(st.sampled_from(listed))["valueString"])


@st.composite
def conditions(draw: st.DrawFn, asked: list[Form]) -> Form:
    """The elements by which an item is shown or hidden, often none."""
    if not asked or draw(st.booleans()):
        return {}
    found = draw(st.lists(terms(asked), min_size=1, max_size=3))
    behavior = {"enableBehavior": draw(st.sampled_from(["all", "any"]))} if found[1:] else {}
    return {"enableWhen": found, **behavior}


@st.composite
def forms(draw: st.DrawFn) -> Form:
    """A Questionnaire of a few questions, some in groups, some shown by answers or by a tick."""
    paths = [*OPTIONS, *BLANKS]
    picked = draw(st.lists(st.sampled_from(paths), min_size=2, max_size=5, unique=True))
    asked: list[Form] = []
    made: list[Form] = []
    ticks: list[Form] = []
    for path in picked:
        question = draw(questions(path))
        item = {**question, **draw(conditions(asked))}
        section = path.rpartition(".")[0]
        if section and draw(st.integers(0, 3)):
            group = {**coded(section), "type": "group", "item": [item]}
            group["linkId"] = f"of {path}"
            item = {**group, **draw(conditions(asked))}
            if not ticks and draw(st.booleans()):
                ticks.append({"linkId": TICK, "type": "boolean"})
                also = [*item.get("enableWhen", []), when(TICK, "=", answerBoolean=True)]
                all_of_them = {"enableBehavior": "all"} if also[1:] else {}
                item = {**item, "enableWhen": also, **all_of_them}
        if draw(st.integers(0, 3)) == 0:
            around = {"linkId": f"around {path}", "type": "group", "item": [item]}
            item = {**around, **draw(conditions(asked))}
        asked.append(question)
        made.append(item)
    draw(st.randoms()).shuffle(made)
    made = [*ticks, *made]
    if draw(st.integers(0, 3)) == 0:
        rest = {"linkId": "rest", "type": "group", "item": made[1:]}
        made = [made[0], {**rest, **draw(conditions([i for i in made[:1] if "code" in i]))}]
    return {"resourceType": "Questionnaire", "status": "active", "item": made}


def orders_of(form: Form) -> set[frozenset[tuple[str, str]]]:
    """Every order that the form can be filled in to: the texts of its settings, by path."""
    items: dict[str, tuple[Form, tuple[Form, ...]]] = {}
    _collect(form["item"], (), items)
    asked = [item for item, _ in items.values() if item["type"] not in {"group", "display"}]
    found = set()
    for picked in itertools.product(*map(_answers, asked)):
        answers = {item["linkId"]: answer for item, answer in zip(asked, picked, strict=True)}
        filled = _filled(items, answers)
        if filled is not None:
            found.add(filled)
    return found


def _collect(made: list[Form], above: tuple[Form, ...], items: Any) -> None:
    for item in made:
        items[item["linkId"]] = (item, above)
        _collect(item.get("item", []), (*above, item), items)


def _answers(item: Form) -> list[str | bool | None]:
    """All that can be answered; None for no answer at all."""
    if item["type"] == "boolean":
        return [True, False, None]
    if item.get("readOnly"):
        return [item["initial"][0]["valueString"]]
    listed = [option["valueString"] for option in item.get("answerOption", [])] or [WRITTEN]
    return [*listed, None]


def _filled(items: Any, answers: Any) -> frozenset[tuple[str, str]] | None:
    """The order of some answers; None where a question has none that needs one."""

    def is_enabled(link_id: str) -> bool:
        item, above = items[link_id]
        return all(_holds(each) for each in (item, *above))

    def _holds(item: Form) -> bool:
        results = [_is_met(term) for term in item.get("enableWhen", [])]
        if not results:
            return True
        return any(results) if item.get("enableBehavior") == "any" else all(results)

    def _is_met(term: Form) -> bool:
        asked = term["question"]
        answer = answers[asked] if is_enabled(asked) else None
        (wanted,) = (value for key, value in term.items() if key.startswith("answer"))
        if term["operator"] == "exists":
            return (answer is not None) is wanted
        return (answer == wanted) is (term["operator"] == "=")

    found = set()
    for link_id, answer in answers.items():
        item = items[link_id][0]
        if item["type"] == "boolean" or not is_enabled(link_id):
            continue
        if answer is None and item["required"]:
            return None
        if answer is not None:
            found.add((link_id, str(answer)))
    return frozenset(found)
