"""Names of time zones, as the IANA database lists them: whether a name is one, and the nearest.

Read from the list that the tzdata package carries. Never a time of day, and never zoneinfo.
"""

from __future__ import annotations

import functools
from pathlib import Path

# INVARIANT: one list on every machine, so that an order has the same findings on each. What a
# machine's own zone files add (localtime, another case) is no name. To read the list takes a
# millisecond, to import zoneinfo and load a zone several.
_NO_PLACE = "Factory"
"""A name in the list that says only that no zone was set."""


@functools.cache
def zone_names() -> frozenset[str]:
    """Every name, aliases included."""
    import tzdata  # noqa: PLC0415 - not every order has a zone

    # INVARIANT: the package is installed as files, as zoneinfo's own fallback to it is tested.
    listed = Path(tzdata.__file__).with_name("zones").read_text(encoding="ascii")
    return frozenset(listed.split()) - {_NO_PLACE}


def zone_file(name: str) -> Path:
    """The file with the rules of a zone. INVARIANT: `name` is a listed name, and no other path."""
    import tzdata  # noqa: PLC0415 - not every order has a zone

    return Path(tzdata.__file__).with_name("zoneinfo").joinpath(*name.split("/"))


def nearest_zone(text: str) -> str | None:
    """The zone most like `text`, or the one whose place is; None where none is much like it."""
    from difflib import get_close_matches  # noqa: PLC0415 - only where a name is misspelt

    said = text.strip().replace(" ", "_").casefold()
    names = sorted(zone_names())
    places = {name.rpartition("/")[2].casefold(): name for name in names}
    whole = {name.casefold(): name for name in names}
    for named in (whole, places):
        close = get_close_matches(said[:60], named, n=1, cutoff=0.8)
        if close:
            return named[close[0]]
    return None
