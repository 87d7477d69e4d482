"""`--against`: a file beside another, or beside what a git repository has of it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from order_sets import EXAMPLES
from running import AT
from running import run as run_command

pytestmark = pytest.mark.usefixtures("worked_out_once")
GIT = ("git", "-c", "user.name=a", "-c", "user.email=a@b.invalid", "-c", "commit.gpgsign=false")
SET = (EXAMPLES / "set-irrigation-adult.yaml").read_text(encoding="utf-8")
UPPER = "upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg], preset: 22 mmHg}"
LOOSER = "upper: {choose: [20 mmHg, 21 mmHg, 22 mmHg, 25 mmHg], preset: 20 mmHg}"


def run(verb, *arguments):
    """At one time, so that what is asked again is not worked out again."""
    return run_command(verb, *AT, *arguments)


def git(folder, *arguments):
    subprocess.run([*GIT, "-C", str(folder), *arguments], check=True, capture_output=True)


@pytest.fixture(scope="module")
def committed(tmp_path_factory):
    """A repository with one set, loosened in the work tree; each test has a copy."""
    folder = tmp_path_factory.mktemp("committed")
    git(folder, "init", "--quiet", ".")
    (folder / "sets").mkdir()
    file = folder / "sets" / "adult.yaml"
    file.write_text(SET, encoding="utf-8")
    git(folder, "add", ".")
    git(folder, "commit", "--quiet", "--message", "one")
    file.write_text(SET.replace(UPPER, LOOSER), encoding="utf-8")
    return folder


@pytest.fixture
def repository(committed, tmp_path, monkeypatch):
    """The current folder: a copy of the repository."""
    shutil.copytree(committed, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("repository")
def test_a_loosened_option_is_all_that_the_summary_has():
    ran = run("compare", "--against", "HEAD", "--format", "markdown", "sets/adult.yaml")
    text = ran.out.decode()
    assert (ran.status, ran.err) == (1, "")
    assert len(text.splitlines()) < 60
    assert "upper-pause-over-adult-threshold" in text
    assert "What most signers will get: upper pause limit 20 mmHg (22 mmHg before)." in text
    assert "The version is still 4, though the set is changed." in text
    assert "new 25 mmHg" in text
    assert "Picked: upper pause limit: 25 mmHg" in text
    assert "titration" not in text


@pytest.mark.usefixtures("repository")
@pytest.mark.parametrize("form", ["line", "sarif", "junit", "json", "text", "html"])
def test_each_format_names_the_rule_that_is_newly_broken(form):
    ran = run("compare", "--against", "HEAD", "--format", form, "sets/adult.yaml")
    assert ran.status == 1
    assert "upper-pause-over-adult-threshold" in ran.out.decode()


@pytest.mark.usefixtures("repository")
def test_a_file_comes_before_a_revision_of_the_same_name():
    Path("HEAD").write_text(SET.replace(UPPER, LOOSER), encoding="utf-8")
    ran = run("compare", "--against", "HEAD", "--format", "json", "sets/adult.yaml")
    (document,) = json.loads(ran.out)["documents"]
    assert (ran.status, document["relation"], document["before"]) == (0, "equal", "HEAD")


@pytest.mark.slow
@pytest.mark.usefixtures("repository")
def test_a_set_that_was_not_there_is_all_new():
    Path("sets/other.yaml").write_text(SET.replace(UPPER, LOOSER), encoding="utf-8")
    for verb in ("compare", "review"):
        ran = run(verb, "--against", "HEAD", "--format", "line", "sets/other.yaml")
        assert ran.status == 1
        assert "upper-pause-over-adult-threshold" in ran.out.decode()
    assert (
        "was not there in that revision"
        in run("compare", "--against", "HEAD", "--format", "line", "sets/other.yaml").err
    )


@pytest.mark.usefixtures("repository")
def test_an_order_that_was_not_there_is_verified_by_itself():
    Path("order.yaml").write_text((EXAMPLES / "clean.yaml").read_text("utf-8"), "utf-8")
    ran = run("compare", "--against", "HEAD", "order.yaml")
    assert (ran.status, ran.out) == (2, b"")
    assert "verify this order by itself" in ran.err


@pytest.mark.usefixtures("repository")
@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("compare", "--against", "--output", "sets/adult.yaml"), "begin with a hyphen"),
        (("compare", "--against", "-x", "sets/adult.yaml"), "begin with a hyphen"),
        (("compare", "--against", "none", "sets/adult.yaml"), "no revision of the repository"),
        (("compare", "--against", "HEAD:sets", "sets/adult.yaml"), "no revision"),
        (("compare", "--against", "HEAD", "-"), "in no revision"),
        (("compare", "--against", "HEAD", "sets/adult.yaml", "b.yaml"), "Two files"),
        (("compare", "sets/adult.yaml"), "Two files"),
        (("review", "--against", "none", "sets/adult.yaml"), "no revision of the repository"),
        (("review", "--against", "a", "--baseline", "b", "sets/adult.yaml"), "either --baseline"),
    ],
)
def test_what_cannot_be_compared_is_said(arguments, message):
    ran = run(*arguments)
    assert (ran.status, ran.out) == (2, b"")
    assert message in ran.err


def test_outside_a_repository_there_is_no_revision(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    (tmp_path / "a.yaml").write_text(SET, encoding="utf-8")
    ran = run("compare", "--against", "HEAD", tmp_path / "a.yaml")
    assert (ran.status, ran.out) == (2, b"")
    assert "not a git repository" in ran.err


@pytest.mark.usefixtures("repository")
def test_without_git_a_revision_is_refused(monkeypatch):
    monkeypatch.setenv("PATH", os.devnull)
    ran = run("compare", "--against", "HEAD", "sets/adult.yaml")
    assert (ran.status, ran.out) == (2, b"")
    assert "git could not be run" in ran.err


def test_no_program_of_the_repository_is_run_and_its_tree_is_left(repository):
    ran_file = repository / "ran"
    for name in ("core.fsmonitor", "diff.x.textconv", "filter.x.smudge", "core.pager"):
        git(repository, "config", name, f"touch {ran_file}; cat")
    (repository / ".gitattributes").write_text("*.yaml diff=x filter=x\n", encoding="utf-8")
    hooks = repository / ".git" / "hooks"
    for hook in ("post-checkout", "post-index-change", "reference-transaction"):
        (hooks / hook).write_text(f"#!/bin/sh\ntouch {ran_file}\n", encoding="utf-8")
        (hooks / hook).chmod(0o755)
    before = {p: p.stat().st_mtime_ns for p in repository.rglob("*") if p.is_file()}
    assert run("compare", "--against", "HEAD", "sets/adult.yaml").status == 1
    assert {p: p.stat().st_mtime_ns for p in repository.rglob("*") if p.is_file()} == before


def found_in(verb, *arguments):
    ran = run(verb, *arguments, "--format", "sarif")
    (log,) = json.loads(ran.out)["runs"]
    return ran.status, log["results"]


def told(file, *more):
    """What is found in a set: where, by which rule, and whether it is new."""
    status, results = found_in("review", file, *more)
    found = {
        (item["properties"].get("found"), item["ruleId"], item.get("baselineState"))
        for item in results
    }
    return status, found


WIDE = SET.replace(UPPER, "upper: {choose: [20 mmHg, 24 mmHg, 26 mmHg], preset: 20 mmHg}")


@pytest.mark.slow
@pytest.mark.usefixtures("repository", "worked_out_once")
@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        (SET, SET.replace(UPPER, LOOSER)),
        (SET.replace(UPPER, LOOSER), SET),
        # The nearest order is another one where an option is taken out, and nothing is new.
        (WIDE, WIDE.replace("24 mmHg, ", "")),
        (WIDE, WIDE.replace("preset: 20 mmHg", "preset: 24 mmHg")),
    ],
    ids=["looser", "stricter", "an option gone", "another preset"],
)
def test_a_review_against_another_is_two_reviews_by_what_is_broken(earlier, later):
    Path("earlier.yaml").write_text(earlier, encoding="utf-8")
    Path("later.yaml").write_text(later, encoding="utf-8")
    stood = {found[:2] for found in told("earlier.yaml")[1]}
    status, found = told("later.yaml", "--against", "earlier.yaml")
    for where, rule, state in found:
        was = (where, rule) in stood or (where == "reachable" and ("preset", rule) in stood)
        assert state == ("unchanged" if was else "new")
    assert status == any(state == "new" for *_, state in found)


@pytest.mark.usefixtures("repository")
def test_what_the_presets_newly_break_is_new_though_the_orders_are_the_same():
    preset = WIDE.replace("preset: 20 mmHg", "preset: 24 mmHg")
    Path("earlier.yaml").write_text(WIDE, encoding="utf-8")
    Path("later.yaml").write_text(preset, encoding="utf-8")
    ran = run("compare", "--against", "earlier.yaml", "--format", "json", "later.yaml")
    (document,) = json.loads(ran.out)["documents"]
    assert (ran.status, document["relation"]) == (1, "equal")
    found = {(item["rule"], item["found"]) for item in document["findings"]}
    assert ("upper-pause-over-adult-threshold", "preset") in found
    back = run("compare", "--against", "later.yaml", "--format", "markdown", "earlier.yaml")
    assert back.status == 0
    assert "## `earlier.yaml`: NOTHING NEWLY BROKEN" in back.out.decode()


POLICY = """document: site-policy
format: 1
title: a unit
values:
  window_min: {{value: {} mmHg, source: {{kind: local-policy, note: invented}}}}
