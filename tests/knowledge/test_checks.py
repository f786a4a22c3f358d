"""The checks: safe as written, timed by the bench's table, and between them able to tell the causes apart.

Minutes and probabilities have no published source; where one bounds them it is named beside the test.
"""

import re
from itertools import combinations

import pytest

from expert.assess import raised_hazards
from expert.belief import believe
from expert.engine import Engine
from expert.facts import claims_in
from expert.planner import CheckPlan, rank_checks
from knowledge import shipped_base
from knowledge.load import BASE
from knowledge.models import Check, Outcome

FILES = sorted((BASE / "checks").glob("*.toml"))
CHECKS = {check.id: check for check in shipped_base().checks}
EVERY = [pytest.param(check, id=check.id) for check in CHECKS.values()]
LIMITS = (0.005, 0.995)  # a check can be misread: what the belief clips to

# Attended minutes, unattended minutes [judgement of the bench, no source].
MINUTES = {
    "outlet-with-another-load": (2, 0),
    "other-mains-lead": (3, 0),
    "rear-switch-and-selector": (1, 0),
    "power-drain": (2, 3),
    "look-and-sniff-inside": (5, 0),
    "press-power-leads-home": (4, 0),
    "every-lead-traced": (8, 0),
    "supply-alone": (8, 0),
    "standby-rail-by-meter": (8, 0),
    "main-rails-by-meter": (8, 0),
    "known-good-supply-beside-case": (15, 0),
    "button-bypass": (3, 0),
    "front-leads-and-button-by-meter": (5, 0),
    "unplug-outside-devices": (2, 0),
    "screen-input-lead-output": (4, 0),
    "known-good-screen": (5, 0),
    "memory-reseated-and-wiped": (6, 0),
    "one-module-at-a-time": (15, 0),
    "known-good-memory": (8, 0),
    "memory-test-one-pass": (4, 60),
    "memory-test-overnight": (4, 480),
    "graphics-card-reseated": (6, 0),
    "card-out-onboard-picture": (6, 0),
    "known-good-card": (12, 0),
    "other-cards-and-drives-out": (8, 0),
    "settings-clear": (5, 5),
    "coin-cell-by-meter": (5, 0),
    "coin-cell-replaced": (5, 0),
    "self-test-signals": (5, 0),
    "minimum-parts-in-case": (15, 0),
    "minimum-parts-out-of-case": (25, 0),
    "standoffs-and-tabs": (30, 0),
    "cooler-off-and-socket": (25, 0),
    "dust-out-and-fans-spun": (15, 0),
    "fans-and-temperature-under-load": (5, 20),
    "processor-and-supply-load": (5, 30),
    "graphics-load": (5, 20),
    "stock-settings": (4, 0),
    "drive-listed-order-and-mode": (4, 0),
    "drive-lead-and-port": (6, 0),
    "drive-health-counters": (5, 0),
    "drive-self-test-short": (2, 2),
    "start-from-good-stick": (8, 0),
    "start-up-repaired": (15, 20),
    "graphics-driver-clean": (15, 10),
    "event-log-and-dumps": (15, 0),
    "firmware-updated-on-bench": (10, 5),
    "clean-system-on-spare-drive": (15, 30),
    "known-good-processor": (75, 0),
    "known-good-board": (75, 0),
    "their-processor-in-bench-machine": (45, 0),
    "their-drive-in-bench-machine": (10, 5),
}
WAITS = {"drive-self-test-long": (2, 60, 600), "data-copied-first": (15, 60, 300)}  # the wait is a range in the table

# Nothing of these lets mains reach the machine; every other check does, or may.
COLD = {
    "outlet-with-another-load",
    "look-and-sniff-inside",
    "every-lead-traced",
    "front-leads-and-button-by-meter",
    "coin-cell-by-meter",
    "standoffs-and-tabs",
    "rails-to-ground",
    "cooler-off-and-socket",
    "processor-on-boards-list",
    "modules-on-boards-list",
}

# Pairs of causes that no check tells apart, each with the reason. None is needed.
AMBIGUOUS: dict[frozenset[str], str] = {}

