"""Puts the service together: files, rulebook, port; and what it tells and keeps of requests.

Never an argument, and never an answer.
"""

from __future__ import annotations

import gc
import os
import time
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import orderlint
from orderlint.api.policies import policy_digest, rulebook_for
from orderlint.api.sources import read_file
from orderlint.cli.append import append_lines
from orderlint.cli.exit_status import INTERNAL_FAULT, USAGE, fault_words, status_of
from orderlint.cli.inputs import read_codes, read_content, read_site_policy
from orderlint.cli.outputs import print_errors
from orderlint.cli.record import START, CheckRecord, append_record, feedback_line
from orderlint.conditions import order_conditions
from orderlint.fhir.codes import CODES, ORDER
from orderlint.fhir.concept_map import OURS
from orderlint.finding import Level, Refused
from orderlint.reading.unicode_checks import LARGEST_FILE
from orderlint.service.app import PAGES, Service
from orderlint.service.checks import CheckedOrder, Checker
from orderlint.service.guards import own_hosts
from orderlint.service.pages import KeptPages
from orderlint.service.server import Server, address_of, is_anywhere, is_loopback, listening
from orderlint.service.tokens import TokenGate
from orderlint.service.trust import Trust, read_trust

if TYPE_CHECKING:
    import socket
    from collections.abc import Callable, Sequence

    from orderlint import SitePolicy
    from orderlint.service.hooks import Feedback

_NO_TRUST = (
    "Without --trust the service listens on this machine alone (127.0.0.1, ::1 or localhost)."
)
_NO_ADDRESS = "`address:` is missing: at {host} the service does not know where clients find it."


class ServeArguments(NamedTuple):
    """The arguments of the verb."""

    host: str
    port: int
    trust: str | None
    concept_map: str | None
    policy: str | None
    record: str | None


def server_of(given: ServeArguments, now: Callable[[], int]) -> tuple[Server, str]:
    """The service at its port, and the address at which it listens there.

    `now` gives the instant of checking. Raises Refused for a file that is not as it has to be, or
    a place where nobody may listen without trust, CannotWrite for a record to which nothing can be
    appended, and OSError where the port is in use.
    """
    if given.record is not None:
        append_lines([], given.record, START)
    trust = _trust(given.trust)
    policy = read_site_policy(given.policy)
    codes = read_codes(given.concept_map) or OURS
    bound = listening(given.host, given.port)
    try:
        _check_place(bound, trust, given)
    except Refused:
        bound.close()
        raise
    address = address_of(bound)
    base = trust.address if trust and trust.address else address
    checker = Checker(
        rulebook_for("order", policy),
        codes,
        now,
        KeptPages(time.monotonic),
        lambda name: f"{base}{PAGES}{name}",
    )
    service = Service(
        base,
        own_hosts(address),
        checker,
        TokenGate(trust, time.time) if trust else None,
        trust.origins if trust else None,
        _FileRecords(given.record, policy_digest(policy)),
    )
    _warm_up(policy)
    return Server(service, bound), address


def _trust(file: str | None) -> Trust | None:
    if file is None:
        return None
    folder = "" if file == "-" else os.path.dirname(file)  # noqa: PTH120 - a name as it was given

    def read_beside(name: str) -> bytes:
        return read_file(os.path.join(folder, name), LARGEST_FILE)  # noqa: PTH118

    return read_trust(read_content(file).read("trust"), read_beside)


def _check_place(bound: socket.socket, trust: Trust | None, given: ServeArguments) -> None:
    """Raise Refused where the service may not listen, or cannot say where it is found."""
    if trust is None and not is_loopback(bound):
        raise Refused(_NO_TRUST, given.host)
    if trust is not None and not trust.address and is_anywhere(bound):
        raise Refused(_NO_ADDRESS.format(host=given.host), given.trust or "")


def _warm_up(policy: SitePolicy | None) -> None:
    """Have all at hand that a first request would wait for."""
    code = {"coding": [{"system": CODES, "code": ORDER}]}
    request = {"resourceType": "DeviceRequest", "codeCodeableConcept": code}
    orderlint.verify(request, policy=policy).to_html()
    # A list where no setting has one is looked at by the schema itself.
    orderlint.verify({"document": "order", "format": 1, "id": []}, policy=policy)
    order_conditions(rulebook_for("order", policy)).compiled()
    gc.collect()
    # The rulebook stays for good: to look through it for garbage takes longer than ten requests.
    gc.freeze()


class _FileRecords:
    """Tells requests and faults on standard error, and keeps checks and feedback in a file."""

    def __init__(self, file: str | None, policy: str) -> None:
        self._file = file
        self._policy = policy

    def request(self, line: str) -> None:
        time_words = datetime.now(UTC).isoformat(timespec="milliseconds")
        print_errors(f"{time_words.replace('+00:00', 'Z')} {line}")

    def fault(self, error: Exception) -> None:
        print_errors(fault_words(error))

    def checks(self, checked: Sequence[CheckedOrder]) -> None:
        for each in checked:
            if each.fault is not None:
                self.fault(each.fault)
        append_record(self._file, [self._check(each).line for each in checked])

    def feedback(self, hook: str, said: Sequence[Feedback]) -> bool:
        return (
            append_record(self._file, [partial(feedback_line, hook, each) for each in said])
            != USAGE
        )

    def _check(self, checked: CheckedOrder) -> CheckRecord:
        found = checked.assessment
        if found is None:
            status = USAGE if checked.fault is None else INTERNAL_FAULT
        else:
            status = status_of(found, Level.CLARIFY)
        return CheckRecord(
            "serve",
            (checked.digest,),
            self._policy,
            checked.at,
            status,
            found.verdict if found else None,
            (found,) if found else (),
            checked.card,
        )
