from __future__ import annotations

import hashlib
import json

import pytest
from jsonschema import Draft202012Validator
from running import AT, CLEAN, run

from orderlint.cli.inputs import read_input
from orderlint.fields import load_schema
from orderlint.own_files import CannotWrite

FOLDER = CLEAN.parent
SOUND = FOLDER / "set-irrigation-adult.yaml"
CORNERED = FOLDER / "set-irrigation-corners.yaml"
pytestmark = pytest.mark.usefixtures("worked_out_once")
REVIEWS = Draft202012Validator(load_schema("review"))


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """A JSON report on the cornered set, and the file that it stands in."""
    file = tmp_path_factory.mktemp("reports") / "report.json"
    ran = run("review", *AT, "--format", "json", "--output", file, CORNERED)
    assert (ran.status, ran.err) == (1, "")
    return file


def test_a_sound_set_is_clear():
    ran = run("review", *AT, "--detail", SOUND)
    assert (ran.status, ran.err) == (0, "")
    assert "Verdict: SOUND" in ran.text
    assert "Every rule that can be asked before signing is proved of every order" in ran.text
    assert "It does not cover free text" in ran.text


@pytest.mark.slow
def test_a_broken_rule_is_shown_with_its_order_and_a_question():
    ran = run("review", *AT, "--detail", CORNERED)
    assert ran.status == 1
    assert "upper pause limit: 14 mmHg (preset: 22 mmHg)" in ran.text
    assert (
        "Of that order verify says: DO NOT START – CALL, by the rule "
        "treat-above-over-upper-pause: Irrigation would never run. It starts only above 14 mmHg, "
        "and it pauses above 14 mmHg. Whoever checks it is to ask the prescriber: "
        "Which of the two levels was meant?"
    ) in ran.text
    assert (
        "Ask the author: Would it do to offer only 8 mmHg, 10 mmHg or 12 mmHg, and no longer "
        "14 mmHg, as the treat-above level? It is proved that no order from the set would then "
        "break treat-above-over-upper-pause."
    ) in ran.text
    assert "Would it do to make all of these changes? offer only 22 mmHg, and no longer" in ran.text
    assert run("review", *AT, "--fail-at", "do-not-start", CORNERED).status == 1


@pytest.mark.slow
def test_json_is_as_the_schema_says(report):
    made = json.loads(report.read_text(encoding="utf-8"))
    assert [error.message for error in REVIEWS.iter_errors(made)] == []
    (document,) = made["documents"]
    results = {proof["result"] for proof in document["proofs"]}
    assert {"broken", "proved", "vacuous", "at-signing"} <= results
    broken = next(proof for proof in document["proofs"] if proof["result"] == "broken")
    assert broken["picks"]
    assert broken["order"]["therapy"] == "irrigation"


@pytest.mark.slow
def test_in_every_form_for_programs_a_finding_has_the_id_of_the_rule_that_is_broken(report):
    (document,) = json.loads(report.read_bytes())["documents"]
    found = [finding["rule"] for finding in document["findings"]]
    assert "treat-above-over-upper-pause" in found
    assert {finding["found"] for finding in document["findings"]} == {"reachable"}
    assert set(found) <= {proof["rule"] for proof in document["proofs"]}
    sarif, junit, line = (
        run("review", *AT, "--format", form, CORNERED).out.decode()
        for form in ("sarif", "junit", "line")
    )
    (told,) = json.loads(sarif)["runs"]
    assert [result["ruleId"] for result in told["results"]] == found
    assert {result["properties"]["found"] for result in told["results"]} == {"reachable"}
    for rule in found:
        assert f'name="{rule}"' in junit
        assert f": {rule}: " in line


@pytest.mark.slow
def test_what_is_picked_and_what_would_do_are_data(report):
    (document,) = json.loads(report.read_bytes())["documents"]
    proofs = {proof["rule"]: proof for proof in document["proofs"]}
    broken = proofs["treat-above-over-upper-pause"]
    picks = {pick["path"]: pick for pick in broken["picks"] if "path" in pick}
    assert picks["pause.upper"] == {
        "path": "pause.upper",
        "picked": "14 mmHg",
        "preset": "22 mmHg",
        "has_preset": True,
        "is_changed": True,
    }
    assert broken["narrowings"][0] == {
        "path": "treat_above",
        "kept": ["8 mmHg", "10 mmHg", "12 mmHg"],
        "gone": ["14 mmHg"],
        "moves_preset": False,
        "is_vacuous": False,
    }
    assert [each["path"] for each in document["together"]] == ["pause.upper", "drainage.height"]


def test_the_schema_of_reviews_is_one():
    Draft202012Validator.check_schema(REVIEWS.schema)


@pytest.fixture(scope="module")
def accepted(tmp_path_factory):
    """A baseline in which all is accepted that is found in the cornered set."""
    file = tmp_path_factory.mktemp("baselines") / "accepted.json"
    assert run("review", *AT, "--format", "baseline", "--output", file, CORNERED).status == 1
    return file


