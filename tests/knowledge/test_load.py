"""The loader: a folder of TOML becomes a base, and every fault of every file is told in one line that helps."""

from pathlib import Path

import pytest

from knowledge import load, shipped_base
from knowledge.errors import KnowledgeError
from tests.knowledge.small import finding, rule

SOUND = {
    "stages.toml": """
        [[stage]]
        id = "mains"
        title = "mains"
        reached_when = "mains is there"
    """,
    "findings.toml": finding("dead"),
    "causes.toml": """
        [[cause]]
        id = "outlet"
        title = "outlet"
        part = "supply-path"
        plain = "the outlet is dead"
        mechanism = "no mains"
        remedy = "another outlet"
        minutes = 5
        source = "common practice"
    """,
    "strengths.toml": """
        [[strength]]
        id = "strong"
        log10_ratio = 1.0
        title = "strong"
    """,
    "rules/one.toml": rule("dead-is-outlet", '[{ finding = "dead" }]', '[{ support = "outlet", strength = "strong" }]'),
}


def write(folder: Path, changes: dict[str, str]) -> Path:
    """Write the sound little base with these files changed or added."""
    for name, text in (SOUND | changes).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def faults(folder: Path, changes: dict[str, str]) -> list[str]:
    """Give the faults of the little base with these changes."""
    with pytest.raises(KnowledgeError) as caught:
        load([write(folder, changes)])
    return list(caught.value.faults)


def changed(file: str, old: str, new: str) -> dict[str, str]:
    """Give one file of the little base with one piece of text replaced."""
    assert old in SOUND[file]
    return {file: SOUND[file].replace(old, new)}


def test_a_sound_folder_loads_in_full(tmp_path):
    """The little base that all others are broken from."""
    base = load([write(tmp_path, {})])
    assert [finding.id for finding in base.findings] == ["dead"]
    assert base.rules[0].gives[0].about == "outlet"


def test_two_folders_make_one_base(tmp_path):
    """A shop's own folder is added to ours."""
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "more.toml").write_text(SOUND["findings.toml"].replace('id = "dead"', 'id = "loud"'), encoding="utf-8")
    base = load([write(tmp_path / "own", {}), shop])
    assert [finding.id for finding in base.findings] == ["dead", "loud"]


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("rules/one.toml", '"dead" }', '"daed" }', "no such id 'daed'; did you mean 'dead'?"),
        ("rules/one.toml", 'support = "outlet"', 'support = "outlets"', "did you mean 'outlet'?"),
        ("rules/one.toml", '"strong"', '"huge"', "strength: 'huge' is none of strong"),
        ("rules/one.toml", '"common practice"', '"a forum"', "'a forum' is neither 'common practice'"),
        ("rules/one.toml", "because", "why", "why: Extra inputs are not permitted"),
        ("rules/one.toml", 'fires = ["dead"]', "fires = []", "fires"),
        ("rules/one.toml", ', strength = "strong"', "", "support and weaken need a strength"),
        ("rules/one.toml", '{ finding = "dead" }', '{ finding = "dead", reached = "mains" }', "give exactly one of"),
        ("causes.toml", "minutes = 5", "minutes = 0", "minutes"),
        ("causes.toml", '"outlet"\n        title', '"Outlet!"\n        title', "id"),
        ("findings.toml", '"sign"', '"omen"', "kind"),
        ("stages.toml", "[[stage]]", "[[stages]]", "no table '[[stages]]'"),
        ("stages.toml", "[[stage]]", "[[stage]", "not readable as TOML"),
    ],
)
def test_a_fault_names_the_file_and_what_is_wrong(tmp_path, file, old, new, told):
    """One change at a time; the line begins with the file and holds the remedy or the rule that was broken."""
    lines = faults(tmp_path, changed(file, old, new))
    assert any(line.startswith(file) and told in line for line in lines), lines


def test_all_faults_of_all_files_are_told_at_once(tmp_path):
    """Nobody mends one fault only to be shown the next."""
    changes = changed("causes.toml", "minutes = 5", "minutes = 0") | changed("findings.toml", '"sign"', '"omen"')
    files = {line.split(":")[0] for line in faults(tmp_path, changes)}
    assert {"causes.toml", "findings.toml"} <= files


def test_an_id_is_taken_once(tmp_path):
    """The line names both files."""
    lines = faults(tmp_path, {"more.toml": SOUND["findings.toml"]})
    assert "more.toml: finding 'dead': id is taken already, in findings.toml" in lines


def test_a_folder_without_knowledge_says_so(tmp_path):
    """An empty folder is most likely the wrong folder."""
    with pytest.raises(KnowledgeError, match=r"no knowledge files \(\*\.toml\) here"):
        load([tmp_path])


def test_a_missing_folder_says_so(tmp_path):
    """So is one that does not exist."""
    with pytest.raises(KnowledgeError, match="no knowledge files"):
        load([tmp_path / "nowhere"])


def check_with(first: float, second: float) -> dict[str, str]:
    """Give a check whose two outcomes have these probabilities for every cause."""
    return {
        "checks.toml": f"""
            [[check]]
            id = "lamp"
            title = "lamp"
            how = "a lamp on the same outlet"
            minutes = 2
            who = "owner"
            source = "common practice"
            outcomes = [
              {{ id = "lit", title = "lit", otherwise = {first} }},
              {{ id = "dark", title = "dark", otherwise = {second} }},
            ]
        """
    }