"""


@pytest.mark.slow
def test_what_an_earlier_policy_let_pass_is_new_and_that_it_changed_is_said(repository):
    policy = repository / "policy.yaml"
    policy.write_text(POLICY.format(4), encoding="utf-8")
    Path("sets/adult.yaml").write_text(SET, encoding="utf-8")
    git(repository, "add", ".")
    git(repository, "commit", "--quiet", "--message", "two")
    arguments = ("review", "--policy", "policy.yaml", "--against", "HEAD", "sets/adult.yaml")
    assert run(*arguments).status == 0
    policy.write_text(POLICY.format(10), encoding="utf-8")
    ran = run(*arguments, "--format", "markdown")
    assert ran.status == 1
    assert "is not as it was in HEAD" in ran.err
    assert "is not as it was in HEAD" in ran.out.decode()
    assert "treating-window-narrow" in ran.out.decode()
    compared = run("compare", *arguments[1:])
    assert "Both sets are judged by it as it is now" in compared.err


@pytest.mark.slow
@pytest.mark.usefixtures("repository")
def test_a_summary_of_several_sets_says_first_which_have_news():
    Path("sets/sound.yaml").write_text(SET, encoding="utf-8")
    git(Path(), "add", ".")
    files = ("sets/adult.yaml", "sets/sound.yaml")
    ran = run("review", "--against", "HEAD", "--format", "markdown", *files)
    assert ran.out.decode().startswith(
        "1 of 2 files has something to be asked about: `sets/adult.yaml`.\n"
    )


@pytest.mark.usefixtures("repository")
def test_what_the_earlier_set_broke_too_is_counted_and_decides_nothing():
    loose = SET.replace(UPPER, LOOSER)
    Path("earlier.yaml").write_text(loose, encoding="utf-8")
    wider = loose.replace("22 mmHg, 25 mmHg]", "22 mmHg, 24 mmHg, 25 mmHg]")
    Path("sets/adult.yaml").write_text(wider, encoding="utf-8")
    ran = run("compare", "--against", "earlier.yaml", "--format", "json", "sets/adult.yaml")
    (document,) = json.loads(ran.out)["documents"]
    assert (ran.status, document["findings"]) == (0, [])
    assert document["broken_before"] == ["upper-pause-over-adult-threshold"]
    text = run("compare", "--against", "earlier.yaml", "sets/adult.yaml").text
    assert "1 rule that the earlier set broke too: upper-pause-over-adult-threshold." in text


@pytest.mark.usefixtures("repository")
def test_a_section_that_is_ticked_by_default_now_is_a_headline():
    offered = "offered: {preset: in}"
    Path("sets/adult.yaml").write_text(SET.replace(offered, "offered: {preset: out}"), "utf-8")
    for against, said in (("HEAD", "now in no order"), ("sets/adult.yaml", "now in each order")):
        Path("later.yaml").write_text(SET, encoding="utf-8")
        file = "sets/adult.yaml" if against == "HEAD" else "later.yaml"
        assert f"The section titration is {said}" in run("compare", "--against", against, file).text
