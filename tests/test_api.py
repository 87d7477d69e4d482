"""Each public function says what the command line says, of whatever holds the document."""

from __future__ import annotations

import doctest
import html
import importlib
import inspect
import json
import pkgutil
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path

import pytest
from drawing import most
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st
from running import AT, CLEAN, run

import orderlint
from orderlint import Refused
from orderlint.api.mappings import mapping_text
from orderlint.api.renderers import RENDERERS

pytestmark = pytest.mark.usefixtures("worked_out_once")
ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "examples"
JSON = EXAMPLES / "fluid-and-additive.json"
POLICY = EXAMPLES / "policy-adult-unit.yaml"
SET = EXAMPLES / "set-irrigation-adult.yaml"
WHEN = datetime.fromisoformat(AT[1])
FUNCTIONS = (
    *("ask", "compare", "load_concept_map", "load_policy"),
    *("plan", "read_back", "review", "verify"),
)

# A result, and the arguments with which the command line reports the same.
VERBS = {
    "ask": (
        lambda: orderlint.ask(JSON, whom="pharmacy", at=WHEN),
        ("ask", "--whom", "pharmacy", JSON),
    ),
    "compare orders": (
        lambda: orderlint.compare(CLEAN, EXAMPLES / "next-revision.yaml", at=WHEN),
        ("compare", CLEAN, EXAMPLES / "next-revision.yaml"),
    ),
    "compare sets": (
        lambda: orderlint.compare(SET, EXAMPLES / "set-irrigation-adult-revised.yaml", at=WHEN),
        ("compare", SET, EXAMPLES / "set-irrigation-adult-revised.yaml"),
    ),
    "plan": (
        lambda: orderlint.plan(CLEAN, start=WHEN, hours=12, at=WHEN, policy=POLICY),
        ("plan", "--from", AT[1], "--hours", "12", "--policy", POLICY, CLEAN),
    ),
    "read back": (
        lambda: orderlint.read_back(CLEAN, EXAMPLES / "seen-in-the-other-unit.yaml", at=WHEN),
        ("readback", CLEAN, EXAMPLES / "seen-in-the-other-unit.yaml"),
    ),
    "review": (lambda: orderlint.review(SET, at=WHEN), ("review", SET)),
    "verify": (lambda: orderlint.verify(JSON, at=WHEN), ("verify", JSON)),
}


@pytest.fixture(scope="module", params=VERBS)
def verb(request):
    made, arguments = VERBS[request.param]
    return made(), (arguments[0], *AT, *arguments[1:])


@pytest.mark.slow
@pytest.mark.usefixtures("worked_out_once")
def test_text_is_that_of_the_command_line(verb):
    result, arguments = verb
    assert result.to_text() == run(*arguments).out.decode()


@pytest.mark.slow
@pytest.mark.usefixtures("worked_out_once")
def test_another_width(verb, monkeypatch):
    result, arguments = verb
    monkeypatch.setenv("COLUMNS", "60")
    assert result.to_text(width=60) == run(*arguments).out.decode()


@pytest.mark.slow
@pytest.mark.usefixtures("worked_out_once")
def test_the_page_is_that_of_the_command_line(verb):
    result, arguments = verb
    page = run(*arguments, "--format", "html").out.decode()
    assert result.to_html() == page
    frame = result._repr_html_()
    assert html.unescape(frame.partition('srcdoc="')[2].removesuffix('"></iframe>')) == page
    assert frame.count('"') == 6  # of three attributes: the page ends none of them


@pytest.mark.usefixtures("worked_out_once")
def test_the_dict_is_of_the_json_report(verb):
    result, arguments = verb
    report = json.loads(run(*arguments, "--format", "json").out)
    assert result.to_dict() == report.get("documents", [report])[0]
    assert result.verdict == result.to_dict().get("verdict", result.verdict)


def test_a_result_says_what_it_is(verb):
    result, _ = verb
    assert f": {result.verdict}, {len(result.findings)} finding" in repr(result)


def test_verdict_and_level_are_their_words():
    result = orderlint.verify("document: order\nformat: 1\n")
    assert result.verdict == "do-not-start"
    assert result.findings[0].level == "do-not-start"
    assert {orderlint.Verdict(level.value) for level in orderlint.Level} < {*orderlint.Verdict}


