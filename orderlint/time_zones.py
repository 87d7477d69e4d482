"""Time zone names of the IANA database: validity, and the nearest name.

Read from the list in the tzdata package. Never a time of day, and never zoneinfo.
"""

from __future__ import annotations

import functools
import os

# INVARIANT: one list on every machine, so that findings are the same everywhere. What a
# machine's own zone files add (localtime, another case) is not valid. Reading the list takes a
# millisecond; importing zoneinfo and loading a zone takes several.
_NO_PLACE = "Factory"
"""A listed name that means only that no zone was set."""


@functools.cache
def zone_names() -> frozenset[str]:
    """Return every zone name, aliases included."""
    import tzdata  # noqa: PLC0415 - not every order has a zone

    # INVARIANT: the package is installed as files, as zoneinfo's own fallback to it is tested.
    with open(os.path.join(os.path.dirname(tzdata.__file__), "zones"), encoding="ascii") as listed:
        return frozenset(listed.read().split()) - {_NO_PLACE}


def zone_file(name: str) -> str:
    """Return the file with the rules of a zone. INVARIANT: `name` is in `zone_names()`."""
    import tzdata  # noqa: PLC0415 - not every order has a zone

    return os.path.join(os.path.dirname(tzdata.__file__), "zoneinfo", *name.split("/"))


def nearest_zone(text: str) -> str | None:
    """Return the zone whose name, or whose place name, is closest to `text`; None if none is."""
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
