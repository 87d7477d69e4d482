"""A running service measured from outside: resident memory, and processor time a request.

    PYTHONPATH=tests python -m service.client.load SECONDS [CONNECTIONS]

First one request at a time, 2,000 of them, whose processor time is what all threads of the service
took (/proc/PID/task/*/schedstat) from the request to its next rest; then 8 connections at once for
so many seconds. Nothing is asserted but that answers are valid: it prints what it measured.
"""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from service.client.checker import faults_of_cards
from service.client.hooks import call, drawn_call
from service.client.orders import device_request, examples
from service.client.running_service import as_json, started
from service.client.wire import Connection, request

if TYPE_CHECKING:
    from service.client.running_service import RunningService

ALONE = 2000
KINDS = ("clean order", "mixed calls")


def main(seconds: float, connections: int = 8) -> None:
    """Start a service, measure it, end it."""
    with tempfile.TemporaryDirectory() as folder:
        service = started(Path(folder))
        try:
            for kind in KINDS:
                _print_by_orders(kind, _processor_times(service, kind))
            _print_memory(*_under_load(service, seconds, connections))
        finally:
            status, took = service.end()
            print(f"SIGTERM: status {status} after {took:.2f} s")


def _bodies(kind: str, count: int, seed: int) -> list[tuple[str, bytes]]:
    """Calls with their hooks, no order among them twice."""
    draw = Random(seed)
    if kind == KINDS[0]:
        numbered = (device_request(examples()[0], str(number)) for number in range(count))
        calls = [call("order-sign", order) for order in numbered]
    else:
        calls = [drawn_call(draw)[0] for _ in range(count)]
    return [(one["hook"], as_json(one)) for one in calls]


def _request(service: RunningService, hook: str, body: bytes) -> bytes:
    return request("POST", service.path_of(hook), service.host, body)


def _processor_times(service: RunningService, kind: str) -> list[tuple[int, float]]:
    """Of each request, one after another, its orders of ours and milliseconds of processor time."""
    sent = [_request(service, *one) for one in _bodies(kind, ALONE, 1)]
    times = []
    with Connection(service.address) as connection:
        for data in sent:
            before = _at_rest(service)
            connection.send(data)
            answer = connection.answer()
            took = (_at_rest(service) - before) / 1e6
            assert faults_of_cards(answer) == []
            times.append((len(answer.json["cards"]), took))
    return times


def _at_rest(service: RunningService) -> int:
    """Its processor time, once that stands still."""
    before = service.processor_ns()
    while True:
        time.sleep(0.001)
        now = service.processor_ns()
        if now == before:
            return now
        before = now


def _print_by_orders(kind: str, times: list[tuple[int, float]]) -> None:
    """All of a kind; and, of mixed calls, each number of orders of ours by itself."""
    _print_times(kind, [took for _, took in times])
    counts = sorted({count for count, _ in times})
    for count in counts if len(counts) > 1 else ():
        _print_times(f"  orders of ours: {count}", [took for one, took in times if one == count])


def _print_times(kind: str, times: list[float]) -> None:
    ranked = sorted(times)
    shares = {share: ranked[int(share / 100 * (len(ranked) - 1))] for share in (50, 90, 99)}
    listed = ", ".join(f"p{share} {value:.2f}" for share, value in shares.items())
    print(f"{kind}: {len(times)} requests, processor ms: {listed}, most {ranked[-1]:.2f}")


def _under_load(
    service: RunningService, seconds: float, connections: int
) -> tuple[list[int], Counter[str], float]:
    """Resident bytes each second, what was answered, and processor seconds."""
    counts: list[Counter[str]] = [Counter() for _ in range(connections)]
    until = time.monotonic() + seconds
    threads = [
        threading.Thread(target=_ask_on, args=(service, number, until, count), daemon=True)
        for number, count in enumerate(counts)
    ]
    began = service.processor_ns()
    for thread in threads:
        thread.start()
    memory = []
    while time.monotonic() < until:
        memory.append(service.resident_bytes())
        time.sleep(min(1.0, seconds / 50))
    for thread in threads:
        thread.join()
    return memory, sum(counts, Counter()), (service.processor_ns() - began) / 1e9


def _ask_on(service: RunningService, number: int, until: float, counts: Counter[str]) -> None:
    """Ask over one connection until then."""
    draw, bodies = Random(number), _bodies(KINDS[1], 200, number)
    sent = [_request(service, *one) for one in bodies]
    with Connection(service.address) as connection:
        while time.monotonic() < until:
            connection.send(draw.choice(sent))
            faults = faults_of_cards(connection.answer())
            counts["wrong" if faults else "valid"] += 1


def _print_memory(memory: list[int], counts: Counter[str], processor: float) -> None:
    mebibytes = [value / 2**20 for value in memory]
    tenth = max(1, len(mebibytes) // 10)
    tenths = [max(mebibytes[at : at + tenth]) for at in range(0, tenth * 10, tenth)]
    answered = counts.total()
    print(f"{answered:,} answers, {counts['wrong']} wrong, {processor:.1f} s of processor time")
    print(f"{processor / max(1, answered) * 1000:.2f} ms of it a request")
    print("resident MiB, most in each tenth:", ", ".join(f"{value:.1f}" for value in tenths))
    growth = tenths[-1] / tenths[4] - 1
    print(f"last tenth against the fifth: {growth:+.1%}")


if __name__ == "__main__":
    main(float(sys.argv[1]), *map(int, sys.argv[2:3]))
