"""`orderlint.ask`: words the message to whoever can answer what was found in an order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeAlias, get_args

from orderlint.api.instants import instant_or_now
from orderlint.api.policies import rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import content_of
from orderlint.api.verification import verify_content
from orderlint.message import Message, message_to

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.documents import Codes
    from orderlint.api.policies import Policy
    from orderlint.api.sources import Source

Person: TypeAlias = Literal["prescriber", "pharmacy", "second nurse", "transcriber", "author"]


def ask(  # noqa: PLR0913 - one parameter an option
    source: Source,
    *,
    whom: Person | None = None,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[Message]:
    """Word the call about one order to one of those that its findings ask.

    `whom` is the person; if None, whoever can answer the heaviest finding. The other parameters,
    and what is raised, are those of orderlint.verify.
    Verdict and findings are of the order, whoever is asked. ValueError for an unknown `whom`.

    >>> result = ask("document: order\\nformat: 1\\n", whom="pharmacy")
    >>> len(result.found.points) <= 3
    True
    """
    if whom is not None and whom not in get_args(Person):
        raise ValueError(f"whom is {whom!r}, none of {', '.join(get_args(Person))}")
    instant = instant_or_now(at)
    content, rulebook = content_of(source, name), rulebook_for("order", policy)
    verified = verify_content(content, instant, rulebook, concept_map)
    found, assessed = message_to(whom, verified), verified.assessment
    return Result("ask", assessed.verdict, assessed, found, (content,), instant)
