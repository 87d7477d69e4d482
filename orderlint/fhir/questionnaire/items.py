"""Reads the items of a Questionnaire, with the settings that they are about.

Which items there are, and what each asks to be shown. Never an answer, never a condition's meaning.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.codes import CODES, ORDER, codes_by_name, setting_codes
from orderlint.fhir.concept_map import OURS
from orderlint.fhir.element import Element, as_written
from orderlint.fhir.questionnaire.elements import BLANK, MODIFIERS, STEP, unread
from orderlint.fhir.questionnaire.shown_texts import is_numbering
from orderlint.field import casefold_spaces, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Refused
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import within

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.finding import Place
    from orderlint.reading.node import KeyValue

GROUP, DISPLAY, BOOLEAN = "group", "display", "boolean"
_BEHAVIORS = frozenset({"all", "any"})


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """One item. `path` is the setting or the section that it is about; '' if it has no such code.

    `above` is the item in which it stands.
    """

    element: Element
    link_id: str
    type: str
    path: str
    above: Item | None

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


class Clause(NamedTuple):
    """What must hold for an item to be shown: one of these `enableWhen`."""

    terms: tuple[Element, ...]

    @property
    def place(self) -> Place:
        """Where it stands."""
        return self.terms[0].place


class Items(NamedTuple):
    """All items by linkId in document order, and what is not understood of them."""

    items: Mapping[str, Item]
    faults: tuple[Fault, ...]


def read_items(root: Element, codes: ConceptMap = OURS) -> Items:
    """Read the items of a Questionnaire, also by the codes of a site.

    Raises Refused where it cannot be told which item is meant, or what the standard forbids to pass
    over stands in it.
    """
    refuse_modifiers(root)
    items: dict[str, Item] = {}
    faults: list[Fault] = []
    _walk(root, None, _Found(codes, items, faults))
    if not items:
        raise Refused("The Questionnaire has no items, and so no settings.", root.place)
    return Items(items, tuple(faults))


def refuse_modifiers(element: Element) -> None:
    """Raise Refused where a modifier stands in an element."""
    for entry in element.node.entries:
        if entry.key.text in MODIFIERS:
            place = entry.key.place._replace(element=element.below(entry.key.text))
            said = f"{entry.key.text} may change what all else means, and is not understood."
            raise Refused(said, place)


def fault_of(item: Item, place: Place, reason: str, written: str = "") -> Fault:
    """What is not understood of an item; the setting that it may hold cannot be read."""
    table = field_table()
    if not item.path:
        name = f"item “{item.label}”" if item.label else f"item {item.link_id}"
        return form_fault(place, name, reason, written)
    spoils = table.sections[item.path] if item.section else (item.path,)
    return _fault(
        item.path, in_sentence(table.display_name(item.path)), place, reason, spoils, written
    )


def form_fault(place: Place, name: str, reason: str, written: str = "") -> Fault:
    """What is not understood of a form, where any setting may stand in it."""
    return _fault(place.element, name, place, reason, hideable_settings(), written)


def hideable_settings() -> tuple[str, ...]:
    """The settings that may stand in what is not understood.

    Not a drug's name: that would say that there is a drug.
    """
    additive = {*field_table().sections["irrigation.additive"]} - {"irrigation.additive"}
    return tuple(p for p in setting_codes() if p not in SIGNING_FIELDS and p not in additive)


def _fault(  # noqa: PLR0913, PLR0917 - the parts of a fault
    path: str, name: str, place: Place, reason: str, spoils: tuple[str, ...], written: str
) -> Fault:
    details = {"name": name, "reason": f"{reason}."}
    return Fault("set-entry-not-understood", path, written, place, details, spoils)


def unread_fault(item: Item, element: Element, entry: KeyValue) -> Fault:
    """An entry of an element of an item that is not understood."""
    key = entry.key.text
    place = entry.key.place._replace(element=element.below(key))
    reason = f"its {key} is not understood"
    return fault_of(item, place, reason, as_written(entry.value))


def unread_of_coding(item: Item, coding: Element) -> Iterator[Fault]:
    """What of a coding of an item is not understood."""
    return (unread_fault(item, coding, entry) for entry in unread(coding, "Coding", {}))


class _Found(NamedTuple):
    """What is read so far, by which codes."""

    codes: ConceptMap
    items: dict[str, Item]
    faults: list[Fault]


def _walk(element: Element, above: Item | None, found: _Found) -> None:
    # INVARIANT: nodes are nested to a depth that reading limits, and so is this recursion.
    for each in element.items("item"):
        item = _item(each, above, found)
        found.items[item.link_id] = item
        _walk(each, item, found)


def _item(element: Element, above: Item | None, found: _Found) -> Item:
    refuse_modifiers(element)
    link_id = element.scalar("linkId")
    if link_id is None or link_id.form != "text":
        raise Refused("An item has no linkId, by which others know it.", element.place)
    if link_id.text in found.items:
        also = found.items[link_id.text].element.scalar("linkId")
        message = "Two items have the same linkId, so that it cannot be told which is meant."
        raise Refused(message, link_id.place, also=also.place if also else None)
    item = Item(element, link_id.text, element.text("type"), "", above)
    path, reason = _path_of(item, found.codes)
    named = Item(element, item.link_id, item.type, path, above)
    if reason := reason or _misnamed(named):
        found.faults.append(fault_of(named, element.place, reason))
    for entry in unread(element, "item", dict.fromkeys((STEP, BLANK), "")):
        found.faults.append(unread_fault(named, element, entry))
    for coding in element.items("code"):
        found.faults.extend(unread_of_coding(named, coding))
    prefix = element.scalar("prefix")
    if prefix is not None and not is_numbering(prefix.text):
        said = "its prefix is read before its text, and is more than a numbering"
        found.faults.append(fault_of(named, prefix.place, said, prefix.text))
    return named


def _path_of(item: Item, names: ConceptMap) -> tuple[str, str]:
    """The setting or section of an item by its code, or why it has none that is understood."""
    table = field_table()
    written = [(each.text("system"), each.text("code")) for each in item.element.items("code")]
    ours = [code for system, code in written if system == CODES]
    of_site = [names.code_of(*each) for each in written if each[0] != CODES]
    codes = [*ours, *(code for code in dict.fromkeys(of_site) if code and code not in ours)]
    if not codes or (codes == [ORDER] and item.type == GROUP):
        return "", ""
    if len(codes) > 1:
        return "", "it has the codes of several settings"
    known = table.section_names if item.type == GROUP else setting_codes()
    if codes[0] in known:
        return codes[0], ""
    kind = "group of settings" if item.type == GROUP else "setting"
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


def own_clauses(item: Item, faults: list[Fault]) -> list[Clause]:
    """What an item itself asks to be shown."""
    terms = item.element.items("enableWhen")
    for term in terms:
        refuse_modifiers(term)
        faults += [unread_fault(item, term, entry) for entry in unread(term, "enableWhen", {})]
        coding = term.section("answerCoding")
        faults += unread_of_coding(item, coding) if coding else ()
    behavior = item.element.text("enableBehavior")
    if len(terms) > 1 and behavior not in _BEHAVIORS:
        said = "whether all or any of its conditions must hold is not said"
        faults.append(fault_of(item, terms[0].place, said, behavior))
    if behavior == "any":
        return [Clause(terms)] if terms else []
    return [Clause((term,)) for term in terms]


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
