"""The field table: all of the order schema and nothing else, with exact ranges and sure names."""

from __future__ import annotations

from pathlib import Path

import core_yaml
import pytest
from each_case import of_each
from facts import fact
from hypothesis import given
from hypothesis import strategies as st
from walking import order_leaves, schema_leaves, schema_nodes

from orderlint.field import casefold_spaces, in_sentence, normalise_text
from orderlint.fields import field_table, load_schema
from orderlint.units import TICKS, read_constant, ticks_of

CLEAN = core_yaml.load_file(Path(__file__).parent.parent / "examples/clean.yaml")
SCHEMA = load_schema("order")
TABLE = field_table()
FIELDS = TABLE.fields
QUANTITIES = [field for field in FIELDS.values() if field.kind == "quantity"]
DIMENSIONS = {"concentration": ("mass concentration", "activity concentration")}
"""What a quantity of several dimensions can measure."""
CHOICES = [field for field in FIELDS.values() if field.kind == "choice"]
FLUID = FIELDS["irrigation.fluid"]


def test_the_table_is_the_schema_in_its_order():
    assert list(FIELDS) == list(schema_leaves(SCHEMA))
    assert all(path == field.path for path, field in FIELDS.items())


def test_every_leaf_of_the_clean_order_is_in_the_table():
    leaves = order_leaves(CLEAN)
    assert {path: FIELDS[path].example for path in leaves} == {
        path: str(value) for path, value in leaves.items()
    }


def test_each_kind_of_field():
    kinds = {
        path: FIELDS[path].kind
        for path in ("format", "id", "zone", "indication", "starts", "therapy", "pause.upper")
    }
    assert list(kinds.values()) == [
        *("count", "label", "zone", "text", "instant", "choice", "quantity")
    ]


@pytest.mark.parametrize("field", QUANTITIES, ids=lambda field: field.path)
def test_a_quantity_takes_every_unit_of_its_dimension_as_finely_as_ticks_hold(field):
    kinds = DIMENSIONS.get(field.dimension, (field.dimension,))
    assert {kind: set(units) for kind, units in field.units_by_dimension.items()} == {
        kind: set(TICKS[kind]) for kind in kinds
    }
    for symbol, decimals in field.decimals.items():
        assert ticks_of(symbol) % 10**decimals == 0
        assert ticks_of(symbol) % 10 ** (decimals + 1) != 0


@pytest.mark.parametrize("field", QUANTITIES, ids=lambda field: field.path)
def test_a_quantity_has_a_range_that_holds_its_example(field):
    ticks, unit = read_constant(field.example)
    assert unit.dimension in DIMENSIONS.get(field.dimension, (field.dimension,))
    assert field.lowest < field.highest
    assert field.lowest <= ticks <= field.highest
    assert max(abs(field.lowest), field.highest) < 2**40


@pytest.mark.parametrize("field", CHOICES, ids=lambda field: field.path)
def test_each_spelling_stands_for_a_choice(field):
    assert set(field.spellings.values()) <= set(field.choices)
    for choice in field.choices:
        assert field.choice_of(choice) == choice
    for spelling, choice in field.spellings.items():
        assert field.choice_of(spelling) == choice
        assert field.nearest_choice(spelling) == choice


def test_spellings_in_the_schema_are_each_listed_once():
    nodes = [*schema_leaves(SCHEMA).values(), *SCHEMA["$defs"].values()]
    listed = [node for node in nodes if "spellings" in node]
    assert len(listed) == 13
    for node in listed:
        spellings, choices = node["spellings"], node.get("choices")
        if choices is None:
            assert set(spellings) < {text for text in node["enum"] if isinstance(text, str)}
        else:
            every = [casefold_spaces(text) for text in (*choices, *spellings)]
            assert len(set(every)) == len(every)
            assert set(node["abbreviations"]) <= set(spellings)


@pytest.mark.parametrize("field", CHOICES, ids=lambda field: field.path)
def test_other_text_is_no_choice_unless_the_field_says_so(field):
    assert field.choice_of("something unheard of") == field.otherwise
    assert (field.otherwise is not None) == (field is FLUID)


