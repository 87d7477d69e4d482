"""The check of public suites finds what is wrong; the suites are not part of this tree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from public_suites.__main__ import main
from public_suites.json_cases import check_json
from public_suites.ucum_cases import check_ucum
from public_suites.yaml_cases import check_yaml

if TYPE_CHECKING:
    from pathlib import Path

# The essence's own names and values; a metre of mercury is made wrong in one test.
ESSENCE = """<root>
  <prefix Code="m"><value value="1e-3"/></prefix>
  <prefix Code="c"><value value="1e-2"/></prefix>
  <prefix Code="k"><value value="1e3"/></prefix>
  <base-unit Code="m"/><base-unit Code="s"/><base-unit Code="g"/>
  <unit Code="N" isMetric="yes"><value Unit="kg.m/s2" value="1"/></unit>
  <unit Code="Pa" isMetric="yes"><value Unit="N/m2" value="1"/></unit>
  <unit Code="m[H2O]" isMetric="yes"><value Unit="kPa" value="980665e-5"/></unit>
  <unit Code="m[Hg]" isMetric="yes"><value Unit="kPa" value="133.3220"/></unit>
</root>"""
UCUM = """<ucumTests><validation>
  <case unit="{}" valid="{}"/>
</validation><conversion>
  <case id="1" value="6.3" srcUnit="s.mm-1" dstUnit="s.m-1" outcome="{}"/>
</conversion></ucumTests>"""


def json_suite(folder: Path, name: str, text: str) -> list[str]:
    (folder / name).write_text(text, encoding="utf-8")
    return check_json(folder).failures


@pytest.mark.parametrize(
    ("name", "text", "fails"),
    [
        ("y_a.json", "[1]", False),
        ("y_a.json", '{"a": 1, "a": 1}', False),  # JSON, and refused by design
        ("y_a.json", "[1", True),
        ("n_a.json", "[1", False),
        ("n_a.json", "[1]", True),
        ("i_a.json", "[1e999]", False),
    ],
)
def test_of_json(tmp_path: Path, name: str, text: str, fails: bool) -> None:
    assert bool(json_suite(tmp_path, name, text)) is fails


@pytest.mark.parametrize(
    ("case", "fails"),
    [
        ('{"yaml": "a: 1", "json": "{\\"a\\": 1}"}', False),
        ('{"yaml": "a: 1", "json": "{\\"a\\": \\"1\\"}"}', False),  # the text is kept as well
        ('{"yaml": "a: 1", "json": "{\\"a\\": 2}"}', True),
        ('{"yaml": "a: b", "json": "{\\"b\\": \\"b\\"}"}', True),
        ('{"yaml": "[a, b]", "json": "[\\"a\\"]"}', True),
        ('{"yaml": "a: ~", "json": "{\\"a\\": null}"}', False),
        ('{"yaml": "a: &b c", "json": "{\\"a\\": \\"c\\"}"}', False),  # YAML, and refused by design
        ('{"yaml": "a: 1", "fail": true}', True),
        ('{"yaml": "a: [", "fail": true}', False),
    ],
)
def test_of_yaml_in_modules(tmp_path: Path, case: str, fails: bool) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "ABCD.js").write_text(f'export default {{"cases": [{case}]}}\n')
    suite = check_yaml(tmp_path)
    assert bool(suite.failures) is fails
    assert "YAML test suite: 1 cases" in suite.report()


def test_of_yaml_in_folders(tmp_path: Path) -> None:
    for name, text in (("ABCD", "a: 1\n"), ("BCDE/01", "a: b\n"), ("BCDE/02", "a: [\n")):
        (tmp_path / name).mkdir(parents=True)
        (tmp_path / name / "in.yaml").write_text(text)
    (tmp_path / "BCDE" / "01" / "in.json").write_text('{"a": "b"}')
    (tmp_path / "BCDE" / "02" / "error").touch()
    assert not check_yaml(tmp_path).failures
    (tmp_path / "ABCD" / "error").touch()
    (tmp_path / "BCDE" / "01" / "in.json").write_text('{"a": "c"}')
    assert [failure.split(":")[0] for failure in check_yaml(tmp_path).failures] == [
        "ABCD-0",
        "BCDE-1",
    ]


def ucum_suite(folder: Path, tests: str, essence: str = ESSENCE) -> list[str]:
    (folder / "tests.xml").write_text(tests)
    (folder / "ucum-essence.xml").write_text(essence)
    return check_ucum(folder).failures


@pytest.mark.parametrize("code", ["cm[H2O]", "mm[Hg]", "kPa", "mbar", "xyz"])
def test_of_ucum_as_it_is(tmp_path: Path, code: str) -> None:
    essence = ESSENCE.replace(
        "</root>", '<unit Code="bar" isMetric="yes"><value Unit="Pa" value="1e5"/></unit></root>'
    )
    assert not ucum_suite(tmp_path, UCUM.format(code, "true", "6300"), essence)


def test_of_ucum_with_faults(tmp_path: Path) -> None:
    tests = UCUM.format("mm[Hg]", "true", "6300")
    other = ESSENCE.replace("133.3220", "133.3230")
    assert ucum_suite(tmp_path, tests, other) == ["mm[Hg]: read as mmHg"]
    assert (
        len(
            ucum_suite(
                tmp_path, UCUM.format("kPa", "true", "6300"), ESSENCE.replace("1e-2", "1e-1")
            )
        )
        == 1
    )
    assert len(ucum_suite(tmp_path, UCUM.format("kPa", "false", "6300"))) == 1
    assert len(ucum_suite(tmp_path, UCUM.format("kPa", "true", "6400"))) == 1
    (tmp_path / "ucum-essence.xml").unlink()
    assert len(check_ucum(tmp_path).failures) == 1


def test_a_suite_that_is_missing_fails(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "y_a.json").write_text("[]")
    assert main(tmp_path) == 1
    printed = capsys.readouterr().out
    assert "JSON parsing suite: 1 cases, 0 failures" in printed
    assert printed.count("FAILURE") == 2