def test_probabilities_of_the_outcomes_must_sum_to_one(tmp_path):
    """0.9 and 0.2 make 1.1."""
    lines = faults(tmp_path, check_with(0.9, 0.2))
    assert "checks.toml: check 'lamp': outcomes: the probabilities for every other cause sum to 1.1, not to 1" in lines


def test_probabilities_that_sum_to_one_are_taken(tmp_path):
    """0.9 and 0.1 make 1."""
    assert len(load([write(tmp_path, check_with(0.9, 0.1))]).checks[0].outcomes) == 2


# The ids that saved cases and other programs rely on.

STAGES = ["mains", "standby", "power-on", "post", "display", "boot", "os", "load"]

CAUSES = [
    "mains-outlet",
    "mains-lead",
    "psu-switch",
    "psu-failed",
    "psu-overload",
    "standby-latched",
    "psu-lead-loose",
    "cpu-power-loose",
    "gpu-power-loose",
    "lead-mismatch",
    "power-button",
    "board-short",
    "part-short",
    "board-failed",
    "liquid-damage",
    "coin-cell",
    "firmware-settings",
    "firmware-corrupt",
    "cpu-failed",
    "cpu-seating",
    "cpu-unsupported",
    "cooling-fault",
    "dust-airflow",
    "fan-failed",
    "ram-seating",
    "ram-failed",
    "ram-mismatch",
    "unstable-tuning",
    "gpu-seating",
    "gpu-failed",
    "gpu-driver",
    "display-path",
    "expansion-card",
    "drive-cable",
    "drive-failed",
    "boot-order",
    "os-corrupt",
    "os-software",
    "usb-device",
    "underpowered",
    "no-fault-found",
]

HAZARDS = {
    "fire": "stop",
    "mains-fault": "stop",
    "electric-shock": "stop",
    "short-circuit": "caution",
    "liquid": "stop",
    "stored-energy": "caution",
    "capacitor-leak": "caution",
    "battery-swollen": "stop",
    "overheating": "caution",
    "wrong-supply": "caution",
    "data-loss": "caution",
    "coin-cell-ingestion": "notice",
    "surge": "caution",
}


def test_the_rungs_stand_in_the_order_of_the_chain():
    """From the wall to the desktop under load."""
    assert [stage.id for stage in shipped_base().stages] == STAGES


def test_every_public_cause_is_there():
    """Saved cases name them."""
    assert [cause for cause in CAUSES if cause not in {known.id for known in shipped_base().causes}] == []


def test_every_public_hazard_is_there_with_its_level():
    """A level that changes changes what is locked and how a call exits."""
    assert {hazard.id: hazard.level for hazard in shipped_base().hazards} == HAZARDS


def test_every_hazard_is_raised_by_some_rule():
    """A hazard that nothing raises protects nobody."""
    raised = {gives.hazard for rule in shipped_base().rules for gives in rule.gives if gives.hazard}
    assert sorted(set(HAZARDS) - raised) == []


def test_every_complaint_is_concluded_by_some_rule():
    """Priors of a complaint that nothing concludes are never used."""
    base = shipped_base()
    concluded = {gives.complaint for rule in base.rules for gives in rule.gives if gives.complaint}
    assert [complaint.id for complaint in base.complaints if complaint.id not in concluded] == []


def test_the_priors_of_a_complaint_leave_something_for_the_unlisted():
    """A list that claims to be complete would drive some listed cause to certainty."""
    for complaint in shipped_base().complaints:
        assert complaint.priors["unlisted-fault"][0] > 0, complaint.id


# Advice that must never be given, whoever edits the base.

FORBIDDEN = ("open the supply", "open the power supply", "inside the supply")


def test_nothing_tells_anybody_to_open_a_supply():
    """Mains and charged capacitors are in there; a faulty supply is replaced as a whole."""
    base = shipped_base()
    steps = [text for check in base.checks for text in (check.how, *check.precautions)]
    steps += [cause.remedy for cause in base.causes] + [question.text for question in base.questions]
    told = [text for text in steps if any(words in text.lower() for words in FORBIDDEN) and "do not open" not in text]
    assert told == []


def test_bridging_the_start_pin_needs_a_standard_supply_and_no_danger():
    """Common practice of the trade: known pin-out, no short, nothing wet or burnt, a load connected."""
    check = next(check for check in shipped_base().checks if check.id == "supply-alone")
    barred_by_kind = {condition.finding for condition in check.unless}
    assert {"nonstandard-supply", "nonstandard-board", "laptop", "all-in-one"} <= barred_by_kind
    barred = {condition.hazard for condition in check.unless}
    assert {"short-circuit", "liquid", "fire", "mains-fault", "electric-shock"} <= barred
    assert check.precautions
    assert "bridge-start-pin" in check.risks


@pytest.mark.parametrize("hazard", [h for h, level in HAZARDS.items() if level == "stop"])
def test_a_stop_keeps_mains_away(hazard):
    """A stop means: do not energise, a qualified person."""
    locks = next(known.locks for known in shipped_base().hazards if known.id == hazard)
    assert {"energise", "heat"} <= set(locks)