def test_truth_words():
    alarms, relevel = FIELDS["monitoring.alarms"], FIELDS["monitoring.relevel_on_move"]
    assert alarms.choices == ("on", "off")
    assert relevel.choices == ("yes", "no")
    assert [alarms.choice_of(text) for text in ("yes", "true", "no", "False")] == [
        "on",
        "on",
        "off",
        "off",
    ]
    assert [relevel.choice_of(text) for text in ("on", "TRUE", "off", "false")] == [
        "yes",
        "yes",
        "no",
        "no",
    ]


@given(spelling=st.sampled_from(sorted(FLUID.spellings)), data=st.data())
def test_case_and_spaces_do_not_change_a_fluid(spelling, data):
    spaces = st.sampled_from([" ", "  ", "\u00a0"])
    words = [data.draw(st.sampled_from([word, word.upper()])) for word in spelling.split()]
    text = words[0] + "".join(data.draw(spaces) + word for word in words[1:])
    assert FLUID.choice_of(text) == FLUID.spellings[spelling]


def test_fluids_of_the_labels_are_choices():
    """PMC6237920 and label copies, as the rows of facts.yaml name them."""
    named = [
        fact("fluids", begins)["what"]
        for begins in ("sodium chloride 0.9", "lactated", "sodium chloride 0.45")
    ]
    for name in " / ".join(named).split(" / "):
        assert FLUID.choice_of(name) == name


def test_fluids_written_by_initials_are_abbreviations():
    """Common practice, no published source."""
    texts = fact("notation", "NS, LR")["flag"].removesuffix(" for a fluid").split(", ")
    assert all(FLUID.is_abbreviation(text) for text in texts)
    assert [FLUID.choice_of(text) for text in texts] == [
        "sodium chloride 0.9 %",
        "lactated Ringer's",
    ]
    assert not any(FLUID.is_abbreviation(choice) for choice in FLUID.choices)


@pytest.mark.parametrize(
    "text", ["saline", "Ringer's", "sodium chloride", "sodium chloride 3 %", "dextrose"]
)
def test_a_fluid_without_its_strength_is_not_guessed(text):
    """Common practice, no published source: a name alone does not say which strength."""
    assert FLUID.choice_of(text) == "other"


@of_each(
    ("text", "choice"),
    [
        ("preservative-free normal saline", "sodium chloride 0.9 %"),
        ("Preservative‑Free 0.9% NaCl", "sodium chloride 0.9 %"),
        ("0.9 % sodium chloride injection (preservative free)", "sodium chloride 0.9 %"),
        ("NS, PF", "sodium chloride 0.9 %"),
        ("PF  NS", "sodium chloride 0.9 %"),
        ("sodium chloride 0.9 % for irrigation; no preservatives", "sodium chloride 0.9 %"),
        ("normal saline, sterile, preservative-free, single-dose", "sodium chloride 0.9 %"),
        ("preservative-free saline", "sodium chloride 0.9 %"),
        ("lactated Ringer's, preservative-free", "lactated Ringer's"),
        ("PF LR", "lactated Ringer's"),
        ("Ringer's lactate without preservative", "lactated Ringer's"),
        ("preservative-free sterile water", "sterile water"),
        ("bacteriostatic sodium chloride 0.9 %", "other"),
        ("preserved normal saline", "other"),
        ("preservative-free", "other"),
        ("preservative-free sodium chloride 3 %", "other"),
        ("normal saline (bacteriostatic)", "other"),
        ("normal saline, warmed", "other"),
        ("normal saline for irrigation", "sodium chloride 0.9 %"),
        ("sterile normal saline", "sodium chloride 0.9 %"),
        ("sterile saline for irrigation", "other"),
        ("sterile water for irrigation, preservative-free", "sterile water"),
    ],
)
def test_that_it_holds_no_preservative_leaves_a_fluid_what_it_is(text, choice):
    assert FLUID.choice_of(text) == choice


def test_a_fluid_in_short_is_so_whatever_stands_beside_it():
    for text in ("NS, preservative-free", "PF saline", "preservative-free LR"):
        assert FLUID.is_abbreviation(text)
    assert not FLUID.is_abbreviation("preservative-free sodium chloride 0.9 %")


def test_a_misspelt_choice_has_a_nearest():
    assert FIELDS["therapy"].nearest_choice("irigation") == "irrigation"
    assert FIELDS["drainage.landmark"].nearest_choice("Foramen of Munro") == "foramen of Monro"
    assert FIELDS["therapy"].nearest_choice("xyz") is None


