"""Reads the items of a Questionnaire, with the settings that they are about.

Which items there are, and what each asks to be shown. Never an answer, never a condition's meaning.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.fhir.codes import CODES, ORDER, codes_by_name, setting_codes
from orderlint.fhir.concept_map import OURS, ConceptMap
from orderlint.fhir.element import MODIFIERS, Element, as_written
from orderlint.fhir.questionnaire.elements import unread
from orderlint.fhir.questionnaire.shown_texts import is_numbering
from orderlint.field import casefold_spaces, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Place, Refused
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import within

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading.node import KeyValue

GROUP, DISPLAY, BOOLEAN = "group", "display", "boolean"
NOT_UNDERSTOOD = "set-entry-not-understood"
_BEHAVIORS = frozenset({"all", "any"})
Clause: TypeAlias = tuple[Element, ...]
"""Terms (`enableWhen`) of which one must hold for an item to be shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """One item. `path` is the setting or the section that it is about; '' if it has no such code.

    `above` is the item in which it stands, `faults` what is not understood of the form.
    """

    element: Element
    link_id: str
    type: str
    path: str
    above: Item | None
    faults: list[Fault]

    @property
    def section(self) -> str:
        """The section of which this is the group; '' of any other item."""
        return self.path if self.type == GROUP else ""

    @property
    def label(self) -> str:
        """The item's own text."""
        return self.element.text("text").strip()

    def groups_above(self) -> Iterator[Item]:
        """The items in which it stands, the nearest first."""
        above = self.above
        while above is not None:
            yield above
            above = above.above

    def note(self, reason: str, place: Place | None = None, written: str = "") -> None:
        """Note what is not understood of it: the setting that it may hold cannot be read."""
        self.faults.append(_fault_of(self, place or self.element.place, reason, written))

    def note_unread_entry(self, element: Element, entry: KeyValue) -> None:
        """Note that an entry of an element of it is not understood."""
        reason = f"its {entry.key.text} is not understood"
        self.note(reason, element.place_of(entry), as_written(entry.value))

    def note_unread(self, element: Element, kind: str) -> None:
        """Note what is not read of it, or of an element of it, and may change what is signed."""
        for entry in unread(element, kind):
            self.note_unread_entry(element, entry)


class QuestionnaireItems(NamedTuple):
    """All items by linkId in document order, by which codes, and what is not understood of them."""

    items: dict[str, Item]
    codes: ConceptMap
    faults: list[Fault]


