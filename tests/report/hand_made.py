"""Verified orders made by hand, so that reports are tested without a rulebook."""

from __future__ import annotations

from orderlint.assessment import Assessment
from orderlint.behaviour import behaviour_of
from orderlint.finding import Finding, Inactive, Level, NamedSetting, Place, Unchecked, verdict_by
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.verification import Verified

FILE = "order.yaml"
SETTINGS = """document: order
format: 1
id: demo-7
revision: 2
status: draft
therapy: irrigation
display_unit: mmHg
pause: {lower: 2 mmHg, upper: 22 mmHg}
treat_above: 8 mmHg
drainage: {height: 14 mmHg, scale: mmHg}
"""


def place(line: int, column: int) -> Place:
    return Place(FILE, line, column)


CROSSED = Finding(
    rule="drain-above-treat-above",
    family="drain-height",
    level=Level.DO_NOT_START,
    path="drainage.height",
    name="Drain height",
    says="Irrigation starts above 8 mmHg; nothing drains by gravity until ICP is above 14 mmHg.",
    written="14 mmHg",
    expected="a drain at or below the treat-above level",
    why="Until then each mL that runs in stays in.",
    ask="Which of the two levels was meant?",
    ask_whom="prescriber",
    source="follows from the order itself",
    place=place(10, 20),
    also=(NamedSetting("treat_above", "Treat-above level", "8 mmHg", place(9, 14)),),
)
SPELLING = Finding(
    rule="unit-run-together",
    family="notation",
    level=Level.NOTE,
    path="irrigation.bag",
    name="Irrigation bag",
    says="Number and unit are run together.",
    written="1000mL",
    expected="",
    why="A unit that is run together can be read as a digit.",
    ask="",
    ask_whom="author",
    source="a published list",
    place=place(11, 3),
)


def missing(path: str, name: str, level: Level = Level.DO_NOT_START) -> Finding:
    return Finding(
        rule=f"missing-{path.replace('.', '-').replace('_', '-')}",
        family="complete",
        level=level,
        path=path,
        name=name,
        says="It is not written.",
        written="",
        expected="",
        why="Whoever keys it in would have to guess.",
        ask="What is it to be?",
        ask_whom="prescriber",
        source="common practice, no published source",
        place=place(1, 1),
    )


MISSING = (
    missing("irrigation.rate", "Irrigation rate"),
    missing("irrigation.fluid", "Irrigation fluid"),
    missing("notify.net_in.above", "Net-in notify volume"),
    missing("prescriber", "Prescriber", Level.CLARIFY),
)
UNCHECKED = (
    Unchecked("rule-a", Level.CLARIFY, ("irrigation.rate", "drainage.hourly_max")),
    Unchecked("rule-b", Level.DO_NOT_START, ("irrigation.rate", "drainage.hourly_max")),
    Unchecked("rule-c", Level.NOTE, ("patient.group",)),
)
INACTIVE = (
    Inactive("drain-height-outside-scale", "the policy gives no site.drain_scale"),
    Inactive("another-rule", "the policy gives no site.drain_scale"),
)


def made(  # noqa: PLR0917 - each part of a Verified by its place
    findings: tuple[Finding, ...] = (),
    unchecked: tuple[Unchecked, ...] = (),
    inactive: tuple[Inactive, ...] = (),
    settings: str = SETTINGS,
    file: str = FILE,
    outflow: str | None = "gravity",
) -> Verified:
    """A Verified whose order and behaviour follow from `settings`; all else is as given."""
    order = read_order(read(settings.encode(), file, "order"))
    verdict = verdict_by([each.level for each in findings], (), is_open=bool(unchecked))
    return Verified(
        file,
        order,
        Assessment(verdict, findings, unchecked, inactive, (), 61),
        behaviour_of(order.leaves, outflow),
        "built-in policy",
    )
