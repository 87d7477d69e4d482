"""Names and types are checked, and conditions become comparisons of integers."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from each_case import of_each

from orderlint.fields import field_table
from orderlint.language.amounts import Amount, comparison
from orderlint.language.lower import lower
from orderlint.language.surface import LanguageError
from orderlint.language.syntax import parse
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    OneKind,
    Or,
    Same,
    Subject,
    Term,
    Written,
)
from orderlint.language.types import Choice, Listed, Quantity, Scope

MMHG = 13_595_100  # conventional mercury, 13.5951 g/mL, in ticks of 1e-7 cmH2O
FLUIDS = Listed((Choice("lactated Ringer's"), Choice("sterile water")))
BAGS = Listed((Quantity("volume", 500_000, "500 mL"), Quantity("volume", 1_000_000, "1000 mL")))
SITE = {
    "step": Quantity("pressure", MMHG, "1 mmHg"),
    "hours": Quantity("duration", 4 * 3_600_000, "4 h"),
    "outflow": Choice("gravity"),
    "usual": Choice("drainage"),
    "fluids": FLUIDS,
    **{f"fluids.{n}": item for n, item in enumerate(FLUIDS.items)},
    "bags": BAGS,
    **{f"bags.{n}": item for n, item in enumerate(BAGS.items)},
}
LIMITS = {
    "ceiling": Quantity("pressure", 22 * MMHG, "22 mmHg"),
    "day": Quantity("duration", 86_400_000, "24 h"),
    "zero": Quantity("duration", 0, "0 h"),
    "instantly": Quantity("duration", 1, "0.001 s"),
    "slow": Quantity("flow", 3_000, "3 mL/h"),
}
LIMITS |= {
    "daily": Quantity("mass rate", 2_000_000_000_000, "20 mg/day"),
    "strong": Quantity("activity concentration", 5_000_000, "50,000 units/L"),
}
MASS = ("mg/L", "mg/mL", "mcg/mL", "mcg/L", "g/L")
ACTIVITY = ("units/L", "units/mL", "million units/L")
DERIVED = {"flows": parse("therapy in {'irrigation', 'drainage'}")}
SCOPE = Scope(field_table(), SITE, LIMITS, DERIVED, it="pause.upper")


def lowered(text: str, scope: Scope = SCOPE):
    return lower(parse(text), scope)


def x(path: str, factor: int = 1) -> Term:
    return Term(factor, (path,))


LOWERED = {
    "pause.lower < pause.upper": Compare((x("pause.lower"), x("pause.upper", -1)), "<", 0),
    "pause.lower >= pause.upper": Compare((x("pause.lower", -1), x("pause.upper")), "<=", 0),
    "it > ceiling": Compare((x("pause.upper", -1),), "<", -22 * MMHG),
    "it == ceiling": Compare((x("pause.upper"),), "==", 22 * MMHG),
    "it != ceiling": Not(Compare((x("pause.upper"),), "==", 22 * MMHG)),
    "2 * it <= ceiling + 0.5 * ceiling": Compare((x("pause.upper"),), "<=", 33 * MMHG // 2),
    "0.5 * it <= ceiling": Compare((x("pause.upper"),), "<=", 44 * MMHG),
    "site.step < ceiling": Compare((), "<", 1),
    "site.step <= site.step": Compare((), "<=", 0),
    "-it < ceiling": Compare((x("pause.upper", -1),), "<", 22 * MMHG),
    "multiple(it, site.step)": Multiple("pause.upper", MMHG),
    "multiple(monitoring.icp_every, instantly)": Multiple("monitoring.icp_every", 1),
    "unit_of(it) == 'mmHg'": Member(Subject("pause.upper", is_unit=True), ("mmHg",)),
    "unit_of(it) == display_unit": Same(
        Subject("pause.upper", is_unit=True), Subject("display_unit")
    ),
    "'irrigation' == therapy": Member(Subject("therapy"), ("irrigation",)),
    "therapy == site.usual": Member(Subject("therapy"), ("drainage",)),
    "therapy != 'irrigation'": Not(Member(Subject("therapy"), ("irrigation",))),
    "therapy not in {site.usual, 'monitoring'}": Not(
        Member(Subject("therapy"), ("drainage", "monitoring"))
    ),
    "revision not in {3}": Not(Or((Compare((x("revision"),), "==", 3),))),
    "revision > 3": Compare((x("revision", -1),), "<", -3),
    "2 * revision == 6": Compare((x("revision"),), "==", 3),
    "irrigation.fluid in site.fluids": Member(
        Subject("irrigation.fluid"), ("lactated Ringer's", "sterile water")
    ),
    "irrigation.bag in site.bags": Or(
        (
            Compare((x("irrigation.bag"),), "==", 500_000),
            Compare((x("irrigation.bag"),), "==", 1_000_000),
        )
    ),
    "flows": Member(Subject("therapy"), ("irrigation", "drainage")),
    "given(pause)": Given(("pause.lower", "pause.upper")),
    "given(it) or not flows and given(therapy)": Or(
        (
            Given(("pause.upper",)),
            And(
                (
                    Not(Member(Subject("therapy"), ("irrigation", "drainage"))),
                    Given(("therapy",)),
                )
            ),
        )
    ),
    "written(it, 'trailing zero')": Written("pause.upper", "trailing zero"),
    "names(stop_when, site.fluids)": Names("stop_when", tuple(i.text for i in FLUIDS.items)),
    "starts <= review_by <= checked_at": And(
        (
            Compare((x("review_by", -1), x("starts")), "<=", 0),
            Compare((x("checked_at", -1), x("review_by")), "<=", 0),
        )
    ),
    "review_by - starts <= day": Compare((x("review_by"), x("starts", -1)), "<=", 86_400_000),
    "starts + day < review_by": Compare((x("review_by", -1), x("starts")), "<", -86_400_000),
    "day + starts < review_by": Compare((x("review_by", -1), x("starts")), "<", -86_400_000),
    "irrigation.rate * day < irrigation.bag": Compare(
        (x("irrigation.bag", -1), x("irrigation.rate", 24)), "<", 0
    ),
    # 24 h × 0.001 mL/h is 24 ticks of volume; the rule of thumb 24 h at 60 mL/h = 1440 mL holds.
    "day * irrigation.rate > irrigation.daily_max": Compare(
        (x("irrigation.daily_max"), x("irrigation.rate", -24)), "<", 0
    ),
    "irrigation.bag < site.hours * irrigation.rate": Compare(
        (x("irrigation.bag"), x("irrigation.rate", -4)), "<", 0
    ),
    # 22 mmHg × the rate against 3 mL/h × the band, in ticks of 10⁻⁷ cmH2O and 0.001 mL/h:
    # 299 092 200 against 3000.
    "ceiling * irrigation.rate <= slow * (it - pause.lower)": Compare(
        (x("irrigation.rate", 498_487), x("pause.lower", 5), x("pause.upper", -5)), "<=", 0
    ),
    "product(irrigation.rate, monitoring.output_every) > drainage.bag": Compare(
        (
            Term(3_600_000, ("drainage.bag",)),
            Term(-1, ("irrigation.rate", "monitoring.output_every")),
        ),
        "<",
        0,
    ),
    # 500 mg/L at a rate against 20 mg/day, and 10 mg/L: a tick is 0.01 mcg/L, and of the product
    # 1e-8 mcg/day in 24 of them.
    "product(mass_of(irrigation.additive.concentration), irrigation.rate) <= daily": Compare(
        (Term(3, ("irrigation.additive.concentration", "irrigation.rate")),),
        "<=",
        250_000_000_000,
        OneKind(("irrigation.additive.concentration",), (MASS,)),
    ),
    "activity_of(irrigation.additive.concentration) < strong": Compare(
        (x("irrigation.additive.concentration"),),
        "<",
        5_000_000,
        OneKind(("irrigation.additive.concentration",), (ACTIVITY,)),
    ),
}


@of_each("text", LOWERED)
def test_a_condition_is_lowered_to_integers(text):
    # By repr, which names each class: as tuples, two of different classes may be equal.
    assert repr(lowered(text)) == repr(LOWERED[text])


TWO_FIELDS = (0, "product takes two fields")
REFUSED = {
    "pause.uper < ceiling": (0, "did you mean pause.upper"),
    "site.stop < it": (0, "the policy has no site.stop; did you mean site.step"),
    "it + site.stop < ceiling": (5, "the policy has no site.stop"),
    "not site.stop": (4, "the policy has no site.stop"),
    "therapy in site.stop": (11, "the policy has no site.stop"),
    "therapy in {site.stop}": (12, "the policy has no site.stop"),
    "therapy == site.stop": (11, "the policy has no site.stop"),
    "'irrigation' == site.stop": (16, "the policy has no site.stop"),
    "given(nothing)": (6, "there is no field nothing"),
    "given(before.pause)": (6, "there is no field before.pause"),
    "written(nothing, 'trailing zero')": (8, "there is no field nothing"),
    "therapy == nothing": (11, "there is no field nothing"),
    "unit_of(nothing) == 'mmHg'": (8, "there is no field nothing"),
    "it < nothing": (5, "there is no field nothing"),
    "it < irrigation.bag": (0, "a pressure cannot stand beside a volume"),
    "it < 5": (0, "beside a plain number; a name under limits: can hold a number with its unit"),
    "multiple(it, 5)": (
        9,
        "of the same kind; a name under limits: can hold a number with its unit",
    ),
    "it == '5 mmHg'": (
        6,
        "what is quoted is a choice; a name under limits: can hold a number with its unit",
    ),
    "'5 mmHg' <= it": (
        0,
        "what is quoted is a choice; a name under limits: can hold a number with its unit",
    ),
    "it in {5, 8}": (
        0,
        "beside a plain number; a name under limits: can hold a number with its unit",
    ),
    "it + day < ceiling": (0, "a pressure cannot stand beside a duration"),
    "therapy < 'irrigation'": (10, "compares quantities"),
    "therapy == 'irigation'": (11, "'irigation' is not one of"),
    "therapy in {'irrigation', 'x'}": (26, "'x' is not one of"),
    "therapy == display_unit": (11, "can never be the same"),
    "unit_of(therapy) == 'mmHg'": (0, "a field with a list of choices"),
    "unit_of(it) == 'mL'": (15, "'mL' is not one of"),
    "therapy in site.bags": (11, "a quoted choice belongs here"),
    # `irrigation` unquoted is a section.
    "therapy in {irrigation}": (12, "a quoted choice belongs here"),
    "therapy in {pause.lower}": (12, "a quoted choice belongs here"),
    "therapy == irrigation": (11, "there is no field irrigation"),
    "therapy in therapy": (11, "after `in` stands"),
    "it in site.step": (6, "after `in` stands"),
    "it in 5": (6, "after `in` stands"),
    "therapy in 'irrigation'": (11, "after `in` stands"),
    "it in {'x'}": (7, "a number, a quantity or an instant"),
    "stop_when == 'x'": (0, "a field with a list of choices"),
    "stop_when < ceiling": (12, "compares quantities"),
    "site.outflow == 'gravity'": (0, "a field with a list of choices"),
    "site.fluids < ceiling": (14, "compares quantities"),
    "it + site.outflow < ceiling": (5, "site.outflow is not a quantity"),
    "it + stop_when < ceiling": (5, "stop_when is a text, not a quantity"),
    "therapy in {5}": (12, "a quoted choice belongs here"),
    "it - it < ceiling": (0, "pause.upper is compared with itself"),
    "pause.upper <= it": (0, "pause.upper is compared with itself"),
    "0 * it < ceiling": (0, "pause.upper is compared with itself"),
    "it in {it}": (0, "pause.upper is compared with itself"),
    "it * it < ceiling": (0, "one side of * is a constant"),
    "ceiling * it < ceiling": (0, "is nothing that an order holds"),
    "product(it, it) < ceiling": (0, "cannot be negative"),
    "product(day, irrigation.rate) > irrigation.bag": (0, "product takes two fields"),
    "product(2 * irrigation.rate, monitoring.icp_every) > irrigation.bag": (0, "two fields"),
    "product(product(revision, irrigation.rate), notify.icp_for) > irrigation.bag": TWO_FIELDS,
    "product(irrigation.rate + slow, monitoring.icp_every) > irrigation.bag": (0, "two fields"),
    "product(irrigation.rate + titration.max, monitoring.icp_every) > irrigation.bag": TWO_FIELDS,
    "irrigation.bag < product(irrigation.rate, irrigation.bag)": (17, "nothing that an order"),
    "irrigation.additive.concentration < strong": (0, "a concentration cannot stand beside"),
    "product(irrigation.additive.concentration, irrigation.rate) < daily": (0, "nothing that an"),
    "mass_of(irrigation.additive.concentration) < strong": (0, "cannot stand beside a"),
    "strong < mass_of(irrigation.additive.concentration)": (0, "cannot stand beside"),
    "mass_of(it) < ceiling": (8, "mass_of takes a concentration, and it is none"),
    "mass_of(therapy) < ceiling": (8, "mass_of takes a concentration, and therapy is none"),
    "mass_of(ceiling) < ceiling": (8, "there is no field ceiling"),
    "multiple(irrigation.additive.concentration, strong)": (9, "of the same kind"),
    "-starts < review_by": (0, "an instant has no negative"),
    "starts + review_by < starts": (0, "two instants cannot be added"),
    "2 * starts < review_by": (0, "an instant cannot be multiplied"),
    "day - starts < review_by": (0, "a duration cannot stand beside an instant"),
    "starts < day": (0, "an instant cannot stand beside a duration"),
    "multiple(it, day)": (9, "of the same kind"),
    "multiple(monitoring.icp_every, zero)": (31, "more than nothing"),
    "multiple(it, pause.lower)": (9, "of the same kind"),
    "multiple(it, 2 * ceiling)": (13, "the step is a constant"),
    "multiple(therapy, site.step)": (9, "of the same kind"),
    "multiple(irrigation, site.step)": (9, "there is no field irrigation"),
    "given('x')": (0, "a condition belongs here"),
    "written(it, 'pretty')": (12, "'pretty' is not one of"),
    "names(nothing, site.fluids)": (6, "there is no field nothing"),
    "names(it, site.fluids)": (6, "pause.upper is a quantity, in which nothing is named"),
    "names(stop_when, site.bags)": (17, "a list of names of the policy"),
    "names(stop_when, site.usual)": (17, "a list of names of the policy"),
    "names(stop_when, site.stop)": (17, "the policy has no site.stop"),
    "names(stop_when, therapy)": (17, "a list of names of the policy"),
    "names(stop_when, 'any')": (0, "a condition belongs here"),
    "it": (0, "a condition belongs here"),
    "flow": (0, "did you mean flows"),
    "not ceiling": (4, "a condition belongs here"),
    "it + ceiling": (0, "a condition belongs here"),
    "flows + 1 < 2": (0, "there is no field flows"),
    "unit_of(it)": (0, "a condition belongs here"),
    "it < unit_of(it)": (5, "compares quantities"),
    "before.pause.upper < it": (0, "there is no field before.pause.upper"),
    "10000000000 * it < pause.lower": (0, "62 bits"),
    "999999999999999 * ceiling < it": (0, "62 bits"),
}


@of_each("text", REFUSED)
def test_a_mistake_is_refused_where_it_stands(text):
    at, message = REFUSED[text]
    with pytest.raises(LanguageError, match=re.escape(message)) as error:
        lowered(text)
    assert error.value.at == at


def test_a_name_like_no_other_is_given_no_advice():
    with pytest.raises(LanguageError) as error:
        lowered("it < nothing")
    assert str(error.value) == "there is no field nothing"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("site.step < pause.lower", "the policy has no site.step"),
        ("it < pause.lower", "there is no field it"),
        ("flows", "there is no field flows"),
        ("ceiling < pause.lower", "there is no field ceiling"),
        ("before.pause.lower < pause.lower", "there is no field before.pause.lower"),
    ],
)
def test_the_names_of_a_scope_are_those_given_to_it(text, said):
    with pytest.raises(LanguageError, match=said):
        lowered(text, Scope(field_table()))


def test_the_time_of_checking_is_an_instant_that_no_order_holds():
    path, field = SCOPE.field("checked_at", 0)
    assert path == field.path == "checked_at"
    assert path not in field_table().fields
    assert (field.kind, field.name) == ("instant", "Time of checking")


def test_a_rule_on_a_change_reads_the_order_before():
    scope = Scope(field_table(), it="before.pause.upper", change=True)
    assert lowered("it < pause.upper", scope) == Compare(
        (x("before.pause.upper"), x("pause.upper", -1)), "<", 0
    )
    assert lowered("given(before.pause)", scope) == Given(
        ("before.pause.lower", "before.pause.upper")
    )
    assert lowered("given(pause)", scope) == Given(("pause.lower", "pause.upper"))
    assert lowered("given(before.therapy)", scope) == Given(("before.therapy",))


def test_a_concentration_beside_an_earlier_one_is_of_the_same_kind():
    path = "irrigation.additive.concentration"
    found = lowered(f"{path} == 10 * before.{path}", Scope(field_table(), change=True))
    assert found == Compare(
        (x(f"before.{path}", -10), x(path)),
        "==",
        0,
        OneKind((path, f"before.{path}"), (MASS, ACTIVITY)),
    )


def test_no_conceivable_order_passes_62_bits():
    # 200 mmHg is 2 719 020 000 ticks; the largest factor that is let through stays below 2**62.
    factor = 2**62 // (200 * MMHG) - 1
    assert lowered(f"{factor} * it < pause.lower")
    with pytest.raises(LanguageError, match="62 bits"):
        lowered(f"{factor + 1} * it < pause.lower")


@pytest.mark.parametrize("sign", [1, -1])
def test_the_largest_sum_and_the_bound_together_stay_below_62_bits(sign):
    three = Amount("number", {}, Fraction(3), {})
    terms = {("revision",): Fraction(sign)}
    most = Amount("number", terms, Fraction(0), {"revision": (0, 2**62 - 4)})
    assert comparison(most, "<", three, 7) == Compare((x("revision", sign),), "<", 3)
    more = Amount("number", terms, Fraction(0), {"revision": (0, 2**62 - 3)})
    with pytest.raises(LanguageError, match="62 bits") as error:
        comparison(more, "<", three, 7)
    assert error.value.at == 7


def test_an_exact_tie_in_two_units_is_a_tie():
    # 22 mmHg = 29.90922 cmH2O (computed from 13.5951 g/mL)
    assert Fraction("29.90922") * 10**7 == 22 * MMHG
