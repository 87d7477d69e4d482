"""`orderlint.review`: the proof of an order set. Joins source, rulebook and review."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.api.documents import set_in
from orderlint.api.instants import instant_or_now
from orderlint.api.policies import rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import content_of
from orderlint.language.budget import USUAL
from orderlint.order_set.read import read_order_set
from orderlint.proof.prover import limits_of
from orderlint.set_review import Reviewed, review_set

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.documents import Codes
    from orderlint.api.policies import Policy
    from orderlint.api.sources import Source
    from orderlint.language.budget import Watched


def review(  # noqa: PLR0913 - one parameter an option
    source: Source,
    *,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
    effort: int = USUAL,
    watched: Watched = iter,
) -> Result[Reviewed]:
    """Prove each rule over every order that can be signed from an order set, or break it.

    The other parameters, and what is raised, are those of orderlint.verify. `effort` is how many
    million steps of the solver are taken at most; what is then not proved is said to be so.
    `watched` yields the rules that it is given again, as they are proved.

    >>> from pathlib import Path
    >>> result = review(Path("examples/set-irrigation-adult.yaml"))
    >>> result.found.proofs[0].result.value
    'proved'
    """
    instant = instant_or_now(at)
    rulebook = rulebook_for("order-set", policy)
    content = content_of(source, name)
    order_set = read_order_set(set_in(content, concept_map), rulebook.derived)
    found = review_set(order_set, instant, rulebook, limits_of(effort), watched)
    return Result("review", found.assessment.verdict, found.assessment, found, (content,), instant)