OPENED = re.compile(r"\b(open|opened|unscrew|dismantle|take apart|lid|cover off)\b[^.;:]*\bsupply\b", re.IGNORECASE)
HEAVY = ("burning-smell", "smoke", "sparks", "flames", "liquid-spilled", "breaker-trips", "shock", "twitches")


@pytest.fixture(scope="module")
def engine() -> Engine:
    """All rules of the base together."""
    return Engine(shipped_base())


def _plans(engine: Engine, told: str) -> dict[str, CheckPlan]:
    """Give what the planner offers for these findings where every tool and spare is at hand."""
    base = shipped_base()
    claims = frozenset(claims_in(told))
    firings = engine.run(claims)
    belief = believe(firings, base)
    risks = {risk: raised.hazard.id for raised in raised_hazards(firings, base) for risk in raised.hazard.locks}
    have = {thing for check in base.checks for thing in (*check.tools, *check.spares)}
    return {plan.id: plan for plan in rank_checks(base, belief, claims | belief.roots.keys(), have, risks)}


def _ratio(checks: list[Check], one: str, other: str) -> float:
    """Give the best likelihood ratio by which an outcome tells two causes apart, if one of them makes it likely."""
    low, high = LIMITS
    pairs = (
        tuple(min(max(outcome.likely.get(cause, outcome.otherwise), low), high) for cause in (one, other))
        for check in checks
        for outcome in check.outcomes
    )
    return max((max(p) / min(p) for p in pairs if max(p) >= 0.25), default=1.0)


def _outcome(name: str, outcome: str) -> Outcome:
    return next(one for one in CHECKS[name].outcomes if one.id == outcome)


def test_the_whole_chain_has_its_checks():
    """At least 45; the files are those of the chain, from the wall to the system."""
    assert len(CHECKS) >= 45
    assert {path.stem for path in FILES} == {
        "supply-path",
        "supply",
        "board",
        "memory",
        "graphics-display",
        "storage",
        "system",
        "cooling",
    }


@pytest.mark.parametrize(("name", "times"), MINUTES.items(), ids=MINUTES)
def test_minutes_are_those_of_the_bench(name, times):
    """The table above [judgement, no source]."""
    assert (CHECKS[name].minutes, CHECKS[name].wait) == times


@pytest.mark.parametrize(("name", "times"), WAITS.items(), ids=WAITS)
def test_a_long_wait_lies_in_its_range(name, times):
    """Long drive tests and copies depend on the size of the drive [judgement, no source]."""
    minutes, shortest, longest = times
    assert CHECKS[name].minutes == minutes
    assert shortest <= CHECKS[name].wait <= longest


@pytest.mark.parametrize("check", EVERY)
def test_a_check_that_lets_mains_in_says_so(check):
    """A hazard locks by risk: a check that hides it would still be offered on a burnt machine. Common practice."""
    assert ("energise" in check.risks) == (check.id not in COLD)


@pytest.mark.parametrize("check", EVERY)
def test_hands_go_in_with_the_lead_out_or_under_precautions(check):
    """Inside: the lead is out first, or, where it must be in, the machine was looked over or a probe is named."""
    inside = "inside" in check.risks
    warned = any(re.search(r"mains lead out|first look for liquid", text, re.IGNORECASE) for text in check.precautions)
    assert inside == ("case-open" in check.setup)
    assert warned >= inside


@pytest.mark.parametrize("check", [c for c in EVERY if c.values[0].who == "owner"])
def test_an_owner_stays_outside(check):
    """Owners do harmless things outside the machine: no case, no meter, no bridging, no load, no loss of data."""
    assert set(check.risks) <= {"energise"}
    assert not check.setup
    assert set(check.tools) <= {"lamp", "torch"}
    assert check.precautions


@pytest.mark.parametrize("check", EVERY)
def test_no_check_opens_a_supply(check):
    """A supply holds a dangerous charge and is replaced as a whole; not even its lid is spoken of."""
    assert not OPENED.search(" ".join((check.title, check.how, *(outcome.title for outcome in check.outcomes))))


def test_the_words_of_opening_would_be_caught():
    """The pattern above sees what it is for."""
    assert OPENED.search("Unscrew the four screws and open the power supply.")
    assert not OPENED.search("Open the case. Look at the supply.")