def test_text_bytes_file_and_mapping_are_one_document():
    text = JSON.read_text(encoding="utf-8")
    sources = (text, text.encode(), json.loads(text))
    of_file = orderlint.verify(JSON, name="bed 4", at=WHEN).to_dict()
    for source in sources:
        found = orderlint.verify(source, name="bed 4.json", at=WHEN).to_dict()
        assert _without_places(found) == _without_places(of_file | {"file": "bed 4.json"})


def test_a_name_says_what_places_say():
    assert orderlint.verify(CLEAN, at=WHEN).to_dict()["file"] == str(CLEAN)
    assert orderlint.verify(CLEAN, name="bed 4", at=WHEN).to_dict()["file"] == "bed 4"
    assert orderlint.verify(CLEAN.read_bytes(), at=WHEN).to_dict()["file"] == "<text>"
    assert orderlint.verify(json.loads(JSON.read_bytes())).to_dict()["file"] == "<mapping>"


def test_a_decimal_stays_as_it_is_written():
    order = json.loads(JSON.read_bytes())
    order["irrigation"]["rate"] = Decimal("45.0")
    order["revision"] = 2
    result = orderlint.verify(order, name="order.json", at=WHEN)
    assert result.found.order.leaves["irrigation.rate"].text == "45.0"
    written = JSON.read_text(encoding="utf-8").replace('"45 mL/h"', "45.0")
    written = written.replace('"revision": 1', '"revision": 2')
    of_text = orderlint.verify(written, name="order.json", at=WHEN)
    assert result.to_dict() == of_text.to_dict()


def test_dates_and_times_are_read_as_text():
    zone = timezone(timedelta(hours=-6))
    order = json.loads(JSON.read_bytes()) | {"starts": datetime(2026, 3, 2, 15, tzinfo=zone)}
    leaf = orderlint.verify(order).found.order.leaves["starts"]
    assert (leaf.text, leaf.value) == ("2026-03-02T15:00:00-06:00", 1_772_485_200_000)
    undated = orderlint.verify(order | {"starts": date(2026, 3, 2)})
    assert any(finding.path == "starts" for finding in undated.findings)


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ({"pause": {"upper": 22.0}}, r"pause\.upper is 22\.0, a float"),
        ({"pause": [1, float("nan")]}, r"pause\.1 is nan, a float"),
        ({"pause": {"upper": Decimal("NaN")}}, r"pause\.upper is NaN"),
        ({"pause": {22: "mmHg"}}, r"The key 22 in pause is an int\. A key is text"),
        ({None: "mmHg"}, r"The key None is a NoneType"),
        ({"pause": {"upper": {22}}}, r"pause\.upper is a set"),
        ({"pause": b"22 mmHg"}, r"pause is a bytes"),
        ({"id": 10**5000}, r"id has too many digits"),
        ({"id": 10**60}, r"digits stand in a row"),
        ({"id": "\ud800"}, r"not UTF-8"),
        ({"id": "a\u202eb"}, r"U\+202E"),
        ({"": "a"}, r"A key is empty"),
    ],
)
def test_what_no_document_can_hold_is_refused(inside, says):
    with pytest.raises(Refused, match=says):
        orderlint.verify({"document": "order", "format": 1} | inside)


def test_a_mapping_within_itself_is_refused():
    order: dict[str, object] = {"document": "order", "format": 1}
    order["pause"] = order
    with pytest.raises(Refused, match="inside one another"):
        orderlint.verify(order)


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.decimals(allow_nan=False, allow_infinity=False, places=3)
    | st.text(st.characters(codec="utf-8")),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(st.text(st.characters(codec="utf-8")), VALUES, max_size=4))
@most(60)
def test_the_json_text_of_a_mapping_has_the_same_values(document):
    assert json.loads(mapping_text(document, "a"), parse_float=Decimal) == document


@pytest.mark.parametrize("function", [orderlint.verify, orderlint.review, orderlint.ask])
def test_a_time_without_its_offset_is_no_instant(function):
    with pytest.raises(ValueError, match="without an offset"):
        function(CLEAN, at=datetime(2026, 3, 2, 12))


def test_a_time_at_which_nothing_can_be_checked():
    with pytest.raises(ValueError, match="at which no order can be checked"):
        orderlint.verify(CLEAN, at=datetime(1066, 10, 14, tzinfo=UTC))


def test_without_a_time_it_is_now():
    before = int(datetime.now(UTC).timestamp())
    at = orderlint.verify(CLEAN).at
    assert before <= at // 1000 <= datetime.now(UTC).timestamp()
    assert at % 1000 == 0


