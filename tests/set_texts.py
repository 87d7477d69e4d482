"""Written order sets drawn by hypothesis: entries of every form, right, wrong and odd."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st
from texts import ODD, ODD_VALUES, good

from orderlint.fields import field_table
from orderlint.units import read_constant

if TYPE_CHECKING:
    from orderlint.field import Field

CONDITIONS = [
    *("irrigates", "drains and given(irrigation.rate)", "given(titration)", "given(notify.call)"),
    *("therapy == 'drainage'", "treat_above < pause.upper", "given(stop_when)", "not irrigates"),
]
SHOWN: list[dict[str, Any]] = [
    *({"shown_when": text} for text in CONDITIONS),
    {"shown_when": "treat_above >= low", "limits": {"low": "10 cmH2O"}},
    {"shown_when": "low < irrigation.rate <= high", "limits": {"low": "5 mL/h", "high": "9 mL/h"}},
]
ODD_SHOWN: list[dict[str, Any]] = [
    {"limits": {"low": "10 mmHg"}},
    *(
        {"shown_when": "treat_above >= low", "limits": limits}
        for limits in (None, [], {}, {"low": "10"}, {"low": 3}, {"low": "9 mL"}, {"other": "9 mL"})
    ),
]
ODD_CONDITIONS = ["", None, [], "irigates", "site.window_min > 1", "a b", "checked_at == written"]
ODD_LIMITS = ["treat_above >= low", "10"]
"""What is written where a limit has no unit, another dimension or another name."""
ODD_KEYS = ["prest", "choose", "from", "blank", "shown_wen", "offered", "label", "x", "step"]


@functools.cache
def leaf_entries_of(path: str, *, odd: bool) -> st.SearchStrategy[Any]:
    return leaf_entries(field_table().fields[path], odd=odd)


def leaf_entries(field: Field, *, odd: bool) -> st.SearchStrategy[Any]:
    """An entry for one field; without `odd` one that can be read."""
    value = good(field)
    wrong = st.sampled_from([*ODD, *ODD_VALUES])
    one = st.one_of(value, value, wrong) if odd else value
    label = st.just("a label")
    preset = st.fixed_dictionaries({}, optional={"preset": one}) if odd else st.just({})
    listed = st.lists(one, min_size=0 if odd else 1, max_size=4)
    forms = [
        one,
        st.builds(lambda v: {"fixed": v}, one),
        st.builds(lambda items, more: {"choose": items, **more}, listed, preset),
        st.builds(
            lambda items: {"choose": items, "preset": items[-1]},
            st.lists(value, min_size=1, max_size=4),
        ),
        st.builds(
            lambda wanted, text: {"blank": wanted, "label": text},
            st.sampled_from(["required", "optional", *(["perhaps", 3] if odd else [])]),
            label,
        ),
    ]
    if field.kind == "quantity":
        forms.append(_steps(field, one if odd else None))
    return st.one_of(*forms).flatmap(_shown(odd))


def _steps(field: Field, odd: st.SearchStrategy[Any] | None) -> st.SearchStrategy[Any]:
    def between(unit: str, first: int, step: int, count: int, blank: bool) -> dict[str, Any]:
        ends = (first, first + step * count, step)
        texts = (f"{number} {unit}" for number in ends)
        bounds = dict(zip(("from", "to", "step"), texts, strict=True))
        return {"blank": "optional", "label": "x", **bounds} if blank else bounds

    units = st.sampled_from(tuple(field.decimals))
    good_steps = st.builds(
        between, units, st.integers(0, 9), st.integers(1, 3), st.integers(0, 5), st.booleans()
    )
    if odd is None:
        return good_steps.filter(lambda entry: read_constant(entry["to"])[0] <= field.highest)
    wrong = st.fixed_dictionaries({}, optional={"from": odd, "to": odd, "step": odd})
    return st.one_of(good_steps, st.builds(lambda a, b: {**a, **b}, good_steps, wrong))


def _shown(odd: bool) -> Any:
    wrong = [*({"shown_when": text} for text in ODD_CONDITIONS), *ODD_SHOWN]
    conditions = st.sampled_from([*SHOWN, *(wrong if odd else [])])

    def with_condition(entry: Any) -> st.SearchStrategy[Any]:
        if not isinstance(entry, dict) or not entry:
            return st.just(entry)
        plain = st.just(entry)
        shown = conditions.map(lambda keys: {**entry, **keys})
        return st.one_of(plain, plain, shown)

    return with_condition


def sets(*, odd: bool) -> st.SearchStrategy[dict[str, Any]]:
    """The data of an order set; without `odd` one with no entry that cannot be understood."""
    table = field_table()
    without = {"document", "format", "irrigation.additive"}
    fields = [field for field in table.fields.values() if field.path not in without]

    @st.composite
    def drawn(draw: st.DrawFn) -> dict[str, Any]:
        order: dict[str, Any] = {}
        for field in draw(
            st.lists(st.sampled_from(fields), unique_by=lambda f: f.path, max_size=20)
        ):
            *sections, key = field.path.split(".")
            inner = order
            for section in sections:
                inner = inner.setdefault(section, {})
            inner[key] = draw(leaf_entries_of(field.path, odd=odd))
        for path, section in _sections(order, ""):
            if draw(st.integers(0, 4)) == 0:
                section["offered"] = {"preset": draw(st.sampled_from(["in", "out"]))}
            if draw(st.integers(0, 4)) == 0:
                section.update(draw(st.sampled_from(SHOWN)))
            if odd and draw(st.integers(0, 9)) == 0:
                section[draw(st.sampled_from(ODD_KEYS))] = draw(st.sampled_from(ODD_VALUES))
            assert path
        head: dict[str, Any] = {"document": "order-set", "format": 1}
        for key in ("title", "population", "version", "owner", "approved", "review_due"):
            if draw(st.booleans()):
                facts = ["adult", ["adult", "child"], "2026-01-31", "a text", 3]
                head[key] = draw(st.sampled_from([*facts, *(ODD_VALUES if odd else [])]))
        return {**head, "order": order}

    return drawn()


def _sections(order: dict[str, Any], path: str) -> list[tuple[str, dict[str, Any]]]:
    names = field_table().section_names
    found = []
    for key, value in order.items():
        below = f"{path}{key}"
        if isinstance(value, dict) and below in names:
            found += [(below, value), *_sections(value, f"{below}.")]
    return found