@pytest.mark.parametrize("check", [c for c in EVERY if "bridge-start-pin" in c.values[0].risks])
def test_a_bridged_supply_is_standard_alone_and_closed(check):
    """Only a supply of the published standard (ATX guide 3.0, section 4.3.3), and never opened."""
    refused = {condition.finding for condition in check.unless} | {condition.hazard for condition in check.unless}
    assert {"nonstandard-supply", "nonstandard-board", "laptop", "all-in-one"} <= refused
    assert {"short-circuit", "liquid", "fire", "mains-fault", "electric-shock", "wrong-supply"} <= refused
    assert any("stays closed" in text for text in check.precautions)
    assert check.who == "bench"


def test_bridging_is_offered_for_a_standard_supply_only(engine):
    """Offered when a machine is dead; not with another kind of supply, nor after any danger sign."""
    assert _plans(engine, "dead")["supply-alone"].locked_by is None
    for told in ("nonstandard-supply", "nonstandard-board", "laptop", "all-in-one", *HEAVY):
        assert "supply-alone" not in _plans(engine, f"dead, {told}"), told


@pytest.mark.parametrize("told", [sign for sign in HEAVY if sign != "twitches"])
def test_a_danger_sign_locks_whatever_lets_mains_in(engine, told):
    """Smoke, fire, liquid, a shock or a tripped breaker: do not energise. Common practice."""
    plans = _plans(engine, f"dead, {told}")
    assert plans
    assert [name for name, plan in plans.items() if not plan.locked_by and "energise" in CHECKS[name].risks] == []


@pytest.mark.parametrize("check", [c for c in EVERY if "erase-data" in c.values[0].risks])
def test_what_may_cost_data_warns(check):
    """A check that may cost data or settings says what to save first: a copy, a note, the recovery key."""
    assert any(re.search(r"copy|note|write down|recovery key", text, re.IGNORECASE) for text in check.precautions)


@pytest.mark.parametrize("check", EVERY)
def test_instructions_are_short(check):
    """One to four sentences, so that they can be read with a screwdriver in hand."""
    assert 1 <= len(re.findall(r"[.?!](?=\s|$)", check.how)) <= 4


@pytest.mark.parametrize("part", ["supply", "memory", "card"])
def test_a_part_is_swapped_in_both_directions(part):
    """A good part in their machine clears or convicts theirs; their part in a good machine proves it."""
    about = [check for check in CHECKS.values() if part in check.id]
    assert any(check.id.startswith("known-good") and check.spares for check in about)
    assert any(check.id.startswith("their") and "known-good-bench" in check.spares for check in about)


def test_clean_counters_clear_little():
    """Of failed disks that still answer, those without a warning lie between two published shares.

    36 % without any warning (Pinheiro, Weber, Barroso, FAST 2007, as reported); 23 % with none of five counters raised
    (drive statistics of 67,814 disks, 2016; from memory).
    """
    likely = {o.id: o.likely["drive-failed"] for o in CHECKS["drive-health-counters"].outcomes}
    assert 0.23 <= likely["clean"] / (1.0 - likely["no-answer"]) <= 0.36


def test_a_longer_memory_test_misses_less():
    """Faults repeat (Schroeder, Pinheiro, Weber, SIGMETRICS 2009): a night finds more than a pass, and not all."""
    clean = {name: _outcome(name, "clean") for name in ("memory-test-one-pass", "memory-test-overnight")}
    one_pass, night = (outcome.likely["ram-failed"] for outcome in clean.values())
    assert 0.0 < night < one_pass < 0.5
    assert all(outcome.otherwise > 0.9 for outcome in clean.values())


