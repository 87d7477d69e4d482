"""The settings that are seen at the bedside, in the order in which a nurse comes to them.

The one list of them; schemas/settings-seen.schema.json is made from it. Never an ordered value.
"""

from __future__ import annotations

from typing import NamedTuple


class Station(NamedTuple):
    """A place to stand and look, and the paths of the settings that are seen there."""

    where: str
    paths: tuple[str, ...]


# A setting is here if it can be read off a label, a screen, a scale or the line itself, now and
# without the order in hand. What an order says to people, and no device shows, is not: when to
# call, check, titrate, stop or clamp. Nor is what changes from hour to hour and is no setting: the
# head-up angle and when the reading was last zeroed are blanks of the check sheet. No label has
# an additive's class.
STATIONS = (
    # From the bag down, as the fluid runs, with the label read first: a wrong fluid is found before
    # anything is touched.
    Station(
        "The irrigation bag and its label",
        (
            "irrigation.fluid",
            "irrigation.additive.name",
            "irrigation.additive.concentration",
            "irrigation.bag",
        ),
    ),
    # The display's unit before the levels, which are shown in it; the levels from low to high.
    Station(
        "The controller",
        (
            "display_unit",
            "therapy",
            "pause.lower",
            "treat_above",
            "pause.upper",
            "irrigation.rate",
            "monitoring.alarms",
        ),
    ),
    # The scale's unit before the height, which is read off it.
    Station("The pole of the drain", ("drainage.scale", "drainage.height", "drainage.landmark")),
    Station("The collection bag", ("drainage.bag",)),
    # Last, with a hand on the line: where it goes in.
    Station("The line, followed with the hand to the patient", ("access",)),
)

ADDITIVE = "irrigation.additive"
"""The leaf that says there is no additive; below it stand name and concentration."""
ADDITIVE_NAME = "irrigation.additive.name"
"""The setting that is asked for instead: `none` there says that there is no additive."""

SETTINGS = tuple(path for station in STATIONS for path in station.paths)
"""Every setting that is asked for, in order."""
PATHS = (*SETTINGS, ADDITIVE)
"""Every leaf that settings seen may have."""

UNIT_OF = {
    "pause.lower": "display_unit",
    "treat_above": "display_unit",
    "pause.upper": "display_unit",
    "drainage.height": "drainage.scale",
}
"""For each pressure that is seen, the setting that says in which unit it is shown."""

ALWAYS_THERE = frozenset(
    {
        "display_unit",
        "therapy",
        "monitoring.alarms",
        "drainage.scale",
        "drainage.landmark",
        "drainage.bag",
        "access",
    }
)
"""What is in some state wherever there is a controller or a drain. Where an order is silent on one,
`verify` says that it is missing; that it is there is nothing found."""
