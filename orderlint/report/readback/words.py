"""The words of a read-back and of its check sheet, shared by its text and its JSON.

The sheet has what was entered, and blanks where a person must look. Never an ordered value in it,
and never a decision.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.quantity_words import display_quantity
from orderlint.readback.checklist import ADDITIVE
from orderlint.readback.dialogue import ENTRIES
from orderlint.readback.differences import Outcome, SettingComparison
from orderlint.readback.observed import seen_table
from orderlint.report.order.segment_words import difference_parts, list_missing
from orderlint.report.order.words import as_far_as_read, by_status
from orderlint.report.words import BLANK, LABELS, OF_READ_BACK, instant_words
from orderlint.templates import quote, quote_both_units

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.order import Leaf
    from orderlint.readback import ReadBack
    from orderlint.readback.result import EffectOnBehaviour


VOID = (
    "This check is void after any change of a setting, bag, line or drain height, after a "
    "handover, and after a transport: then check anew."
)


class SheetLine(NamedTuple):
    """One line of the sheet; `value` is empty where a person must look and write."""

    group: str
    label: str
    value: str = ""

    @property
    def words(self) -> str:
        """The line as it is read."""
        return f"{self.label}: {self.value or BLANK}"


IDENTIFIERS = (
    "First identifier, against the wristband",
    "Second identifier, against the wristband",
)
"""What tells whose order it is: on paper alone, by hand."""
# Labels by group, each with the name of the value that was entered or is known; "" for a blank.
_LINES = {
    "Patient and order": {
        **dict.fromkeys(IDENTIFIERS, ""),
        "Order": "id",
        "Revision": "revision",
        "SHA-256": "digest",
    },
    "Bag and line": {
        "Fluid, as entered": "irrigation.fluid",
        "Additive, as entered": ADDITIVE,
        "Expiry of bag and additive": "",
        "Line traced from bag to controller to ventricle": "",
        "Side": "",
        "Clamps": "",
    },
    "Controller": {
        "Waveform": "",
        "Alarm limits": "",
        "Alarms on, looked at again": "",
        "Alarms, as entered": "monitoring.alarms",
        "Totals cleared": "",
    },
    "Drain and patient": {
        "Drip chamber height, as entered": "drainage.height",
        "Landmark, as entered": "drainage.landmark",
        "Head-up angle": "",
        "Last levelled at": "",
        "Last zeroed at": "",
        "Outflow seen": "",
        "Neurological baseline": "",
    },
    "Check": {
        "Keyed in by": "keyed_by",
        "Checked by": "seen_by",
        "Settings seen at": "seen_at",
        "Compared at": "compared",
        "A difference was settled with": "",
        "At": "",
    },
}


def verdict_words(result: ReadBack) -> tuple[str, str]:
    """The verdict, and a sentence on what that means."""
    sentence = by_status(OF_READ_BACK[result.verdict], result.ordered, result.verdict)
    beside = as_far_as_read(result.verdict, result.ordered.not_checked)
    return f"{LABELS[result.verdict]}{beside}", sentence


def source_words(result: ReadBack) -> str:
    """Where the settings seen were read: the file, or that they were entered."""
    return "what was entered" if result.seen.file == ENTRIES else result.seen.file


def compared_words(result: ReadBack, at: int) -> str:
    """The instant of comparing, in milliseconds since 1970 UTC, on the clock of `seen_at`.

    So a nurse can compare the two times; if `seen_at` is unknown, the result is in UTC.
    """
    from datetime import UTC, datetime, timedelta  # noqa: PLC0415 - cold start

    seen_at = result.seen.leaves["seen_at"]
    clock = datetime.fromisoformat(seen_at.text).tzinfo if seen_at.known else None
    if clock is None or not clock.utcoffset(None):
        return instant_words(at)
    # INVARIANT: an order is checked in the years that it can name, so no calendar ends here.
    moment = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at)).astimezone(clock)
    return moment.isoformat(timespec="milliseconds" if at % 1000 else "seconds")


def seen_words(result: ReadBack) -> str:
    """Where the settings seen are from: who looked, when, and who keyed in."""
    leaves = result.seen.leaves
    keyed, by, when = (_or_not(leaves[key].text) for key in ("keyed_by", "seen_by", "seen_at"))
    return (
        f"Settings seen: {source_words(result)}. Keyed in by: {keyed}. Seen by: {by}, at: {when}."
    )


def _or_not(text: str) -> str:
    return quote(text) if text.strip() else "not given"


def row_words(row: SettingComparison) -> str:
    """One setting as ordered and as seen."""
    name = seen_table().display_name(row.path)
    # “None” is a word that can be entered of an additive; where nothing is written it is “nothing”.
    ordered = quote_both_units(row.ordered, row.seen) if row.ordered.given else "nothing"
    seen = quote_both_units(row.seen, row.ordered) if row.seen.given else "nothing"
    return f"{name}: ordered {ordered}, seen {seen}: {outcome_words(row)}"


def outcome_words(row: SettingComparison) -> str:
    """How one setting seen compares with the one ordered, with its step if it was rounded."""
    if row.outcome is Outcome.ROUNDED and row.step is not None:
        return f"the nearest step of {row.step.text}"
    if row.outcome is Outcome.OPEN:
        return "could not be compared, as one of them cannot be read"
    return "as ordered" if row.outcome is Outcome.EQUAL else row.outcome.value


def as_ordered_words(rows: Iterable[SettingComparison]) -> str:
    """All settings that are as ordered, with what was seen of each, on one line."""
    said = (f"{in_sentence(seen_table().display_name(r.path))} {quote(r.seen.text)}" for r in rows)
    return f"As ordered: {'; '.join(said)}."


def unseen_words(result: ReadBack) -> str:
    """Which settings nobody looked at, where a few were given by themselves."""
    unseen = [row for row in compared_rows(result) if row.outcome is Outcome.MISSING]
    names = ", ".join(in_sentence(seen_table().display_name(row.path)) for row in unseen)
    return f"Not looked at, so that this is no double check: {names}."


def compared_rows(result: ReadBack) -> list[SettingComparison]:
    """The rows in which something is ordered or seen."""
    return [row for row in result.rows if row.outcome is not Outcome.NEITHER]


def effect_words(effect: EffectOnBehaviour, result: ReadBack) -> Iterator[str]:
    """The effect of one setting as seen, a line for each interval of ICP."""
    name = seen_table().display_name(effect.path)
    leaves = result.ordered.order.leaves
    if effect.missing:
        yield f"{name}: this cannot be said, for lack of {list_missing(effect.missing, leaves)}."
    elif not effect.differences:
        row = next(row for row in result.rows if row.path == effect.path)
        yield f"{name}: {deviation_words(row)}."
    for stretch in effect.differences:
        where, ordered, seen = difference_parts(stretch, leaves["display_unit"].value)
        yield f"{name}: {where}, ordered is: {ordered}. As seen: {seen}."


def deviation_words(row: SettingComparison) -> str:
    """How far a setting seen is from the one ordered, where the table by ICP is the same."""
    ordered, seen = row.ordered, row.seen
    if not seen.known or not ordered.known:
        return "it is ordered and not seen" if ordered.given else "it is seen and not ordered"
    if seen.unit is None or not isinstance(ordered.value, int) or not isinstance(seen.value, int):
        return f"{quote(seen.text)} in place of {quote(ordered.text)}"
    apart = display_quantity(abs(seen.value - ordered.value), seen.unit)
    is_more = seen.value > ordered.value
    if seen_table().fields[row.path].dimension == "volume":
        return f"it holds {apart} {'more' if is_more else 'less'} than is ordered"
    what = "the pump" if row.path == "irrigation.rate" else "it"
    return f"{what} is set {apart} {'above' if is_more else 'below'} the order"


def twice_words(result: ReadBack) -> Iterator[str]:
    """What was first entered for each setting that was looked at twice."""
    for path, text in result.first.items():
        name = in_sentence(seen_table().display_name(path))
        first = quote(text) if text else "not asked"
        yield f"The {name} was looked at twice; at the first look: {first}."


def sheet_of(result: ReadBack, digest: str, at: int) -> tuple[SheetLine, ...]:
    """The sheet. `digest` is that of the order's bytes; `at` when the settings were compared."""
    seen, order = result.seen.leaves, result.ordered.order.leaves
    values = {path: _shown(leaf) for path, leaf in seen.items()}
    values |= {path: _shown(order[path]) for path in ("id", "revision")}
    values |= {ADDITIVE: _additive(seen), "digest": digest, "compared": compared_words(result, at)}
    return tuple(
        SheetLine(group, label, values.get(name, ""))
        for group, lines in _LINES.items()
        for label, name in lines.items()
    )


def _shown(leaf: Leaf) -> str:
    return quote(leaf.text) if leaf.given and leaf.text else ""


def _additive(seen: Mapping[str, Leaf]) -> str:
    parts = [leaf.text for path, leaf in seen.items() if path.startswith(ADDITIVE) and leaf.given]
    return quote(", ".join(parts)) if any(parts) else ""
