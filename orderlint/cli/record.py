"""Records checks: one line of JSON each, with digests, verdict and rule ids.

Never a text, a value or a name from a document, a file name, or a word of a report.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from orderlint import __version__
from orderlint.cli.exit_status import BELOW, INTERRUPTED, STOPPED, USAGE, heaviest
from orderlint.cli.inputs import digest_of_whole, read_content, read_site_policy
from orderlint.cli.options import checked_output, datetime_of
from orderlint.cli.outputs import print_errors, print_failure
from orderlint.finding import Finding, Unchecked, Verdict
from orderlint.own_files import CannotWrite

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from orderlint import Result, SitePolicy
    from orderlint.api.sources import Content
    from orderlint.assessment import Assessment
    from orderlint.cli.batch import Batch
    from orderlint.service.hooks import Feedback

FORMAT = 1
START = f'{{"format":{FORMAT},"recorded":"'
"""How each line starts."""


class CheckRecord(NamedTuple):
    """One check as a line has it.

    `documents` are the SHA-256 of what was read, None for what could not be; `policy` is that of
    the policy. `at` is the instant as of which was judged, in milliseconds since 1970 UTC.
    `verdict` is None where nothing was judged. `status` is what this check alone exits with. `card`
    is the id of the card that a service answered with, by which feedback names it; '' elsewhere.
    """

    verb: str
    documents: Sequence[str | None]
    policy: str
    at: int
    status: int
    verdict: Verdict | None = None
    parts: Sequence[Assessment] = ()
    card: str = ""

    def line(self, recorded: datetime) -> str:
        """The line, recorded at a time in UTC; ASCII, ending in a line feed."""
        found = [item for part in self.parts for item in part.findings]
        unchecked = [item for part in self.parts for item in part.unchecked]
        suppressed = [item.finding for part in self.parts for item in part.suppressed]
        members = {
            "documents": self.documents,
            "policy": self.policy,
            "verdict": self.verdict,
            "findings": _rules(found),
            "unchecked": _rules(unchecked),
            "suppressed": _rules(suppressed),
            "status": self.status,
            **({"card": self.card} if self.card else {}),
        }
        return _line(self.verb, datetime_of(self.at), recorded, members)


def feedback_line(hook: str, said: Feedback, recorded: datetime) -> str:
    """The line on what became of a card from a service, by ids alone, as a check has it."""
    members = {
        "hook": hook,
        "card": said.card,
        "outcome": said.outcome,
        "reason": said.reason,
    }
    return _line("feedback", said.at, recorded, members)


def _line(verb: str, at: datetime, recorded: datetime, members: Mapping[str, object]) -> str:
    import json  # noqa: PLC0415 - cold start

    head = {
        "format": FORMAT,
        "recorded": _in_utc(recorded),
        "as_of": _in_utc(at),
        "verb": verb,
        "version": __version__,
    }
    return json.dumps({**head, **members}, separators=(",", ":")) + "\n"


def _in_utc(time: datetime) -> str:
    return time.isoformat(timespec="seconds").replace("+00:00", "Z")


def _rules(items: Iterable[Finding | Unchecked]) -> list[dict[str, str]]:
    """Each rule once, with its level; of an order from a set, the rule that it breaks."""
    rules = dict.fromkeys((_rule(item), item.level) for item in items)
    return [{"rule": rule, "level": level} for rule, level in rules]


def _rule(item: Finding | Unchecked) -> str:
    return item.rule if isinstance(item, Unchecked) else item.breaks or item.rule


def check_record(file: str | None, others: Iterable[str | None]) -> None:
    """UsageError where a record is no file, or is one of `others`."""
    if file in {"", "-"}:
        raise click.UsageError("--record takes a file, to which it appends.")
    checked_output(file, others, "--record")


def append_record(file: str | None, lines: Sequence[Callable[[datetime], str]]) -> int:
    """Append lines to a record, where one is wanted; the exit status of doing so.

    Each is made for the time at which it is recorded, in UTC. A failure is said on standard error;
    it takes nothing back of what was reported.
    """
    if file is None or not lines:
        return BELOW
    from orderlint.cli.append import append_lines  # noqa: PLC0415 - cold start

    now = datetime.now(UTC)
    try:
        append_lines([line(now) for line in lines], file, START)
    except CannotWrite as error:
        print_errors(f"The check was not recorded. {error}")
        return USAGE
    return BELOW


def record_batch(
    file: str | None, verb: str, batch: Batch[Any], statuses: Sequence[int], at: int
) -> int:
    """Record each document of a batch; the exit status of doing so.

    `statuses` are those of its results, then those of what was not checked. Nothing is recorded
    under a policy that is refused, as no document was looked at.
    """
    if file is None:
        return BELOW
    from orderlint.api.policies import policy_digest  # noqa: PLC0415 - cold start

    policy = policy_digest(batch.policy)
    checks = [
        CheckRecord(
            verb, _digests(result), policy, at, status, result.verdict, (result.assessment,)
        )
        for result, status in zip(batch.results, statuses, strict=False)
    ]
    checks += [
        CheckRecord(verb, (digest,), policy, at, status)
        for digest, status in zip(
            batch.unread_digests, statuses[len(batch.results) :], strict=False
        )
    ]
    return append_record(file, [check.line for check in checks])


def _digests(result: Result[Any]) -> list[str]:
    return [content.digest for content in result.contents]


class Recorder:
    """Follows one check from what it reads to its exit status, and records it at the end.

    Nothing is recorded of wrong usage, under a policy that is refused, or of a read-back that was
    stopped, since in none of these anything was judged.
    """

    def __init__(self, file: str | None, verb: str, at: int) -> None:
        self._file = file
        self._check = CheckRecord(verb, [], "", at, USAGE)

    def read_policy(self, file: str | None) -> SitePolicy | None:
        """The site policy in a file. Raises Refused."""
        from orderlint.api.policies import policy_digest  # noqa: PLC0415 - cold start

        policy = read_site_policy(file)
        self._check = self._check._replace(policy=policy_digest(policy))
        return policy

    def read(self, file: str) -> Content:
        """The content of a document. Raises Refused."""
        content = self.read_by(read_content, file)
        assert content is not None  # INVARIANT: what cannot be read is refused
        return content

    def read_by(self, read: Callable[[str], Content | None], file: str) -> Content | None:
        """What `read` finds of a document, None where it was not there. Raises Refused."""
        before = self._check.documents
        self._check = self._check._replace(documents=[*before, None])
        content = read(file)
        digest = None if content is None else digest_of_whole(content.data)
        self._check = self._check._replace(documents=[*before, digest])
        return content

    def found(self, verdict: Verdict, parts: Sequence[Assessment], at: int | None = None) -> None:
        """Take in what was found; `parts` are all that count for the exit status.

        `at` is the instant of checking where that is another than at first.
        """
        at = self._check.at if at is None else at
        self._check = self._check._replace(verdict=verdict, parts=parts, at=at)

    def run(self, check: Callable[[], int]) -> int:
        """The exit status of `check`, or that of recording it."""
        try:
            status = check()
        except click.ClickException:
            raise
        except Exception as error:
            status = print_failure(error)
        if status in {STOPPED, INTERRUPTED}:
            return status
        return heaviest((status, self._record(status)))

    def _record(self, status: int) -> int:
        check = self._check._replace(status=status)
        return append_record(self._file, [check.line] if check.documents else [])