@pytest.mark.slow
def test_what_stood_in_the_baseline_is_marked_and_does_not_count(accepted):
    ran = run("review", *AT, "--baseline", accepted, CORNERED)
    assert ran.status == 0
    assert "6 findings known already: treat-above-over-upper-pause," in ran.text
    ran = run("review", *AT, "--detail", "--baseline", accepted, CORNERED)
    assert "Known already." in ran.text
    ran = run("review", *AT, "--baseline", accepted, "--format", "line", CORNERED)
    assert ran.out.decode().count("Known already.") == 6


@pytest.mark.slow
def test_a_set_with_an_id_keeps_its_findings_when_its_file_is_renamed(tmp_path):
    text = CORNERED.read_text(encoding="utf-8")
    old, new, accepted = (tmp_path / name for name in ("old.yaml", "new.yaml", "accepted.json"))
    old.write_text(text.replace("title:", "id: corners\ntitle:", 1), encoding="utf-8")
    assert run("review", *AT, "--format", "baseline", "--output", accepted, old).status == 1
    assert run("review", *AT, "--baseline", accepted, old.rename(new)).status == 0
    assert run("review", *AT, "--baseline", accepted, CORNERED).status == 1


@pytest.mark.slow
def test_another_rule_that_the_presets_break_at_a_known_setting_is_new(tmp_path):
    """The baseline knew what kind of finding stood at a setting, and not which rule was broken."""
    accepted = tmp_path / "accepted.json"
    policies = [tmp_path / name for name in ("before.yaml", "after.yaml")]
    for number, policy in enumerate(policies):
        policy.write_text(POLICY.format(number=number))
    before, after = (("review", *AT, "--policy", policy, SOUND) for policy in policies)
    assert run(*before, "--format", "baseline", "--output", accepted).status == 1
    assert run(*before, "--baseline", accepted).status == 0
    assert run(*after, "--baseline", accepted).status == 1


POLICY = """document: site-policy
format: 1
title: an invented unit
rules:
  - rule: hourly-limit-{number}
    level: clarify
    when: given(drainage.hourly_max)
    require: drainage.hourly_max <= most
    limits: {{most: 100 mL/h}}
    says: The hourly output limit is {{drainage.hourly_max}}.
    why: Invented.
    ask: What?
    ask_whom: prescriber
    source: {{kind: local-policy}}
"""


def test_a_report_is_no_baseline(report):
    ran = run("review", *AT, "--baseline", report, CORNERED)
    assert (ran.status, ran.out) == (2, b"")
    assert "This is a report, and no baseline" in ran.err


@pytest.mark.parametrize(("file", "status"), [(CORNERED, 1), (SOUND, 0)])
def test_each_form_for_ci_has_the_same_status(file, status):
    for form in ("sarif", "junit", "line"):
        assert run("review", *AT, "--format", form, file).status == status, form


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    """What `--certificate` writes of the sound set."""
    file = tmp_path_factory.mktemp("certificates") / "sound.json"
    assert run("review", *AT, "--certificate", file, SOUND).status == 0
    return file.read_bytes()


@pytest.fixture
def proofs(certificate, tmp_path):
    """A file with the certificate of the sound set, to be changed at will."""
    file = tmp_path / "proofs.json"
    file.write_bytes(certificate)
    return file


@pytest.mark.slow
def test_a_certificate_holds_for_its_set_alone(proofs):
    ran = run("review", "--recheck", proofs, SOUND)
    assert (ran.status, "the certificate holds" in ran.text) == (0, True)
    ran = run("review", "--recheck", proofs, CORNERED)
    assert (ran.status, ran.out) == (2, b"")
    assert "The certificate is refused" in ran.err
    made = json.loads(proofs.read_text(encoding="utf-8"))
    name = next(name for name, rule in made["rules"].items() if rule.get("conditions"))
    made["rules"][name]["conditions"] = made["rules"][name]["conditions"][1:]
    proofs.write_text(json.dumps(made), encoding="utf-8")
    ran = run("review", "--recheck", proofs, SOUND)
    assert (ran.status, name in ran.err) == (2, True)


@pytest.mark.slow
def test_a_certificate_is_of_the_bytes_that_were_reviewed(tmp_path, monkeypatch):
    """A file that changes while it is reviewed is not the one that was proved."""
    kept, file = tmp_path / "set.yaml", tmp_path / "proofs.json"
    kept.write_bytes(SOUND.read_bytes())

    def read_and_change(name, largest=None):
        data = read_input(name, largest)
        kept.write_bytes(data.replace(b"22 mmHg", b"25 mmHg"))
        return data

    with monkeypatch.context() as patched:
        patched.setattr("orderlint.cli.inputs.read_input", read_and_change)
        assert run("review", *AT, "--certificate", file, kept).status == 0
    digests = json.loads(file.read_text(encoding="utf-8"))["digests"]
    assert digests["set"] == hashlib.sha256(SOUND.read_bytes()).hexdigest()
    assert "for another set" in run("review", "--recheck", file, kept).err


