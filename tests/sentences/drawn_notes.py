"""Notes as a prescriber would write them, drawn from a seed, each with what it plainly orders.

`python -m sentences.drawn_notes 100000` (from `tests/`) draws so many and counts what is read of
them. Written without a look at the patterns, so that both do not hold one mistake.
"""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from sentences.drawn_values import drawn_value
from sentences.hostile_meanings import MEANINGS
from sentences.hostile_numbers import NUMBERS
from sentences.hostile_words import AROUND
from sentences.plain_clauses import BULLETS, ENDS, PLAIN, SEPARATORS

from orderlint.sentences.text_reading import read_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

INSERTED = ("not", "if", "was", "or", "about")
HEADINGS = ("Orders:", "EVD orders:", "NCCU orders", "Today's orders:", "Plan:")

OF_A_SETTING = {**NUMBERS, **MEANINGS}
_GROUP = re.compile(r"\{([^{}]*)\}")
_SLOT = re.compile(r"<(\??)(pause|[a-z_]+(?:\.[a-z_]+)*)(?:=([^>]*))?>")

Values = dict[str, frozenset[str]]


class Clause(NamedTuple):
    """A clause, the values that it orders, those that a reader may give, and its wording."""

    text: str
    ordered: Values
    allowed: Values
    wording: str

    @property
    def paths(self) -> set[str]:
        return set(self.ordered) | set(self.allowed)


@dataclass(frozen=True)
class Note:
    """A text, what kind it is, and its truth: each value may be written in one of several ways."""

    text: str
    kind: str
    ordered: Mapping[str, frozenset[str]]
    allowed: Mapping[str, frozenset[str]]
    clauses: tuple[Clause, ...] = ()
    wording: str = ""


def notes(seed: int, count: int) -> Iterator[Note]:
    """So many notes: plain ones, hostile ones, and hostile words beside plain ones."""
    rng = random.Random(seed)
    for _ in range(count):
        yield rng.choices((_plain, _around, _of_a_setting, _beside), (50, 24, 15, 11))[0](rng)


def contradictions(seed: int, count: int) -> Iterator[Note]:
    """So many pairs of clauses that give a setting two values: neither is due."""
    rng = random.Random(seed)
    for _ in range(count):
        yield _said_twice(rng)


def plain_clauses(seed: int, count: int) -> Iterator[Clause]:
    """So many clauses that plainly order something."""
    rng = random.Random(seed)
    for _ in range(count):
        yield _clause(rng)


def with_a_word_put_in(clause: Clause) -> Iterator[str]:
    """The clause with each of the words put at each boundary of its own."""
    words = clause.text.split(" ")
    for word in INSERTED:
        for at in range(len(words) + 1):
            yield " ".join([*words[:at], word, *words[at:]])


def wrong_values(note: Note) -> list[tuple[str, str]]:
    """What was read of a note that it does not order: path and text of each."""
    truth = {**note.allowed, **note.ordered}
    return [
        (value.path, value.text)
        for value in read_text(note.text).values
        if folded(value.text) not in truth.get(value.path, ())
    ]


SPELT = (
    (r"(?:cc|mls?)(?:/|per)(?:h|hrs?|hours?)", "ml/h"),
    (r"cc|mls|millilit(?:re|er)s?", "ml"),
    (r"hrs?|hours?", "h"),
    (r"mins|minutes?", "min"),
    (r"secs?|seconds?", "s"),
    (r"lit|ltr|lit(?:re|er)s?", "l"),
    (r"kgs|kilograms?", "kg"),
    (r"gms?|grams?", "g"),
    (r"degs|degrees?|[°º]", "deg"),
    (r"cmh₂o", "cmh2o"),
    (r"mcgs?|[µμ]g|ug", "mcg"),
)
"""How a unit is spelt, and the unit: of two spellings of one a value is said once."""


def folded(text: str) -> str:
    """A value without what says no more of it: blanks, capitals, `every` before an interval."""
    text = re.sub(r"[\s-]+(?=\S)", lambda blank: "-" if blank.start() == 0 else "", text.lower())
    text = re.sub(r"^(?:every|each|q)|ly$", "", text)
    for spellings, unit in SPELT:
        text = re.sub(rf"(?<=\d)(?:{spellings})$", unit, text)
    return text


def _plain(rng: random.Random) -> Note:
    clauses = _clauses(rng, rng.randint(1, 6))
    return Note(_laid_out(rng, clauses), "plain", *_truth(clauses), tuple(clauses))


def _around(rng: random.Random) -> Note:
    kind = rng.choice(list(AROUND))
    wording = rng.choice(AROUND[kind])
    return Note(_hostile_text(rng, wording), kind, {}, {}, wording=wording)


def _of_a_setting(rng: random.Random) -> Note:
    kind = rng.choice(list(OF_A_SETTING))
    clause = _expanded(rng, rng.choice(OF_A_SETTING[kind]))
    text = rng.choice(BULLETS).format(n=1) + clause.text + rng.choice(ENDS)
    return Note(text, kind, {}, clause.allowed, wording=clause.wording)


def _beside(rng: random.Random) -> Note:
    """Plain clauses, then a hostile text: the values of the plain ones may be read, no other."""
    clauses = _clauses(rng, rng.randint(1, 3))
    hostile = rng.choice((_around, _of_a_setting))(rng)
    text = _laid_out(rng, clauses) + rng.choice(("\n", "\n\n")) + hostile.text
    both: Values = {}
    for part in (*_truth(clauses), hostile.allowed):
        for path, texts in part.items():
            both[path] = both.get(path, frozenset()) | texts
    return Note(text, hostile.kind, {}, both, wording=f"plain clauses, then {hostile.wording}")