def test_a_policy_is_one_however_it_is_given():
    loaded = orderlint.load_policy(POLICY)
    made = [
        orderlint.verify(CLEAN, at=WHEN, policy=policy).to_dict()
        for policy in (loaded, POLICY, POLICY.read_bytes(), POLICY.read_text(encoding="utf-8"))
    ]
    assert made[0]["checked"]["policy"] == loaded.title
    assert [_without_places(item) for item in made] == [_without_places(made[0])] * 4
    assert made[0] != orderlint.verify(CLEAN, at=WHEN).to_dict()
    assert loaded.title in repr(loaded)


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: orderlint.verify(Path("not there")), Refused, "not there: There is no such file"),
        (lambda: orderlint.verify(EXAMPLES), Refused, "This is a directory"),
        (lambda: orderlint.verify("id: [", name="a.yaml"), Refused, r"^a\.yaml:2:1:"),
        (lambda: orderlint.verify(SET), Refused, "an order is wanted here"),
        (lambda: orderlint.review(CLEAN), Refused, "an order set is wanted here"),
        (lambda: orderlint.compare(CLEAN, POLICY), Refused, "an order or an order set is wanted"),
        (lambda: orderlint.compare(CLEAN, SET), ValueError, "only two of one kind"),
        (lambda: orderlint.read_back(CLEAN, CLEAN), Refused, "settings seen at the bedside is"),
        (lambda: orderlint.load_policy(CLEAN), Refused, "a site policy is wanted here"),
        (lambda: orderlint.ask(CLEAN, whom="nobody"), ValueError, "whom is 'nobody'"),
        (lambda: orderlint.plan(CLEAN, start=WHEN, hours=0), ValueError, "hours is 0"),
        (lambda: orderlint.plan(CLEAN, start=datetime(2026, 3, 2)), ValueError, "start is 2026"),
        (lambda: orderlint.verify(3), TypeError, "not int"),
    ],
)
def test_what_cannot_be_is_said(call, error, says):
    with pytest.raises(error, match=says):
        call()


def test_no_module_bears_the_name_of_a_function():
    below = {module.name for module in pkgutil.iter_modules(orderlint.__path__)}
    assert not below & {*FUNCTIONS}


@pytest.mark.slow
def test_each_function_is_there_when_every_module_was_imported():
    program = (
        "import importlib, pkgutil, types, orderlint\n"
        "for found in pkgutil.walk_packages(orderlint.__path__, 'orderlint.'):\n"
        "    importlib.import_module(found.name)\n"
        f"print(all(isinstance(getattr(orderlint, n), types.FunctionType) for n in {FUNCTIONS}))\n"
        "print(orderlint.verify('document: order\\nformat: 1\\n').verdict)\n"
    )
    ran = subprocess.run([sys.executable, "-P", "-c", program], capture_output=True, check=True)
    assert ran.stdout.split() == [b"True", b"do-not-start"]


def test_the_package_imports_nothing_before_it_is_asked():
    program = "import sys, orderlint; print(*(n for n in sys.modules if 'orderlint.' in n))"
    ran = subprocess.run([sys.executable, "-P", "-c", program], capture_output=True, check=True)
    assert ran.stdout.split() == []


@of_each(("verb", "form"), RENDERERS)
def test_each_renderer_is_there_and_takes_what_the_table_says(verb, form):
    renderer = RENDERERS[verb, form]
    path, _, name = renderer.function.partition(":")
    module = importlib.import_module(f"orderlint.report.{path}")
    function = getattr(module, name)
    found, *_ = inspect.signature(function).parameters
    inspect.signature(function).bind(**{found: None}, **dict.fromkeys(renderer.takes.split()))
    if renderer.title:
        inspect.signature(getattr(module, renderer.title)).bind(None)


@pytest.mark.parametrize(
    "module",
    ["orderlint", *(f"orderlint.api.{orderlint._MODULES[name][4:]}" for name in FUNCTIONS)],
)
def test_the_examples_in_docstrings_hold(module, monkeypatch):
    monkeypatch.chdir(ROOT)
    failed, attempted = doctest.testmod(importlib.import_module(module))
    assert (failed, attempted > 0) == (0, True)


def _without_places(member: object) -> object:
    """A report but for lines and columns, which differ as a document is laid out."""
    if isinstance(member, dict):
        return {key: _without_places(value) for key, value in member.items() if "place" not in key}
    return [_without_places(item) for item in member] if isinstance(member, list) else member