@pytest.mark.slow
def test_an_answer_that_cannot_be_written_is_no_fault_of_the_tool(proofs, monkeypatch):

    def full(*_):
        raise CannotWrite("The results could not be written: no space is left.")

    monkeypatch.setattr("orderlint.cli.certificates.write", full)
    ran = run("review", "--recheck", proofs, SOUND)
    assert (ran.status, ran.err) == (2, "The results could not be written: no space is left.\n")


@pytest.mark.slow
def test_what_a_certificate_does_not_vouch_for_is_counted_apart(tmp_path):
    file = tmp_path / "proofs.json"
    run("review", *AT, "--certificate", file, CORNERED)
    ran = run("review", "--recheck", file, CORNERED)
    assert (ran.status, ran.err) == (1, "")
    assert "Of the rest the certificate vouches for nothing: 6 broken." in ran.text


@pytest.mark.slow
def test_what_is_proved_in_part_is_not_counted_as_whole(proofs):
    ran = run("review", "--recheck", proofs, SOUND)
    assert "8 of them in part: the rest of those is judged at signing." in ran.text


def test_a_certificate_with_a_key_twice_is_refused(proofs):
    text = proofs.read_text(encoding="utf-8")
    proofs.write_text(text.replace("{", '{"rules": {},', 1), encoding="utf-8")
    ran = run("review", "--recheck", proofs, SOUND)
    assert (ran.status, "This is no certificate." in ran.err) == (2, True)


@pytest.mark.parametrize("text", ["", "[]", "{}", "[" * 100_000, '{"rules": {}}', "\x00"])
def test_what_is_no_certificate_is_refused(text, tmp_path):
    file = tmp_path / "proofs.json"
    file.write_text(text, encoding="utf-8")
    ran = run("review", "--recheck", file, SOUND)
    assert (ran.status, ran.out) == (2, b"")
    assert str(file) in ran.err


def test_a_certificate_of_too_many_parts_is_refused_unparsed(tmp_path, monkeypatch):
    """Sixteen megabytes of brackets would take 450 to hold."""
    monkeypatch.setattr(
        "orderlint.cli.certificates.json.loads", lambda *_, **__: pytest.fail("read")
    )
    file = tmp_path / "proofs.json"
    file.write_bytes(b"[" + b"[]," * 400_000 + b"[]]")
    ran = run("review", "--recheck", file, SOUND)
    assert (ran.status, ran.out) == (2, b"")
    assert "more than 750,000 parts" in ran.err


@pytest.mark.parametrize("part", ["conditions", "at_signing"])
def test_a_deep_certificate_is_refused(part, proofs):
    made = json.loads(proofs.read_text(encoding="utf-8"))
    name = next(name for name, rule in made["rules"].items() if rule.get("conditions"))
    made["rules"][name][part] = "deep"
    text = json.dumps(made).replace('"deep"', "[" * 900 + "]" * 900)
    proofs.write_text(text, encoding="utf-8")
    ran = run("review", "--recheck", proofs, SOUND)
    assert (ran.status, ran.out) == (2, b"")
    assert "The certificate is refused" in ran.err


def test_wrong_use(tmp_path):
    kept = tmp_path / "set.yaml"
    kept.write_bytes(SOUND.read_bytes())
    for wrong, message in (
        (("--output", kept, kept), "it would be lost"),
        (("--certificate", kept, kept), "it would be lost"),
        (("--certificate", tmp_path / "c.json", kept, SOUND), "of one order set"),
        (("--certificate", tmp_path / "c.json", "-"), "of one order set, in a file"),
        (("--certificate", kept, "--output", kept, SOUND), "it would be lost"),
        (("--policy", "-", "-"), "can be read only once"),
        (("nowhere.yaml",), "There is no such file."),
        ((CLEAN,), "an order set is wanted here"),
    ):
        ran = run("review", *AT, *wrong)
        assert (ran.status, ran.out if "nowhere" not in str(wrong) else b"") == (2, ran.out)
        assert message in ran.err
    assert kept.read_bytes() == SOUND.read_bytes()


def test_what_reviews_and_findings_share_is_described_alike():
    ours, theirs = load_schema("review")["$defs"], load_schema("findings")["$defs"]
    shared = [name for name in ours if name in theirs and name != "document"]
    assert len(shared) > 10
    of_orders = {"properties": {**ours["finding"]["properties"]}}
    assert of_orders["properties"].pop("found")  # of orders from the set: no order has it
    ours["finding"] = {**ours["finding"], **of_orders}
    assert {name: ours[name] for name in shared} == {name: theirs[name] for name in shared}
