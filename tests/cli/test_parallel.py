"""Several sets at a time: the same report, whatever happens to one of the processes."""

from __future__ import annotations

import json
import os
import signal
import threading
import time

import pytest
from order_sets import HEAD
from running import AT, started

from orderlint.cli.parallel import Workers, can_fork, cores


@pytest.fixture
def sets(tmp_path):
    """A set, and a file that is none."""
    files = [tmp_path / "set.yaml", tmp_path / "order.yaml"]
    files[0].write_text(HEAD + "  treat_above: 8 mmHg\n", encoding="utf-8")
    files[1].write_text("document: order\nformat: 1\n", encoding="utf-8")
    return files


def test_the_report_is_the_same_however_many_work(sets):
    said = []
    for jobs in ("1", "3"):
        process = started("review", *AT, "--format", "json", "--jobs", jobs, *sets)
        out, err = process.communicate()
        said.append((out, [line for line in err.splitlines() if b"checked:" not in line]))
        assert process.returncode == 2
    assert said[0] == said[1]
    assert len(json.loads(said[0][0])["documents"]) == 1


def doubled(number):
    return [SHARED, 2 * number]


SHARED = object()


def test_results_come_in_order_and_share_what_is_ours():
    slow_first = Workers(lambda n: time.sleep(0.05 * (n == 0)) or doubled(n), lost, [SHARED])
    found = list(slow_first.each(range(5), 3))
    assert [number for _, number in found] == [0, 2, 4, 6, 8]
    assert all(shared is SHARED for shared, _ in found)


def lost(number):
    return f"{number} is lost"


def test_a_process_that_ends_without_a_result_is_said_to():
    killed = Workers(lambda n: os.kill(os.getpid(), signal.SIGKILL) if n == 1 else n, lost, ())
    assert list(killed.each(range(3), 2)) == [0, "1 is lost", 2]


def test_one_that_is_stopped_leaves_no_process_behind():
    workers = Workers(lambda _: time.sleep(60), lost, ())

    def interrupt():
        while len(workers.running) < 2:  # what comes while a process is copied is not heard
            time.sleep(0.01)
        os.kill(os.getpid(), signal.SIGINT)

    threading.Thread(target=interrupt).start()
    with pytest.raises(KeyboardInterrupt):
        list(workers.each(range(3), 2))
    assert not any(process.is_alive() for _, process in workers.running.values())


def test_a_process_with_other_threads_is_not_copied():
    waiting = threading.Event()
    other = threading.Thread(target=waiting.wait)
    other.start()
    assert not can_fork()
    waiting.set()
    other.join()
    assert cores() >= 1
