"""Each part of the benchmarks works, with as few runs as can be. No time is asserted."""

from __future__ import annotations

import sys
from pathlib import Path

import benchmarks.__main__
import pytest
from benchmarks import audit_rows, cold_start, verdicts
from benchmarks.machine import ROOT, machine
from benchmarks.made_up_sets import made_up
from benchmarks.page import Comparison, Section, figure, page, with_spread
from benchmarks.proofs import Size, comparisons, parts_of, proofs
from benchmarks.timing import Series, Taken, calls, in_turn, process
from click import Context
from each_case import of_each
from order_sets import reading, some_rules

from orderlint.cli import program


def test_a_process_is_measured_and_its_status_looked_at():
    small = process([sys.executable, "-S", "-c", "pass"])
    large = process([sys.executable, "-S", "-c", "b'x' * (30 << 20)"])
    assert small.peak < 30 << 10 < large.peak  # KiB; none has the peak of this process
    assert large.wall > 0
    with pytest.raises(RuntimeError, match="status 7"):
        process([sys.executable, "-S", "-c", "raise SystemExit(7)"])


def test_each_subject_runs_in_turn_and_its_first_run_does_not_count():
    ran = []
    subjects = {
        name: lambda name=name: ran.append(name) or Taken(len(ran), 0) for name in ("ours", "peer")
    }
    series = in_turn(subjects, 2)
    assert ran == ["ours", "peer"] * 3
    assert [run.wall for run in series["peer"].runs] == [4, 6]


def test_a_batch_of_calls_counts_one():
    called = []
    subject = calls(lambda: called.append(1), 1e-3)
    before = len(called)
    assert before > 2
    assert subject().processor < 1e-3
    assert (len(called) - before) * 2 == before + 1  # 1 + 2 + 4 and so on, and the last again


def test_a_series_has_median_quartiles_and_peak():
    series = Series(tuple(Taken(wall, wall / 2, 1024 * wall) for wall in (4, 1, 2, 3, 5)))
    assert (series.wall, series.processor, series.peak) == (3, 1.5, 5)
    assert series.middle_half() == (2, 4)
    assert Series((Taken(2, 1),)).middle_half("processor") == (1, 1)


def section_of(*comparisons: Comparison) -> Section:
    return Section("Title", "Words.", ("what", "ms"), [("a", "1")], comparisons, ("x, not there",))


def test_a_page_has_tables_what_is_absent_and_where_a_peer_did_better():
    lost = [Comparison("reading", "time", "x", 1.5), Comparison("asking", "memory", "x", 20)]
    text = page("- a machine", [section_of(*lost, Comparison("telling", "time", "x", 0.5))])
    assert "| what | ms |\n| --- | ---: |\n| a | 1 |" in text
    assert "Not measured: x, not there." in text
    assert "Of 3 comparisons above, 2 go against orderlint." in text
    assert text.index("| asking | memory | x | 20.0 × |") < text.index(
        "| reading | time | x | 1.50"
    )
    assert "telling" not in text


def test_a_page_without_a_loss_says_so():
    text = page("", [section_of(Comparison("reading", "time", "x", 0.9))])
    assert text.endswith("Of 1 comparisons above, 0 go against orderlint.\n")


def test_a_figure_has_three_digits_that_count():
    values = (12345.6, 99.94, 4.2, 0.25, 0.00123)
    assert [figure(value) for value in values] == ["12,346", "99.9", "4.20", "0.25", "0.0012"]
    assert with_spread(2, (3, 1)) == "2.00 (1.00–3.00)"


def test_the_machine_is_named_with_versions_and_an_editable_install_is_owned_up_to(monkeypatch):
    monkeypatch.setattr("orderlint.__file__", str(ROOT / ".venv/lib/orderlint/__init__.py"))
    assert "EDITABLE" not in machine()  # an ordinary install beside the tree's own files
    monkeypatch.setattr("orderlint.__file__", str(ROOT / "orderlint/__init__.py"))
    text = machine()
    assert "jsonschema 4." in text
    assert "not installed" in text or "polars 2." in text
    assert "EDITABLE" in text


@pytest.fixture
def started(monkeypatch):
    """The commands that would have been run, each in a second; a peer takes half of that."""
    commands = []

    def process(command, statuses):
        assert statuses
        commands.append([str(word) for word in command])
        return Taken(1 / (1 + (cold_start.PEER in commands[-1][0])), 0.5, 2048)

    monkeypatch.setattr(cold_start, "process", process)
    return commands


def test_each_verb_is_measured_beside_the_peer_on_files_that_are_there(started):
    section = cold_start.cold_start(1)
    verbs = {command.split()[0] for command in cold_start.COMMANDS}
    every = set(program.list_commands(Context(program)))
    assert verbs == every - {"audit", "page", "serve"}  # of tables, measured apart; and servers
    assert {Path(command[0]).name for command in started} == {"orderlint", cold_start.PEER}
    paths = [Path(word) for command in started for word in command if "/" in word]
    assert all(path.exists() for path in paths)
    assert [each.factor for each in section.comparisons if each.kind == "time"] == [
        2.0 for _ in cold_start.COMMANDS
    ]
    assert len({len(row) for row in (section.head, *section.rows)}) == 1


