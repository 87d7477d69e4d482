"""Reports for the formats of CI, drawn by hypothesis with texts made to break a format."""

from __future__ import annotations

import re

from hypothesis import strategies as st

from orderlint.finding import Finding, Level, NamedSetting, Place, Suppressed, Verdict
from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
from orderlint.report.unchecked_files import Unread
from orderlint.rulebook.citation import Source
from orderlint.rulebook.rule import CodeRule, Rule

# Markup, placeholders and links of SARIF, what XML 1.0 forbids, what turns or hides text, and
# half characters, as a file name on disk can hold.
NASTY = [
    *("<b>&amp;</b>", "]]>", "<![CDATA[", "\"'", "{0}", "{{", "[all is well](https://x.example)"),
    *("\x00", "\x1b[31m", "\x0b", "\r", "\n", "\t", "\x7f", "\x85", "\u202e", "\u2066", "\u200b"),
    *("\ufffe", "\uffff", "\ud800", "\udcff", "\u2028", "\ufeff", "é", "水", "🧠", "\U000e0041"),
    *("%41", "a b", "#x?y=z", "//host/x", "c:d", "..", "\\", "–"),
]
HIDDEN = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Controls but the line feed, what hides or turns text, and half characters."""
TEXTS = st.one_of(
    st.sampled_from(NASTY),
    st.text(max_size=6),
    st.lists(st.sampled_from(NASTY), max_size=3).map("".join),
)
FILES = TEXTS.filter(bool)
RULES = ("rule-a", "rule-b", "rule-c")
LEVELS = st.sampled_from(list(Level))


def places(files: st.SearchStrategy[str] = FILES) -> st.SearchStrategy[Place]:
    return st.builds(Place, files, st.integers(1, 9999), st.integers(1, 200))


FINDINGS = st.builds(
    Finding,
    rule=st.sampled_from(RULES),
    family=TEXTS,
    level=LEVELS,
    path=TEXTS,
    name=TEXTS,
    says=TEXTS,
    written=TEXTS,
    expected=TEXTS,
    why=TEXTS,
    ask=TEXTS,
    ask_whom=st.just("prescriber"),
    source=TEXTS,
    place=places(),
    also=st.lists(
        st.builds(NamedSetting, TEXTS, TEXTS, TEXTS, st.one_of(st.none(), places())), max_size=2
    ).map(tuple),
    breaks=st.sampled_from(["", *RULES]),
)


@st.composite
def _results(draw: st.DrawFn) -> CiResult:
    finding = draw(FINDINGS)
    told = draw(
        st.one_of(st.none(), st.builds(Suppressed, st.just(finding), TEXTS, TEXTS, TEXTS, places()))
    )
    is_open = told is None and draw(st.booleans())
    return CiResult(finding, "0" * 32 + ":1:note", is_open, told)


CHECKED = st.builds(
    CheckedDocument,
    FILES,
    st.just("order"),
    st.sampled_from(list(Verdict)),
    st.lists(_results(), max_size=4).map(tuple),
    st.lists(TEXTS, max_size=1).map(tuple),
    st.lists(TEXTS, max_size=2).map(tuple),
)
UNREAD = st.builds(
    Unread,
    FILES,
    TEXTS,
    st.one_of(st.none(), places()),
    st.one_of(st.none(), places()),
    st.booleans(),
)


def _rule(name: str, text: str, level: Level) -> Rule:
    source = Source("common-practice", text)
    return CodeRule(
        id=name,
        family=text,
        level=level,
        says=text,
        expected=text,
        why=text,
        ask=text,
        ask_whom="prescriber",
        sources=(source,),
        place=Place("rules/x.yaml", 1, 1),
        found_by="reading",
    )


@st.composite
def reports(draw: st.DrawFn) -> CiReport:
    """Any report, with rules in any words; `known` is there for all results of it or for none."""
    rules = {name: _rule(name, draw(TEXTS), draw(LEVELS)) for name in RULES}
    checked = draw(st.lists(CHECKED, max_size=2).map(tuple))
    if draw(st.booleans()):
        checked = tuple(
            item._replace(
                results=tuple(r._replace(known=draw(st.booleans())) for r in item.results)
            )
            for item in checked
        )
    return CiReport(checked, draw(st.lists(UNREAD, max_size=2).map(tuple)), rules)