def test_sections():
    nodes = {path: node.get("then", node) for path, node in schema_nodes(SCHEMA)}
    sections = {path: node["title"] for path, node in nodes.items() if "properties" in node}
    assert dict(TABLE.section_names) == sections
    assert list(TABLE.sections) == list(sections)
    for path, leaves in TABLE.sections.items():
        assert leaves == tuple(leaf for leaf in FIELDS if (leaf + ".").startswith(path + "."))
    additive = "irrigation.additive"
    assert TABLE.sections[additive][0] == additive
    assert FIELDS[additive].choices == ("none",)
    assert TABLE.sections["notify.net_in"] == ("notify.net_in.above", "notify.net_in.within")


def test_no_two_paths_have_the_same_words():
    paths = {*FIELDS, *TABLE.sections}
    words = {tuple(sorted(path.replace(".", "_").split("_"))) for path in paths}
    assert len(words) == len(paths)


@of_each("path", FIELDS)
def test_a_path_joined_otherwise_is_found(path):
    for joint in ("_", " ", "-"):
        assert TABLE.nearest_key("", path.replace(".", joint)) == path


@given(path=st.sampled_from(sorted(FIELDS)), data=st.data())
def test_a_key_with_a_letter_dropped_is_found(path, data):
    section, _, key = path.rpartition(".")
    dropped = data.draw(st.integers(min_value=0, max_value=len(key) - 1))
    misspelt = key[:dropped] + key[dropped + 1 :]
    others = schema_keys(section) - {key}
    alike = any(misspelt == k[:n] + k[n + 1 :] for k in others for n in range(len(k)))
    if len(key) > 4 and misspelt not in others and not alike:
        assert TABLE.nearest_key(section, misspelt) == path


def schema_keys(section: str) -> set[str]:
    paths = {*FIELDS, *TABLE.sections}
    return {path.rpartition(".")[2] for path in paths if path.rpartition(".")[0] == section}


@pytest.mark.parametrize(
    ("section", "key", "nearest"),
    [
        ("", "pause_upper", "pause.upper"),
        ("", "upper_pause", "pause.upper"),
        ("", "treatAbove", "treat_above"),
        ("", "puase", "pause"),
        ("", "rate", "irrigation.rate"),
        ("irrigation", "height", None),
        ("irrigation", "irrigation_rate", "irrigation.rate"),
        ("transport", "drainage", "transport.drain"),
        ("notify", "net_in_above", "notify.net_in.above"),
        ("monitoring", "alarm", "monitoring.alarms"),
        ("", "above", None),
        ("", "colour", None),
        ("pause", "middle", None),
        ("drainage", "fog", None),
        ("irrigation.additive", "drug", None),
    ],
)
def test_nearest_key(section, key, nearest):
    assert TABLE.nearest_key(section, key) == nearest


@given(section=st.sampled_from(["", *TABLE.sections]), key=st.text())
def test_a_nearest_key_is_a_path_and_never_the_section_itself(section, key):
    nearest = TABLE.nearest_key(section, key)
    assert nearest is None or nearest in FIELDS or nearest in TABLE.sections
    assert nearest is None or not f"{section}.".startswith(f"{nearest}.")


def test_display_names():
    assert TABLE.display_name("pause.upper") == "Upper pause limit"
    assert TABLE.display_name("notify") == "Notification"
    assert TABLE.display_name("no.such") == "no.such"
    assert in_sentence("Upper pause limit") == "upper pause limit"
    assert in_sentence("ICP check interval") == "ICP check interval"
    assert in_sentence("High-ICP notify level") == "high-ICP notify level"
    assert in_sentence("") == ""


def test_an_unknown_schema_is_an_error():
    with pytest.raises(FileNotFoundError):
        load_schema("prescription")


@pytest.mark.parametrize(
    ("one", "other", "are_one"),
    [
        ("Vancomycin", "vancomycin", True),
        ("A fluid  of the ward", "a fluid of the Ward", True),
        ("10  mg/mL", "10 mg/mL", True),
        # SI prefixes: M is a million, m a thousandth (BIPM, The International System of Units).
        ("5 MU", "5 mU", False),
        ("50MU/mL", "50mU/mL", False),
        ("10 mg", "10 Mg", False),
        ("alteplase 1 mg", "alteplase 2 mg", False),
    ],
)
def test_texts_are_likened_but_for_the_case_that_tells_units_apart(one, other, are_one):
    assert (normalise_text(one) == normalise_text(other)) is are_one