def _said_twice(rng: random.Random) -> Note:
    """Two clauses that give one setting different values: neither is due."""
    while True:
        one, other = _clause(rng), _clause(rng)
        shared = set(one.ordered) & set(other.ordered)
        if shared and all(one.ordered[path].isdisjoint(other.ordered[path]) for path in shared):
            break
    _, allowed = _truth([one, other])
    merged = {**one.ordered, **other.ordered, **allowed}
    due = {path: texts for path, texts in merged.items() if path not in shared}
    return Note(_laid_out(rng, [one, other]), "said twice", {}, due)


def _hostile_text(rng: random.Random, around: str) -> str:
    one, other = _clauses(rng, 2)
    alone = around.startswith("CLAUSE") or "\n" in around
    first = one.text if alone else _in_a_sentence(one.text)
    text = around.replace("CLAUSE", first).replace("OTHER", other.text)
    return rng.choice(BULLETS).format(n=1) + text if "\n" not in around else text


def _in_a_sentence(text: str) -> str:
    return text[0].lower() + text[1:] if text[1:2].islower() else text


def _clauses(rng: random.Random, count: int) -> list[Clause]:
    """So many clauses or fewer, no two of them of one setting."""
    drawn: list[Clause] = []
    for _ in range(count):
        clause = _clause(rng)
        if not any(clause.paths & before.paths for before in drawn):
            drawn.append(clause)
    return drawn if len(drawn) == count or count != 2 else _clauses(rng, count)


def _laid_out(rng: random.Random, clauses: list[Clause]) -> str:
    separator, bullet = rng.choice(SEPARATORS), rng.choice(BULLETS)
    if "\n" in separator:
        end = rng.choice(ENDS)
        texts = [bullet.format(n=at) + one.text + end for at, one in enumerate(clauses, 1)]
        heading = rng.choice(HEADINGS) + separator if rng.random() < 0.1 else ""
        return heading + separator.join(texts)
    return separator.join(clause.text for clause in clauses) + rng.choice(("", "."))


def _truth(clauses: list[Clause]) -> tuple[Values, Values]:
    ordered: Values = {}
    allowed: Values = {}
    for clause in clauses:
        ordered.update(clause.ordered)
        allowed.update(clause.allowed)
    return ordered, allowed


def _clause(rng: random.Random) -> Clause:
    return _expanded(rng, rng.choice(PLAIN[rng.choice(list(PLAIN))]))


def _expanded(rng: random.Random, wording: str) -> Clause:
    """A clause of a wording, its values drawn."""
    text = wording
    while _GROUP.search(text):
        text = _GROUP.sub(lambda group: rng.choice(group[1].split("|")), text)
    ordered: Values = {}
    allowed: Values = {}

    def drawn(slot: re.Match[str]) -> str:
        if slot[2] == "pause":
            return _pause(rng, ordered, slot[3])
        value = slot[3] or drawn_value(rng, slot[2])
        (allowed if slot[1] else ordered)[slot[2]] = frozenset({folded(value)})
        return value

    text = _SLOT.sub(drawn, text)
    case = rng.choices((str, str.lower, str.upper), (88, 8, 4))[0]
    return Clause(case(text), ordered, allowed, wording)


def _pause(rng: random.Random, ordered: Values, between: str | None) -> str:
    """Both limits in one. The unit may stand at the upper alone."""
    lower, upper = rng.choice(("0", "2", "3")), rng.choice(("20", "22", "25"))
    unit = rng.choice(("mmHg", "mmHg", " mmHg", " mmHg", " mm Hg", ""))
    joined = between or rng.choice(("-", "–", " to ", " - "))
    ordered["pause.lower"] = frozenset({folded(lower), folded(lower + unit)})
    ordered["pause.upper"] = frozenset({folded(upper + unit)})
    return f"{lower}{joined}{upper}{unit}"


def main(count: int, seed: int = 17) -> None:
    """Draw so many notes; print each kind of wrong reading, and the share of plain clauses read."""
    wrong: Counter[tuple[str, str]] = Counter()
    shortest: dict[tuple[str, str], Note] = {}
    due: Counter[str] = Counter()
    read: Counter[str] = Counter()
    for note in notes(seed, count):
        if wrong_values(note):
            key = (note.kind, note.wording)
            wrong[key] += 1
            shortest[key] = min(shortest.get(key, note), note, key=lambda one: len(one.text))
        for clause in note.clauses:
            _count(clause, due, read)
        _count_in_note(note, due, read)
    for key, times in wrong.most_common():
        note = shortest[key]
        print(f"{times} wrong | {key[0]} | {key[1]!r} | {note.text!r} | {wrong_values(note)}")
    for name in sorted(due, key=lambda one: read[one] / due[one]):
        print(f"{read[name] / due[name]:.0%} of {due[name]} read | {name}")


def _count(clause: Clause, due: Counter[str], read: Counter[str]) -> None:
    """Count a clause that stands alone: by setting, by wording, and with all others."""
    if not clause.ordered:
        return
    found = {value.path for value in read_text(clause.text).values}
    names = ["clauses alone", f"wording {clause.wording}"]
    due.update(names + [f"setting {path}" for path in clause.ordered])
    read.update(names if found >= set(clause.ordered) else ())
    read.update(f"setting {path}" for path in clause.ordered if path in found)


def _count_in_note(note: Note, due: Counter[str], read: Counter[str]) -> None:
    """Count the clauses of a note as they stand in it."""
    found = {value.path for value in read_text(note.text).values}
    clauses = [one for one in note.clauses if one.ordered]
    due["clauses in notes"] += len(clauses)
    read["clauses in notes"] += sum(found >= set(one.ordered) for one in clauses)


if __name__ == "__main__":
    main(int(sys.argv[1]))
