"""The engine against reference engines: CLIPS with the same strata, clingo with none, experta's own matcher."""

import random
import time
from collections.abc import Callable, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expert.compile import compile_rules
from expert.engine import Engine, Inference
from expert.experta_ready import KnowledgeEngine
from expert.facts import Claim
from expert.productions import Production
from expert.trace import Firing, trace
from knowledge import shipped_base
from knowledge.models import KnowledgeBase, Rule
from tests.expert.oracles import Clingo, Clips, Result, result_of
from tests.expert.samples import Cases, base, layered_bases, rule

SETS = 2_000


@pytest.fixture(scope="module")
def shipped() -> Engine:
    """The engine over the rules that we ship."""
    return Engine(shipped_base())


def _is_barred_late(production: Production, stated: frozenset[Claim], result: Result) -> bool:
    """Say whether only a derived exception kept the production quiet: the case in which order matters."""
    _, known = result
    bars = known.intersection(production.unless)
    return bool(bars) and not bars & stated and known.issuperset(production.needs)


def _depth(firing: Firing, firings: Sequence[Firing]) -> int:
    """Count the firings on the longest way back to what was stated."""
    return 1 + max((_depth(firings[n - 1], firings) for n in firing.from_ if isinstance(n, int)), default=0)


def test_shipped_rules_conclude_what_clips_concludes(shipped):
    """Reference: CLIPS 6.4, Basic Programming Guide, chapter 5 (defrule, salience, not)."""
    reference, cases, chance = Clips(shipped.productions), Cases(shipped.productions), random.Random(20)
    fired: set[str] = set()
    for _ in range(SETS):
        stated = cases.draw(chance)
        ours = result_of(shipped.run(stated), stated)
        assert ours == reference.result(stated)
        fired |= ours[0]
    assert len(fired) > 0.9 * len(shipped.productions)


def test_shipped_rules_have_one_stable_model_and_it_is_ours(shipped):
    """Reference: clingo; it is not told our strata, so that a wrong stratum shows as a difference."""
    reference, cases, chance = Clingo(shipped.productions), Cases(shipped.productions), random.Random(21)
    for _ in range(200):
        stated = cases.draw(chance)
        assert reference.results(stated) == [result_of(shipped.run(stated), stated)]


def test_random_layered_rules_conclude_what_clips_and_clingo_conclude():
    """Hard cases, counted: a rule that only a derived exception kept quiet, and chains of three firings."""
    barred_late = deep = 0

    @settings(max_examples=150, deadline=None, derandomize=True, database=None)
    @given(layered_bases(), st.integers(0, 2**32))
    def agree(rules: KnowledgeBase, seed: int) -> None:
        nonlocal barred_late, deep
        engine, chance = Engine(rules), random.Random(seed)
        cases = Cases(engine.productions)
        by_clips, by_clingo = Clips(engine.productions), Clingo(engine.productions)
        for _ in range(4):
            stated = cases.draw(chance)
            firings = engine.run(stated)
            ours = result_of(firings, stated)
            assert ours == by_clips.result(stated)
            assert [ours] == by_clingo.results(stated)
            barred_late += any(_is_barred_late(p, stated, ours) for p in engine.productions)
            deep += any(_depth(firing, firings) >= 3 for firing in firings)

    agree()
    assert barred_late >= 50
    assert deep >= 50


def test_compiled_rules_run_alike_on_the_matcher_of_experta():
    """What is compiled are plain experta rules: with the library's own rete they fire in the very same order."""

    class WithRete(Inference):
        __matcher__ = KnowledgeEngine.__matcher__

    fired = 0

    @settings(max_examples=60, deadline=None, derandomize=True, database=None)
    @given(layered_bases(), st.integers(0, 2**32))
    def agree(rules: KnowledgeBase, seed: int) -> None:
        nonlocal fired
        engine = Engine(rules)
        rete = WithRete(compile_rules(engine.productions))
        stated = Cases(engine.productions).draw(random.Random(seed))
        ours = engine.run(stated)
        assert trace(stated, rete.fire(stated)) == ours
        fired += len(ours)

    agree()
    assert fired


def _four_hundred() -> KnowledgeBase:
    """Draw 400 rules of two to four conditions and up to two exceptions on 120 findings, a third of them derived."""
    chance, rules = random.Random(400), list[Rule]()
    for number in range(400):
        needs = [f"f{chance.randrange(80)}" for _ in range(chance.randint(1, 3))]
        needs += [f"f{chance.randrange(100)}"]
        bars = [f"f{chance.randrange(100)}=absent" for _ in range(chance.randint(0, 2))]
        gives = f"f{chance.randrange(100, 120)}" if number % 3 else f"support:c{number}:strong"
        rules.append(rule(f"r{number}", ", ".join(needs), gives, ", ".join(bars)))
    return base(*rules)


def seconds_of(action: Callable[[], object], times: int = 40) -> float:
    """Give the shortest of several runs of the action, in seconds."""
    return min(_seconds(action) for _ in range(times))


def _seconds(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def speed() -> tuple[float, float, int]:
    """Give seconds a run of ours and of CLIPS on 400 rules and 30 facts, measured side by side, and the firings."""
    engine = Engine(_four_hundred())
    reference = Clips(engine.productions)
    stated = frozenset(Claim("finding", f"f{number}", "present") for number in range(0, 90, 3))
    firings = engine.run(stated)
    assert result_of(firings, stated) == reference.result(stated)
    return seconds_of(lambda: engine.run(stated)), seconds_of(lambda: reference.run(stated)), len(firings)


def test_a_run_costs_at_most_five_times_what_clips_costs():
    """Compared within one process, shortest of 40 runs each, so that a busy machine slows both alike."""
    ours, clips, firings = speed()
    assert firings >= 10
    assert ours < 5 * clips
