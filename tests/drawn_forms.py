"""Order sets drawn by hypothesis that hang on answers: conditions of every form, and ticks."""

from __future__ import annotations

import re
from typing import Any

from hypothesis import strategies as st

LIMITS = {"low": "9 mmHg", "high": "11 mmHg", "slow": "45 mL/h"}
ATOMS = [
    *("irrigates", "drains", "therapy == 'drainage'", "therapy != 'monitoring'"),
    *("therapy in {'irrigation', 'monitoring'}", 'irrigation.fluid == "lactated Ringer\'s"'),
    *("treat_above >= low", "low < treat_above <= high", "irrigation.rate > slow"),
    *("given(irrigation.rate)", "given(titration)", "given(notify.call)", "given(targets.map)"),
    *("given(stop_when)", "display_unit == 'cmH2O'", "treat_above < pause.upper"),
]
GATED = ["irrigation", "irrigation.rate", "irrigation.bag", "titration", "titration.max", "targets"]
GATED += ["notify", "notify.net_in", "notify.net_in.within", "stop_when", "access", "position"]
TICKED = ["irrigation", "titration", "notify", "notify.net_in", "targets", "position"]


def conditions() -> st.SearchStrategy[str]:
    def joined(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
        pair = st.tuples(inner, inner)
        return st.one_of(
            st.builds(lambda text: f"not ({text})", inner),
            st.builds(lambda two: f"({two[0]}) and ({two[1]})", pair),
            st.builds(lambda two: f"({two[0]}) or ({two[1]})", pair),
        )

    return st.recursive(st.sampled_from(ATOMS), joined, max_leaves=4)


def some(*texts: str) -> st.SearchStrategy[dict[str, Any]]:
    """A choice of some of these, the first of which may be picked already."""

    def entry(picked: list[str], has_preset: bool) -> dict[str, Any]:
        return {"choose": picked, **({"preset": picked[0]} if has_preset else {})}

    listed = st.lists(st.sampled_from(texts), min_size=1, unique=True)
    return st.builds(entry, listed, st.booleans())


def orders() -> st.SearchStrategy[dict[str, Any]]:
    """The tree of the order, without conditions."""
    rates = {"from": "40 mL/h", "to": "60 mL/h", "step": "10 mL/h"}
    call = st.sampled_from([{"blank": "optional", "label": "Call"}, {"blank": "required"}])
    words = st.sampled_from(["fluid clear", {"choose": ["fluid clear", "two, or more"]}])
    return st.fixed_dictionaries(
        {
            "therapy": some("irrigation", "drainage", "monitoring"),
            "display_unit": st.one_of(st.just("mmHg"), some("mmHg", "cmH2O")),
            "access": some("right ventricle", "left ventricle"),
            "pause": st.just({"lower": "2 mmHg", "upper": "22 mmHg"}),
            "treat_above": some("8 mmHg", "10 mmHg", "12.0 mmHg", "13 cmH2O"),
            "irrigation": st.fixed_dictionaries(
                {
                    "rate": st.sampled_from([rates, {**rates, "blank": "optional"}, "60 mL/h"]),
                    "fluid": some("lactated Ringer's", "sodium chloride 0.9 %"),
                    "bag": some("500 mL", "1 L", "1000 mL"),
                }
            ),
            "titration": st.just({"goal": "clear", "max": "80 mL/h"}),
            "notify": st.fixed_dictionaries(
                {"call": call, "net_in": st.just({"above": "15 mL", "within": "1 h"})}
            ),
            "targets": st.just({"map": "85 mmHg"}),
            "position": st.just({"head_up": "30 deg"}),
            "stop_when": words,
        }
    )


@st.composite
def forms(draw: st.DrawFn) -> dict[str, Any]:
    """The data of a set with a few conditions and ticks."""
    order = draw(orders())
    for path in draw(st.lists(st.sampled_from(GATED), max_size=3, unique=True)):
        condition = draw(conditions())
        gate: dict[str, Any] = {"shown_when": condition}
        words = re.findall("[a-z]+", condition)
        if named := {name: text for name, text in LIMITS.items() if name in words}:
            gate["limits"] = named
        _add(order, path, gate)
    for path in draw(st.lists(st.sampled_from(TICKED), max_size=2, unique=True)):
        _add(order, path, {"offered": {"preset": draw(st.sampled_from(["in", "out"]))}})
    head = {"title": "a form", "population": ["adult", "child"], "version": 3}
    head |= {"owner": "an invented committee", "approved": "2026-02-01 by vote"}
    return {"document": "order-set", "format": 1, **head, "order": order}


def _add(order: dict[str, Any], path: str, keys: dict[str, Any]) -> None:
    *sections, key = path.split(".")
    inner = order
    for section in sections:
        inner = inner[section]
    if not isinstance(inner[key], dict):
        inner[key] = {"fixed": inner[key]}
    inner[key].update(keys)
