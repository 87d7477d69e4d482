"""Sets that fix, list, leave blank or leave out facts of signing can be reviewed and compared."""

from __future__ import annotations

import functools
import json
from dataclasses import replace

from drawing import most
from hypothesis import given
from hypothesis import strategies as st
from order_sets import AT, HEAD, review, whole

from orderlint.comparison.sets import compare_sets
from orderlint.order import SIGNING_FIELDS
from orderlint.proof.prover import Decision
from orderlint.report.compare.blocks import set_blocks
from orderlint.report.compare.json import render_sets
from orderlint.report.review import blocks as review_blocks
from orderlint.report.review import json as review_json
from orderlint.report.text import render_blocks
from orderlint.rulebook.load import load

INSTANTS = ["2026-03-01T15:00:00Z", "2026-03-02T15:00:00Z", "2026-03-04T15:00:00Z"]
VALUES = {
    **dict.fromkeys(("written", "starts", "review_by"), INSTANTS),
    "id": ["demo-1", "demo-2"],
    "revision": ["1", "2"],
    "status": ["draft", "active"],
    "zone": ["Europe/Zurich", "Nowhere/Atall"],
    "prescriber": ["a consultant", "D/C 10000 U"],
}
FORMS = ["{one}", "{{fixed: {one}}}", "{{choose: [{one}, {other}]}}"]
FORMS += ["{{choose: [{one}, {other}], preset: {one}}}"]
FORMS += [f"{{{{blank: {needed}, label: to be written}}}}" for needed in ("required", "optional")]


@functools.cache
def of_signing():
    """The rulebook with the conditions that read facts of signing, and a few on settings."""
    book = load("order-set")
    settings_ = {"treat-above-over-upper-pause", "missing-treat-above", "level-not-settable"}

    def kept(rule):
        reads = {path for instance in rule.instances for path in instance.paths}
        return reads & (SIGNING_FIELDS | {"checked_at"}) or rule.id in settings_

    silent = {r.id: replace(r, instances=()) for r in book.order_rules if not kept(r)}
    return book._replace(rules={**book.rules, **silent})


@st.composite
def entry(draw, path):
    one, other = draw(st.permutations(VALUES[path]))[:2]
    return f"  {path}: {draw(st.sampled_from(FORMS)).format(one=one, other=other)}\n"


@st.composite
def set_texts(draw):
    paths = draw(st.lists(st.sampled_from(sorted(SIGNING_FIELDS)), unique=True))
    signed = "".join(draw(entry(path)) for path in paths)
    levels = draw(st.sampled_from(["8 mmHg", "{choose: [8 mmHg, 25 mmHg]}", "[8]", "8"]))
    upper = draw(st.sampled_from(["22 mmHg", "{blank: optional, label: x}"]))
    settings_ = f"  therapy: irrigation\n  treat_above: {levels}\n  pause: {{upper: {upper}}}\n"
    return HEAD + settings_ + signed


@most(12)
@given(set_texts(), set_texts())
def test_facts_of_signing_in_any_form(first, second):
    found = review(first.encode(), "before.yaml", AT, of_signing())
    for proof in found.proofs:
        assert (proof.result is Decision.AT_SIGNING) <= bool(proof.at_signing)
        assert {*proof.at_signing} <= SIGNING_FIELDS | {"checked_at"}
    assert render_blocks(review_blocks.blocks(found, (), AT), width=80)
    json.loads(review_json.render([found], (), AT))
    both = compare_sets(whole(first, "before.yaml"), whole(second, "after.yaml"), AT, of_signing())
    assert render_blocks(set_blocks(both, AT), width=80)
    json.loads(render_sets(both, AT))