def test_commands_that_are_measured_can_be_given():
    for command in cold_start.COMMANDS:
        verb, *words = cold_start.arguments(command)
        assert program.get_command(Context(program), verb).make_context(verb, words)


def test_without_the_peer_it_is_named_as_not_measured(started, monkeypatch):
    monkeypatch.setattr(cold_start, "PEER", "nobody-has-this")
    monkeypatch.setattr(cold_start, "COMMANDS", ("new order",))
    section = cold_start.cold_start(1)
    assert section.rows[0][-1] == "not measured"
    assert "Not measured: nobody-has-this" in str(section)
    assert len(section.rows[0]) == len(section.head)
    assert len(started) == 2
    assert "Not measured: nobody-has-this" in str(cold_start.verify_again(1))


def test_the_clean_order_is_verified_several_times_in_a_row(started):
    section = cold_start.verify_again(1, times=3)
    assert [row[-2:] for row in section.rows] == [("2.00", "1.00")] * 3
    assert len(started) == 3 * 2 * 2


def test_attack_files_stand_beside_their_limits(started):
    section = cold_start.attack_files(1, most=2)
    assert [row[-2:] for row in section.rows] == [("1.00 s", "1.00 s"), ("2.00 MiB", "200 MiB")]
    assert len(started) == 4


@of_each(("order", "file"), verdicts.ORDERS.items())
def test_an_order_has_the_same_findings_from_each_form(order, file):
    as_yaml, as_json, document = verdicts.forms(file)
    found = [verdicts.verify(data, name) for data, name in ((as_yaml, file), (as_json, "o.json"))]
    rules = [[finding.rule for finding in each.assessment.findings] for each in found]
    assert rules[0] == rules[1]
    most = {"clean": 0, "one finding": 1, "minimal": 99}
    assert len(rules[0]) <= most[order]
    assert (order == "minimal") == (len(rules[0]) > 1)
    assert not any(peer(document) for peer in verdicts.validators().values())
    assert all(peer({}) for peer in verdicts.validators().values())


def test_verdicts_are_counted_from_each_form(monkeypatch):
    monkeypatch.setattr(verdicts, "ORDERS", {"minimal": "minimal.yaml"})
    monkeypatch.setitem(verdicts.PEERS, "nobody", "no_such_module")
    section = verdicts.verdicts(1, seconds=0)
    begins = [row[0].partition(" from ")[2] for row in section.rows]
    assert begins[:3] == ["an order read", "JSON bytes", "YAML bytes"]
    assert {row[-1] for row in section.rows} == {"not measured"}
    assert "Not measured: nobody, which is not installed" in str(section)
    assert len({len(row) for row in (section.head, *section.rows)}) == 1


@pytest.mark.slow
@pytest.mark.parametrize("measure", [proofs, comparisons])
def test_sets_are_proved_and_compared_beside_enumeration(measure, monkeypatch):
    monkeypatch.setattr("benchmarks.proofs.load", lambda _: some_rules(3))
    ended = measure(1, [Size(1, 2)])
    assert len(ended.comparisons) == 1
    assert len({len(row) for row in (ended.head, *ended.rows)}) == 1
    monkeypatch.setattr("benchmarks.made_up_sets.PATIENCE", 0)
    given_up = measure(1, [Size(1, 2), Size(2, 2)])
    assert [row[-1] for row in given_up.rows] == ["did not end", "not tried"]
    assert not given_up.comparisons


def test_the_parts_of_a_proof_find_the_order_that_breaks_a_rule():
    parts = parts_of(made_up(2, 50), reading("irrigation.rate").order_rules)
    parts["verdicts"]()
    assert parts["nearest orders"]()


def test_an_audit_that_cannot_be_measured_is_named(monkeypatch):
    monkeypatch.setattr(benchmarks.__main__, "NEEDED", ("json", "no_such_module"))
    text = str(benchmarks.__main__.audit(1))
    assert text.endswith("Nothing.\n\nNot measured: no_such_module, which is not there.")


def test_the_page_of_parts_that_are_named_is_written_to_a_file(monkeypatch, tmp_path):
    given = ["benchmarks", "verify", "--rounds", "7", "--output", str(tmp_path / "page.md")]
    monkeypatch.setattr(sys, "argv", given)
    part = {"verify": lambda rounds: Section("Title", f"{rounds} runs.", (), [])}
    monkeypatch.setattr(benchmarks.__main__, "PARTS", part)
    benchmarks.__main__.main()
    text = (tmp_path / "page.md").read_text(encoding="utf-8")
    assert text.startswith("# Benchmarks\n")
    assert "## Title\n\n7 runs.\n" in text


@pytest.mark.slow
def test_an_audit_is_measured_by_its_steps_beside_rules_by_hand(monkeypatch):
    monkeypatch.setattr(audit_rows, "process", lambda command, _: Taken(1, 1, len(command)))
    section = audit_rows.audit_rows(1, rows=60, seconds=0)
    assert section.rows[0][:2] == (audit_rows.COMMAND, "60.0 (60.0–60.0)")
    assert len(section.comparisons) == 2


def test_rules_by_hand_that_find_other_rows_are_no_peer(monkeypatch):
    monkeypatch.setattr(audit_rows, "counted", lambda _: {"pause-limits-reversed": 61})
    with pytest.raises(AssertionError, match="'pause-limits-reversed': 61"):
        audit_rows.audit_rows(1, rows=60)