@pytest.mark.parametrize(
    ("name", "outcome", "cause"),
    [
        ("outlet-with-another-load", "dead", "mains-outlet"),
        ("rear-switch-and-selector", "off", "psu-switch"),
        ("power-drain", "cured", "standby-latched"),
        ("press-power-leads-home", "main-lead", "psu-lead-loose"),
        ("every-lead-traced", "foreign", "lead-mismatch"),
        ("every-lead-traced", "processor-off", "cpu-power-loose"),
        ("button-bypass", "cured", "power-button"),
        ("start-signal-by-meter", "stays-high", "power-button"),
        ("rails-to-ground", "part", "part-short"),
        ("minimum-parts-out-of-case", "cured", "board-short"),
        ("known-good-supply-beside-case", "cured", "psu-failed"),
        ("power-draw-at-work", "near-rating", "psu-overload"),
        ("known-good-memory", "cured", "ram-failed"),
        ("one-module-at-a-time", "module", "ram-failed"),
        ("one-module-at-a-time", "slot", "cpu-seating"),
        ("memory-test-one-pass", "errors", "ram-failed"),
        ("known-good-card", "cured", "gpu-failed"),
        ("graphics-load", "picture", "gpu-failed"),
        ("graphics-load", "off", "psu-overload"),
        ("graphics-load", "error", "gpu-driver"),
        ("processor-and-supply-load", "hot", "cooling-fault"),
        ("processor-and-supply-load", "off-cool", "psu-failed"),
        ("fans-and-temperature-at-rest", "fan-stands", "fan-failed"),
        ("fans-and-temperature-at-rest", "climbs", "cooling-fault"),
        ("dust-out-and-fans-spun", "dust", "dust-airflow"),
        ("drive-lead-and-port", "cured", "drive-cable"),
        ("drive-health-counters", "warning", "drive-failed"),
        ("drive-health-counters", "link-errors", "drive-cable"),
        ("drive-listed-order-and-mode", "order", "boot-order"),
        ("start-from-good-stick", "well", "os-corrupt"),
        ("what-it-waits-for", "full", "underpowered"),
        ("event-log-and-dumps", "power-gone", "psu-failed"),
        ("event-log-and-dumps", "mixed", "ram-failed"),
        ("settings-clear", "cured", "firmware-settings"),
        ("firmware-recovered", "cured", "firmware-corrupt"),
        ("known-good-board", "cured", "board-failed"),
        ("known-good-processor", "cured", "cpu-failed"),
    ],
)
def test_an_outcome_speaks_for_its_cause(name, outcome, cause):
    """What each check is made for: substantial evidence, half a decade (Jeffreys 1961, appendix B). Common practice."""
    found = _outcome(name, outcome)
    assert found.likely[cause] >= max(10**0.5 * found.otherwise, 0.3)


def test_a_supply_that_runs_alone_is_not_cleared():
    """It may pass unloaded and fail under load. Common practice."""
    runs = _outcome("supply-alone", "runs")
    assert all(gives.clear != "psu" for gives in runs.gives)
    assert runs.likely["psu-failed"] >= 0.1


@pytest.mark.parametrize("name", ["memory-reseated-and-wiped", "graphics-card-reseated"])
def test_reseating_cures_a_bad_part_for_a_while(name):
    """A cure by reseating does not acquit the part: bad parts come back to life for a while. Common practice."""
    cures = [outcome for outcome in CHECKS[name].outcomes if outcome.id in ("cured", "seat")]
    assert [o.likely["ram-failed" if "memory" in name else "gpu-failed"] >= 2 * o.otherwise for o in cures] == [True]


def test_each_pair_of_causes_is_told_apart():
    """D-matrix (after MIL-STD-1309D, ambiguity group): equal rows of faults that have different remedies are a gap.

    Two causes count as told apart if an outcome that one of them makes likely (a quarter or more) is at least twice as
    likely under it as under the other. A fault that is not in the list has no row.
    """
    causes = [cause for cause in shipped_base().causes if cause.id != "unlisted-fault"]
    pairs = [(a.id, b.id) for a, b in combinations(causes, 2) if a.remedy != b.remedy]
    checks = list(CHECKS.values())
    together = {frozenset(pair) for pair in pairs if _ratio(checks, *pair) < 2.0}
    assert len(pairs) > 700
    assert together == AMBIGUOUS.keys()


def test_one_check_alone_leaves_causes_together():
    """The measure above can fail: the outlet alone does not tell a dead supply from a dead board."""
    assert _ratio([CHECKS["outlet-with-another-load"]], "psu-failed", "board-failed") < 2.0