class UnclearError(Exception):
    """Why an item is not understood, and where that is seen; None if in the item as a whole."""

    def __init__(self, reason: str, place: Place | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.place = place


def read_items(root: Element, codes: ConceptMap = OURS) -> QuestionnaireItems:
    """Read the items of a Questionnaire, also by the codes of a site.

    Raises Refused where it cannot be told which item is meant, or what the standard forbids to pass
    over stands in it.
    """
    refuse_modifiers(root)
    found = QuestionnaireItems({}, codes, [])
    _walk(root, None, found)
    if not found.items:
        raise Refused("The Questionnaire has no items, and so no settings.", root.place)
    return found


def refuse_modifiers(element: Element) -> None:
    """Raise Refused where a modifier stands in an element."""
    for entry in element.node.entries:
        if entry.key.text in MODIFIERS:
            said = f"{entry.key.text} may change what all else means, and is not understood."
            raise Refused(said, element.place_of(entry))


def _fault_of(item: Item, place: Place, reason: str, written: str) -> Fault:
    table = field_table()
    if not item.path:
        name = f"item “{item.label}”" if item.label else f"item {item.link_id}"
        return form_fault(place, reason, written, name)
    spoils = table.sections[item.path] if item.section else (item.path,)
    details = {"name": in_sentence(table.display_name(item.path)), "reason": f"{reason}."}
    return Fault(NOT_UNDERSTOOD, item.path, written, place, details, spoils)


def form_fault(
    place: Place, reason: str, written: str = "", name: str = "form as a whole"
) -> Fault:
    """What is not understood of a form, where any setting may stand in it.

    But a drug's name, which would say that there is a drug.
    """
    additive = {*field_table().sections["irrigation.additive"]} - {"irrigation.additive"}
    hidden = tuple(p for p in setting_codes() if p not in SIGNING_FIELDS and p not in additive)
    details = {"name": name, "reason": f"{reason}."}
    return Fault(NOT_UNDERSTOOD, place.element, written, place, details, hidden)


def _walk(element: Element, above: Item | None, found: QuestionnaireItems) -> None:
    # INVARIANT: nodes are nested to a depth that reading limits, and so is this recursion.
    for each in element.items("item"):
        item = _item(each, above, found)
        found.items[item.link_id] = item
        _walk(each, item, found)


def _item(element: Element, above: Item | None, found: QuestionnaireItems) -> Item:
    refuse_modifiers(element)
    link_id = element.scalar("linkId")
    if link_id is None or link_id.form != "text":
        raise Refused("An item has no linkId, by which others know it.", element.place)
    if link_id.text in found.items:
        also = found.items[link_id.text].element.scalar("linkId")
        message = "Two items have the same linkId, so that it cannot be told which is meant."
        raise Refused(message, link_id.place, also=also.place if also else None)
    path, reason = _path_of(element, found.codes)
    item = Item(element, link_id.text, element.text("type"), path, above, found.faults)
    if reason := reason or _misnamed(item):
        item.note(reason)
    item.note_unread(element, "item")
    for coding in element.items("code"):
        item.note_unread(coding, "Coding")
    prefix = element.scalar("prefix")
    if prefix is not None and not is_numbering(prefix.text):
        said = "its prefix is read before its text, and is more than a numbering"
        item.note(said, prefix.place, prefix.text)
    return item


def _path_of(element: Element, names: ConceptMap) -> tuple[str, str]:
    """The setting or section of an item by its code, or why it has none that is understood."""
    table, is_group = field_table(), element.text("type") == GROUP
    written = [(each.text("system"), each.text("code")) for each in element.items("code")]
    ours = [code for system, code in written if system == CODES]
    of_site = [names.code_of(*each) for each in written if each[0] != CODES]
    codes = [*ours, *(code for code in dict.fromkeys(of_site) if code and code not in ours)]
    if not codes or (codes == [ORDER] and is_group):
        return "", ""
    if len(codes) > 1:
        return "", "it has the codes of several settings"
    known = table.section_names if is_group else setting_codes()
    if codes[0] in known:
        return codes[0], ""
    kind = "group of settings" if is_group else "setting"
    return "", f"its code {codes[0] or 'is empty and'} is that of no {kind}"


def _misnamed(item: Item) -> str:
    """Why a question would be taken for that of another setting, by the name that it shows."""
    if not item.path or item.section:
        return ""
    shown = [each.text("display") for each in item.element.items("code")]
    for text in (item.label, *shown):
        other = codes_by_name().get(casefold_spaces(text)) if text else None
        if other not in {None, item.path}:
            return f"it has the code of this and the name of another setting, {text}"
    return ""


def own_clauses(item: Item) -> list[Clause]:
    """What an item itself asks to be shown."""
    terms = item.element.items("enableWhen")
    for term in terms:
        refuse_modifiers(term)
        item.note_unread(term, "enableWhen")
        coding = term.section("answerCoding")
        if coding:
            item.note_unread(coding, "Coding")
    behavior = item.element.text("enableBehavior")
    if len(terms) > 1 and behavior not in _BEHAVIORS:
        said = "whether all or any of its conditions must hold is not said"
        item.note(said, terms[0].place, behavior)
    if behavior == "any":
        return [terms] if terms else []
    return [(term,) for term in terms]


def clauses_over(item: Item, path: str, own: Mapping[str, list[Clause]]) -> list[Clause]:
    """What an item asks to be shown, with what the items above it ask.

    `path` is the setting or section that is to be shown: what its own section asks is left out, as
    a set says that once, at the section. `own` has the clauses of each item by linkId.
    """
    found = [*own[item.link_id]]
    for above in item.groups_above():
        if above.section and path != above.section and within(path, above.section):
            break
        found += own[above.link_id]
    return found
