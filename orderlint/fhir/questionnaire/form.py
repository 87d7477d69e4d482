"""Joins the items of a Questionnaire: what each setting may hold, and when it is shown.

What is not understood is said. Never a node of an order set.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.fhir.bundle.hazards import faults_of_record
from orderlint.fhir.concept_map import OURS, ConceptMap
from orderlint.fhir.element import Element, as_written
from orderlint.fhir.questionnaire.answers import is_answered_true
from orderlint.fhir.questionnaire.elements import QUESTIONNAIRE, unread, unread_within
from orderlint.fhir.questionnaire.entries import SetEntry, read_entry
from orderlint.fhir.questionnaire.items import (
    BOOLEAN,
    DISPLAY,
    GROUP,
    UnclearError,
    clauses_over,
    form_fault,
    own_clauses,
    read_items,
)
from orderlint.fhir.questionnaire.shown_texts import may_say_of_settings
from orderlint.fields import field_table
from orderlint.finding import Fault, Refused
from orderlint.order_set.model import within

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.fhir.questionnaire.items import Clause, Item

_OF_QUESTION = frozenset({"initial", "answerOption", "answerValueSet"})


@dataclass(frozen=True, slots=True)
class Form:
    """What is read of a Questionnaire. `items`, `entries`, `own` are by linkId, the rest by path.

    `about` has the first item of each setting and section, and `gates` all that must hold for it to
    be shown; `offered` are the ticks of sections. `own` is what each item itself asks to be shown.
    """

    root: Element
    items: Mapping[str, Item]
    about: Mapping[str, Item]
    faults: list[Fault]
    own: dict[str, list[Clause]] = field(default_factory=dict)
    entries: dict[str, SetEntry] = field(default_factory=dict)
    gates: dict[str, list[Clause]] = field(default_factory=dict)
    offered: dict[str, Item] = field(default_factory=dict)

    def is_always(self, link_id: str) -> bool:
        """Whether a question has an answer on every order."""
        is_required = self.entries[link_id].is_required
        return is_required and not clauses_over(self.items[link_id], "", self.own)


def read_form(root: Element, codes: ConceptMap = OURS) -> Form:
    """Read a Questionnaire, also by the codes of a site. Raises Refused, as `read_items` does."""
    items, _, faults = read_items(root, codes)
    about: dict[str, Item] = {}
    for item in items.values():
        if item.path and item.type != DISPLAY:
            about.setdefault(item.path, item)
    if not about:
        raise Refused("The Questionnaire has no question with the code of a setting.", root.place)
    form = Form(root, items, about, faults)
    form.faults.extend(_unread_of_head(root))
    form.faults.extend(_brought_for_nothing(form))
    for each in faults_of_record(root):
        form.faults.append(form_fault(each.place, f"it {each.why}"))
    for item in items.values():
        form.own[item.link_id] = own_clauses(item)
    _read_gates(form, _read_entries(form))
    _check_places(form)
    return form


def _unread_of_head(root: Element) -> Iterator[Fault]:
    """What of the form as a whole is not understood."""
    found = [(root, entry) for entry in unread(root, QUESTIONNAIRE)]
    for key in ("meta", "text", "identifier", "useContext"):
        for part in root.sections(key):
            found += unread_within(part)
    for element, entry in found:
        said = f"its {entry.key.text} is not understood"
        yield form_fault(element.place_of(entry), said, as_written(entry.value))


def _brought_for_nothing(form: Form) -> Iterator[Fault]:
    """What the form brings along beside the options of its questions."""
    asked = {item.element.text("answerValueSet") for item in form.items.values()}
    for each in form.root.items("contained"):
        id_ = each.text("id")
        if not (id_ and f"#{id_}" in asked and each.resource_type == "ValueSet"):
            said = f"it brings along a {each.resource_type or 'resource'} of which no question asks"
            yield form_fault(each.place, said, as_written(each.node))


def _read_entries(form: Form) -> dict[str, Item]:
    """Read the entry of each setting; the ticks, which are shown for a section, and no settings."""
    contained = form.root.items("contained")
    clauses = (clause for own in form.own.values() for clause in own)
    asked = {term.text("question") for clause in clauses for term in clause}
    ticks: dict[str, Item] = {}
    for item in form.items.values():
        if item.type == DISPLAY:
            _check_display(item)
        elif item.path and form.about[item.path] is not item:
            item.note("it is there twice")
        elif item.type == GROUP:
            _check_plain(item, _OF_QUESTION)
        elif item.path:
            entry = read_entry(item, contained)
            if entry is not None:
                form.entries[item.link_id] = entry
        elif item.type == BOOLEAN and item.link_id in asked:
            ticks[item.link_id] = item
            _check_plain(item, (_OF_QUESTION | {"item"}) - {"initial"})
        else:
            item.note("it has no code of a setting, and a setting may stand in it")
    return ticks


def _check_display(item: Item) -> None:
    """Say what a text to be read has that is not understood: whoever signs has read it."""
    _check_plain(item, _OF_QUESTION)
    text = item.element.scalar("text")
    if item.path:
        item.note("it is a text to be read, which has no answer")
    elif text is not None and may_say_of_settings(text.text):
        said = "it is read beside the answers, names a setting or a number, and is not compared"
        item.note(said, text.place, text.text)


def _check_plain(item: Item, without: frozenset[str]) -> None:
    """Say what an item without a setting has that is not understood there."""
    for key in ("repeats", "readOnly"):
        try:
            if is_answered_true(item.element, key):
                item.note(f"{key} is not understood there")
        except UnclearError as error:
            item.note(error.reason, error.place)
    if item.type == GROUP and _asks_for_one(item.element):
        item.note("it asks for one answer at least, and no question in it does")
    for entry in item.element.node.entries:
        if entry.key.text in without:
            item.note_unread_entry(item.element, entry)
    initial = item.element.items("initial")
    for each in initial if item.type == BOOLEAN else ():
        truth = each.scalar("valueBoolean")
        if len(initial) > 1 or truth is None or truth.form != "truth":
            item.note("its initial value is not true or false", each.place)


def _asks_for_one(group: Element) -> bool:
    """Whether a group must have an answer, which may then be that to any of its questions."""
    required = [each.text("required") == "true" for each in group.items("item")]
    return group.text("required") == "true" and not any(required)


def _read_gates(form: Form, ticks: Mapping[str, Item]) -> None:
    """Read what each setting and section asks to be shown, and which are offered by a tick."""
    used: dict[str, str] = {}
    for path, item in form.about.items():
        clauses = clauses_over(item, path, form.own)
        of_ticks = [clause for clause in clauses if _asks_of(clause, ticks)]
        form.gates[path] = [clause for clause in clauses if not _asks_of(clause, ticks)]
        named = {clause[0].text("question") for clause in of_ticks}
        if not named:
            continue
        if item.section and len(named) == 1 and all(map(_is_tick, of_ticks)):
            link_id = named.pop()
            form.offered[path] = ticks[link_id]
            form.gates[path] += clauses_over(ticks[link_id], path, form.own)
            if used.setdefault(link_id, path) != path:
                item.note("its tick is that of another section as well")
        else:
            item.note("a tick offers one whole section, and is not understood otherwise")
    for link_id, item in ticks.items():
        if link_id not in used:
            item.note("it is the tick of no section")


def _asks_of(clause: Clause, ticks: Mapping[str, Item]) -> bool:
    return any(term.text("question") in ticks for term in clause)


def _is_tick(clause: Clause) -> bool:
    """Whether a clause asks that one tick is made, and nothing else."""
    term, truth = clause[0], clause[0].scalar("answerBoolean")
    made = truth is not None and (truth.form, truth.text) == ("truth", "true")
    return made and len(clause) == 1 and term.text("operator") == "="


def _check_places(form: Form) -> None:
    """Say which settings stand outside the group of their section, if that can be hidden."""
    sections = [path for path in form.about if path in field_table().section_names]
    hidden = [path for path in sections if form.gates[path] or path in form.offered]
    for path, item in form.about.items():
        around = {above.section for above in item.groups_above()}
        for section in hidden:
            if section != path and within(path, section) and section not in around:
                item.note("it stands outside its group, which may be hidden")
