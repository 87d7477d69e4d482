"""A condition in words: each form of the language is said, with names, limits and local values."""

from __future__ import annotations

from each_case import of_each
from rule_files import record, rulebook

from orderlint.report.rules.condition import condition_words


def said(require: str, when: str | None = None, **keys: str) -> tuple[str, str]:
    book = rulebook(record(require=f'"{require}"', when=when, says="Invented.", **keys))
    return condition_words(book.rules["demo"], book)


@of_each(
    ("require", "words"),
    [
        ("pause.lower < pause.upper", "the lower pause limit is below the upper pause limit"),
        ("pause.lower <= treat_above <= pause.upper",
         "the lower pause limit is at or below the treat-above level, which is at or below the "
         "upper pause limit"),
        ("treat_above > wide", "the treat-above level is above 8 mmHg"),
        ("pause.upper - pause.lower >= wide",
         "the upper pause limit minus the lower pause limit is at or above 8 mmHg"),
        ("2 * pause.lower < pause.upper", "2 times the lower pause limit is below the upper pause "
         "limit"),
        ("2 * (pause.lower + wide) < pause.upper",
         "2 times (the lower pause limit plus 8 mmHg) is below the upper pause limit"),
        ("2 * pause.lower + wide < pause.upper",
         "(2 times the lower pause limit) plus 8 mmHg is below the upper pause limit"),
        ("pause.upper - (pause.lower + wide) > treat_above",
         "the upper pause limit minus (the lower pause limit plus 8 mmHg) is above the "
         "treat-above level"),
        ("pause.upper - pause.lower - wide > treat_above",
         "the upper pause limit minus the lower pause limit minus 8 mmHg is above the "
         "treat-above level"),
        ("-(pause.lower + wide) < pause.upper",
         "minus (the lower pause limit plus 8 mmHg) is below the upper pause limit"),
        ("pause.upper - -pause.lower > treat_above",
         "the upper pause limit minus (minus the lower pause limit) is above the treat-above "
         "level"),
        ("product(irrigation.rate, irrigation.bag_change_every) + drainage.hourly_max * hour "
         "< irrigation.bag",
         "(the irrigation rate times the bag change interval) plus (the hourly output limit times "
         "1 h) is below the irrigation bag"),
        ("not (given(zone) or given(id)) and given(starts)",
         "(neither the time zone is written, nor the order identifier is written), and the start "
         "time is written"),
        ("-pause.lower < pause.upper",
         "minus the lower pause limit is below the upper pause limit"),
        ("given(pause.lower)", "the lower pause limit is written"),
        ("given(pause)", "something of the pause limits is written"),
        ("not given(pause)", "nothing of the pause limits is written"),
        ("not (given(zone) or given(id))",
         "neither the time zone is written, nor the order identifier is written"),
        ("not (given(zone) and given(id))",
         "it is not so that (the time zone is written, and the order identifier is written)"),
        ("irrigates", "the therapy is “irrigation”"),
        ("therapy != 'irrigation'", "the therapy is not “irrigation”"),
        ("therapy in {'irrigation', 'drainage'}",
         "the therapy is one of “irrigation”, “drainage”"),
        ("therapy not in {'monitoring'}", "the therapy is none of “monitoring”"),
        ("unit_of(pause.lower) == display_unit",
         "the unit of the lower pause limit is the display unit"),
        ("display_unit in site.units",
         "the display unit is one of mmHg, cmH2O (units, local policy)"),
        ("multiple(pause.lower, site.step)",
         "the lower pause limit is a whole multiple of 1 mmHg for mmHg, 2 cmH2O for cmH2O "
         "(step, local policy)"),
        ("pause.upper <= site.threshold.adult",
         "the upper pause limit is at or below 22 mmHg (threshold.adult, follows from the order "
         "itself)"),
        ("pause.upper <= site.band.highest",
         "the upper pause limit is at or below 30 mmHg (band.highest, local policy)"),
        ("pause.upper <= site.scale",
         "the upper pause limit is at or below left out (scale, local policy)"),
        ("written(pause.lower, 'trailing zero')",
         "reading marks the lower pause limit as “trailing zero”"),
        ("not written(pause.lower, 'trailing zero')",
         "reading does not mark the lower pause limit as “trailing zero”"),
        ("starts < review_by", "the start time is before the review time"),
        ("checked_at >= starts", "the time of checking is not before the start time"),
        ("product(irrigation.rate, irrigation.bag_change_every) <= irrigation.bag",
         "the irrigation rate times the bag change interval is at or below the irrigation bag"),
        ("given(zone) or given(id) and given(starts)",
         "the time zone is written, or (the order identifier is written, and the start time is "
         "written)"),
    ],
)  # fmt: skip
def test_each_form_is_said(require, words):
    assert said(require, limits="{wide: 8 mmHg, hour: 1 h}") == ("", words)


def test_what_comes_before_is_said_apart():
    asked, kept = said("treat_above < pause.upper", "irrigates")
    assert asked == "the therapy is “irrigation”"
    assert kept.startswith("the treat-above level")


def test_it_is_named_where_it_is_one_setting_alone():
    assert said("given(it)", over="[zone]") == ("", "the time zone is written")
    assert said("given(it)", over="[zone, id]") == ("", "it is written")
