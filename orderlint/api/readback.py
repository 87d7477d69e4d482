"""`orderlint.read_back`: compares settings seen at the bedside with an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint import readback
from orderlint.api.documents import order_in
from orderlint.api.instants import instant_or_now
from orderlint.api.policies import rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import content_of
from orderlint.readback.observed import read_seen
from orderlint.reading import FHIR

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.documents import Codes
    from orderlint.api.policies import Policy
    from orderlint.api.sources import Source
    from orderlint.readback import ReadBack


def read_back(  # noqa: PLR0913 - one parameter an option
    order: Source,
    seen: Source,
    *,
    names: tuple[str | None, str | None] = (None, None),
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[ReadBack]:
    """Compare the settings seen at controller and pole with an order.

    `order` and `seen` are sources, and `names` what to call them, as in orderlint.verify, which has
    the other parameters too. `findings` are those of the comparison alone; the verdict is the
    heaviest of it, of the order, and of the order as it is set.

    Raises Refused where `order` is no readable order or `seen` no readable settings seen.

    >>> from datetime import datetime
    >>> from pathlib import Path
    >>> at = datetime.fromisoformat("2026-03-02T14:30:00-06:00")
    >>> seen = Path("examples/seen-as-ordered.yaml")
    >>> read_back(Path("examples/clean.yaml"), seen, at=at).findings
    ()
    """
    instant = instant_or_now(at)
    rulebook = rulebook_for("read-back", policy)
    contents = content_of(order, names[0]), content_of(seen, names[1])
    ordered = order_in(contents[0].read_one_of("order", FHIR), concept_map)
    found = readback.read_back(
        ordered, read_seen(contents[1].read("settings-seen")), instant, rulebook
    )
    return Result("read back", found.verdict, found.assessment, found, contents, instant)
