"""A prebuilt rulebook is the one of the rule files, word for word; any other is not used."""

from __future__ import annotations

import copy
import functools
import json
import multiprocessing
import os
import pickle
import shutil
import stat
import time
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import pytest
from rulebook.test_imports import imports
from running import AT, CLEAN, run

import orderlint
from orderlint.language.tree import And, Given, Or
from orderlint.rulebook import load, prebuilt_files
from orderlint.rulebook.plain_data import from_plain, plain
from orderlint.rulebook.prebuilt import Prebuilt
from orderlint.rulebook.prebuilt_files import found, keep, write_rulebook
from orderlint.rulebook.prebuilt_parts import parts_of
from orderlint.rulebook.source_documents import shipped_files

PURPOSES = ["order", "read-back", "order-set", "change", "all"]
LATER = time.time_ns() * 2
BROKEN = CLEAN.with_name("treat-above-over-upper-pause.yaml")


parts = functools.cache(load._whole)


@functools.cache
def from_rule_files(purpose):
    # What is kept may have been made under a policy of another test, and has its values at hand.
    shipped_files.cache_clear()
    return load._build(purpose)


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """A cache of this user in a checkout whose files have not changed for long; the folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(prebuilt_files, "SHIPPED", str(tmp_path / "no wheel"))
    monkeypatch.setattr(prebuilt_files, "_BEGAN", LATER)
    monkeypatch.setattr(load, "_whole", parts)
    load._built_in.cache_clear()
    yield tmp_path / "cache" / "orderlint"
    load._built_in.cache_clear()


@pytest.fixture
def kept(cache):
    """The file that is kept there."""
    assert keep(parts) is parts()
    (path,) = cache.iterdir()
    return path


@pytest.mark.slow
@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize("purpose", PURPOSES)
def test_it_is_the_rulebook_of_the_rule_files_for_every_purpose(purpose):
    made, wanted = load.load(purpose), from_rule_files(purpose)
    assert [*made.rules] == [*wanted.rules]
    for name, rule in wanted.rules.items():
        assert made.rules[name] == rule
    assert wanted._replace(rules={}) == made._replace(rules={})
    assert [*made.values] == [*wanted.values]
    assert len(made.families) == len(wanted.families)


def test_what_is_installed_has_the_rulebook_of_its_rule_files(tmp_path):
    """A checkout has none, as it could be stale there."""
    is_checkout = Path(prebuilt_files.PACKAGE).parent == CLEAN.parents[1]
    assert Path(prebuilt_files.SHIPPED).is_dir() != is_checkout
    write_rulebook(parts(), tmp_path / "made")
    (made,) = (tmp_path / "made").iterdir()
    assert made.name == "rulebook.json"
    if not is_checkout:
        assert Path(prebuilt_files.SHIPPED, made.name).read_bytes() == made.read_bytes()


def test_a_wheel_uses_what_was_built_with_it_and_no_cache(cache, tmp_path, monkeypatch):
    monkeypatch.setattr(prebuilt_files, "SHIPPED", str(tmp_path / "made"))
    load.ship(tmp_path / "made")
    assert load.load("order") == from_rule_files("order")
    assert not cache.exists()


@pytest.mark.usefixtures("kept")
def test_a_rule_whose_words_are_not_read_yet_is_one_like_any_other():
    rules = load.load("order").rules
    name = "treat-above-over-upper-pause"
    rule = from_rule_files("order").rules[name]
    assert replace(rules[name], instances=()) == replace(rule, instances=())
    for other in (copy.copy, copy.deepcopy, lambda each: pickle.loads(pickle.dumps(each))):
        load._built_in.cache_clear()
        assert other(load.load("order").rules[name]) == rule
    with pytest.raises(FrozenInstanceError):
        load.load("order").rules[name].says = "nothing"
    with pytest.raises(AttributeError, match="no attribute 'said'"):
        load.load("order").rules[name].said  # noqa: B018


@pytest.mark.usefixtures("kept")
def test_words_are_read_only_where_something_is_found(monkeypatch):
    conditions, words = found()
    read = []
    monkeypatch.setattr(
        load, "found", lambda: (conditions, lambda: read.append("words") or words())
    )
    assert run("verify", CLEAN, *AT).status == 0
    assert read == []
    assert b"DO NOT START" in run("verify", BROKEN, *AT).out
    assert read == ["words"]


def test_what_is_kept_is_the_users_alone(kept, cache):
    assert stat.S_IMODE(cache.stat().st_mode) == 0o700
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


DAMAGES = {
    "cut short": lambda data: data[:-1],
    "longer": lambda data: data + b" ",
    "one sign": lambda data: data.replace(b'"<="', b'"<"', 1),
    "one word": lambda data: data.replace(b" is ", b" isn't ", 1),
    "empty": lambda _: b"",
    "no seal": lambda data: data.partition(b"\n")[2],
    "no words": lambda data: data.rpartition(b"\n")[0],
    "no rules": lambda data: data[:65] + b'{"policy":"","outflow":null,"trees":[],"rules":[]}',
    "no text": lambda data: b"\xff" * len(data),
}


@pytest.mark.slow
@pytest.mark.parametrize("damage", DAMAGES)
def test_what_is_damaged_is_not_used(damage, kept):
    data = DAMAGES[damage](kept.read_bytes())
    assert data != kept.read_bytes()
    kept.write_bytes(data)
    assert found() is None
    assert run("verify", BROKEN, *AT).status == 1
    assert load.load("order").rules.keys() == from_rule_files("order").rules.keys()


def linked(path):
    path.rename(path.with_name("elsewhere"))
    path.symlink_to("elsewhere")


def piped(path):
    path.unlink()
    os.mkfifo(path, 0o600)


TAMPERED = {
    "a link": linked,
    "a pipe": piped,
    "a folder": lambda path: (path.unlink(), path.mkdir()),
    "readable by others": lambda path: path.chmod(0o644),
    "writable by others": lambda path: path.chmod(0o622),
}


@pytest.mark.slow
@pytest.mark.parametrize("how", TAMPERED)
def test_what_another_could_have_put_there_is_not_used(how, kept):
    TAMPERED[how](kept)
    assert found() is None
    assert run("verify", BROKEN, *AT).status == 1


@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize("how", ["a link", "writable by others", "another's"])
def test_a_folder_that_is_not_the_users_alone_is_not_used(how, cache, monkeypatch):
    if how == "a link":
        linked(cache)
    elif how == "writable by others":
        cache.chmod(0o770)
    else:
        monkeypatch.setattr(os, "geteuid", lambda: cache.stat().st_uid + 1)
    assert found() is None
    assert keep(parts) is None
    assert load.load("order") == from_rule_files("order")


@pytest.mark.usefixtures("cache")
@pytest.mark.parametrize("home", ["/dev/null", "/proc/self/nowhere", "\0"])
def test_whoever_cannot_write_runs_without(home, monkeypatch):
    monkeypatch.setattr(prebuilt_files, "_cache_home", lambda: home)
    assert keep(parts) is None
    assert load.load("order") == from_rule_files("order")
    assert run("verify", CLEAN, *AT).status == 0


def test_a_full_disk_leaves_nothing_behind(cache, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("orderlint.own_files.write_all", full)
    assert load.load("order") == from_rule_files("order")
    assert [*cache.iterdir()] == []


def test_a_cache_is_where_the_standard_has_it(monkeypatch):
    monkeypatch.setenv("HOME", "/home/nurse")
    for given in ("", "not/absolute"):
        monkeypatch.setenv("XDG_CACHE_HOME", given)
        assert prebuilt_files._cache_path() == "/home/nurse/.cache/orderlint"
    monkeypatch.setenv("XDG_CACHE_HOME", "/var/tmp/own")
    assert prebuilt_files._cache_path() == "/var/tmp/own/orderlint"


@pytest.fixture
def tree(kept, tmp_path, monkeypatch):  # noqa: ARG001 - made before its files are copied
    """A copy of all files by which what is kept is known, unchanged."""
    copies = {}
    for name in ("_sources", "_code"):
        copies[name] = []
        for path in getattr(prebuilt_files, name)():
            there = tmp_path / name / str(len(copies[name])) / Path(path).name
            there.parent.mkdir(parents=True)
            shutil.copyfile(path, there)
            copies[name].append(str(there))
        monkeypatch.setattr(prebuilt_files, name, lambda name=name: iter(copies[name]))
    assert found() is not None
    return {Path(path).name: Path(path) for paths in copies.values() for path in paths}


@pytest.mark.parametrize(
    "name", ["band.yaml", "policy.yaml", "order.schema.json", "lower.py", "units.py", "rule.py"]
)
def test_what_was_kept_of_other_files_is_not_used(name, tree):
    assert prebuilt_files._digest() != prebuilt_files._digest(code=True)
    before = tree[name].read_bytes()
    tree[name].write_bytes(before + b"\n")
    assert found() is None
    tree[name].write_bytes(before)
    assert found() is not None


@pytest.mark.usefixtures("kept")
def test_what_was_kept_by_another_version_is_not_used(monkeypatch):
    monkeypatch.setattr(prebuilt_files, "__version__", f"{orderlint.__version__}.1")
    assert found() is None


def test_nothing_is_kept_or_used_where_a_file_has_just_changed(tree, monkeypatch):
    """What runs was read before, or perhaps while the file was written."""
    monkeypatch.setattr(prebuilt_files, "_BEGAN", tree["lower.py"].stat().st_ctime_ns + 10**9)
    assert found() is None
    assert keep(parts) is None
    assert load.load("order") == from_rule_files("order")


def test_nothing_is_kept_where_a_file_changes_while_it_is_made(cache, monkeypatch):
    monkeypatch.setattr(prebuilt_files, "_digest", lambda **_: os.urandom(8).hex())
    assert keep(parts) is parts()
    assert [*cache.iterdir()] == []


def test_all_code_that_makes_a_rulebook_is_among_that_by_which_it_is_known():
    root = Path(orderlint.__file__).parent
    ahead, seen = ["orderlint.rulebook.build"], set()
    while ahead:
        path = root.joinpath(*ahead.pop().split(".")[1:]).with_suffix(".py")
        if path.exists() and path not in seen:
            seen.add(path)
            ahead += [name for name in imports(path) if name.startswith("orderlint.")]
    known = {Path(path).resolve() for path in prebuilt_files._code()}
    assert {path.resolve() for path in seen} <= known
    assert len(seen) > 30


@pytest.mark.slow
@pytest.mark.parametrize("then", ["gone", "another's"])
def test_what_is_in_use_is_whole_whatever_becomes_of_the_file(then, kept):
    """Words of other rule files are never joined to these conditions."""
    book = load.load("order")
    kept.unlink()
    if then == "another's":
        kept.write_text("no rulebook")
    assert book == from_rule_files("order")


@pytest.mark.slow
def test_many_first_runs_at_once_keep_what_each_can_use(cache):
    parts()
    context = multiprocessing.get_context("fork")
    runs = [context.Process(target=_first_run) for _ in range(4)]
    for each in runs:
        each.start()
    for each in runs:
        each.join()
    assert [each.exitcode for each in runs] == [0] * 4
    assert len([*cache.iterdir()]) == 1


def _first_run():
    for _ in range(2):
        load._built_in.cache_clear()
        assert load.load("order").rules["treat-above-over-upper-pause"].says
        keep(parts)
        assert found() is not None


def test_parts_are_plain_data_and_nothing_else():
    made = parts()
    assert json.loads(json.dumps(made)) == [made.conditions, made.words]
    again = Prebuilt(lambda: made.words).rulebook(made.conditions)
    assert parts_of(again) == made


def test_conditions_that_are_the_same_as_tuples_stay_apart():
    """An `And` equals an `Or` of the same; a rule may have the one where another has the other."""
    book = from_rule_files("all")
    rule = book.rules["treat-above-over-upper-pause"]
    both = Given(("therapy",)), Given(("treat_above",))
    asked = [Or((kind(both), both[0])) for kind in (And, Or)]
    instances = tuple(rule.instances[0]._replace(condition=tree) for tree in asked)
    changed = replace(rule, instances=instances, covers=frozenset())
    made = parts_of(book._replace(rules={rule.id: changed}))
    again = Prebuilt(lambda: made.words).rulebook(made.conditions).rules[rule.id]
    assert [type(each.condition.items[0]) for each in again.instances] == [And, Or]


@pytest.mark.parametrize("value", [object(), {1: "one"}, 0.5, {"a"}, Path(), print])
def test_what_is_not_plain_cannot_be_kept(value):
    with pytest.raises(TypeError):
        plain((value,))


@pytest.mark.parametrize("data", [["system", "true"], ["os.system", "true"], ["Path"], ["plain"]])
def test_data_name_no_class_beyond_the_list(data):
    with pytest.raises(KeyError):
        from_plain(data)
