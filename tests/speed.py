"""Where the time goes, as ratios within one run on one core: `python -m tests.speed [--quick]`.

Every figure is compared with something that runs beside it in the same minute, since the clock of a busy machine says
little: CPU time of this process, or wall time of short fresh processes, the shortest of several runs each.
"""

import argparse
import gc
import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import spacy
from spacy.language import Language

from expert.assess import Expert, claims_of_case
from expert.belief import believe
from expert.case import fold
from expert.engine import Engine
from expert.first_pass import document_of, expert_of, message_entry, triage
from expert.queue.run import OBJECTS
from intake.clean import clean
from intake.read import reader
from intake.redact import private_spans
from intake.resolve import resolve
from knowledge import KnowledgeBase, shipped_base
from tests.expert.test_differential import Clips
from tests.reading import letters

DEMO = Path(__file__).parents[1] / "corpus" / "demo" / "dusted-out.txt"
LONG = 100_000  # characters


@dataclass(frozen=True)
class Row:
    """A line of the table: what was measured, against what, the ratio and the most it may be (or the least)."""

    what: str
    ours: str
    reference: str
    ratio: float
    limit: float
    at_least: bool = False

    @property
    def text(self) -> str:
        """The line as printed."""
        met = self.ratio >= self.limit if self.at_least else self.ratio <= self.limit
        bound = f"{'>=' if self.at_least else '<='} {self.limit:g}"
        verdict = "" if met else "MISSED"
        return f"{self.what:44} {self.ours:>12} {self.reference:>26} {self.ratio:7.2f}  {bound:8} {verdict}".rstrip()


def shortest(run: Callable[[], object], times: int = 9, clock: Callable[[], float] = time.process_time) -> float:
    """Give the seconds of the shortest of several runs."""
    run()
    found = []
    for _ in range(times):
        start = clock()
        run()
        found.append(clock() - start)
    return min(found)


def in_turn(*runs: Callable[[], object], times: int) -> list[float]:
    """Give the seconds of the shortest of several runs of each, taking turns: a busy minute is busy for all of them."""
    rounds = [[shortest(run, 1) for run in runs] for _ in range(times)]
    return [min(found) for found in zip(*rounds, strict=True)]


def sixty_words() -> list[str]:
    """Give 20 messages of the development half, each cut down to its first 60 words."""
    texts = [" ".join(letter.text.split()[:60]) for letter in letters("development") if len(letter.text.split()) > 60]
    return random.Random(7).sample(texts, 20)


def small_pipeline() -> Language:
    """Build a small statistical English pipeline: tagger, parser and entities on two small networks.

    The published one cannot be fetched everywhere, so this one has its parts with the library's default sizes and
    weights that were never trained. That changes what it says, and not what a word costs: the matrices are as large.
    """
    nlp = spacy.blank("en")
    for part in ("tagger", "parser", "ner"):
        nlp.add_pipe(part)
    tags = ("NN", "VB", "JJ", "RB", "IN", "DT", "PRP", "CD")
    for tag in tags:
        nlp.get_pipe("tagger").add_label(tag)  # type: ignore[attr-defined]
    for label in ("nsubj", "dobj", "det", "amod", "advmod", "prep", "pobj", "ROOT"):
        nlp.get_pipe("parser").add_label(label)  # type: ignore[attr-defined]
    for label in ("PERSON", "ORG", "DATE", "CARDINAL"):
        nlp.get_pipe("ner").add_label(label)  # type: ignore[attr-defined]
    spacy.util.fix_random_seed(0)
    nlp.initialize()
    return nlp


def milliseconds(seconds: float) -> str:
    """Write a time."""
    return f"{1000 * seconds:.2f} ms"


def warm_rows(base: KnowledgeBase) -> list[Row]:
    """Hold a whole warm triage against a statistical pipeline and against bare tokenising, on the same messages."""
    texts = sixty_words()
    blank, small = spacy.blank("en"), small_pipeline()
    runs = (lambda text: triage(text, base).to_json(), small, blank)
    found = in_turn(*(lambda run=run: [run(text) for text in texts] for run in runs), times=9)
    ours, parsing, tokens = (seconds / len(texts) for seconds in found)
    what = "warm triage, message of 60 words"
    return [
        Row(what, milliseconds(ours), f"small pipeline {milliseconds(parsing)}", ours / parsing, 1.0),
        Row(what, milliseconds(ours), f"blank tokens {milliseconds(tokens)}", ours / tokens, 25.0),
    ]


def engine_rows(base: KnowledgeBase) -> list[Row]:
    """Hold the engine against CLIPS on the shipped rules, and against itself on four times as many."""
    engine = Engine(base)
    clips = Clips(engine.productions)
    claims = claims_of_case(fold([message_entry(DEMO.read_text(encoding="utf-8"), base)]))
    ours, reference = in_turn(lambda: engine.run(claims), lambda: clips.run(claims), times=20)
    return [
        Row("rule engine", milliseconds(ours), f"CLIPS {milliseconds(reference)}", ours / reference, 5.0),
        _idle_rules(base, ours, claims),
    ]


def _idle_rules(base: KnowledgeBase, ours: float, claims: frozenset[object]) -> Row:
    """Four times the rules, where the added ones look at findings that this case does not have."""
    findings = tuple(f.model_copy(update={"id": f"{f.id}-{n}"}) for n in range(1, 4) for f in base.findings)
    rules = tuple(_renamed(rule, n) for n in range(1, 4) for rule in base.rules)
    fourfold = base.model_copy(update={"rules": (*base.rules, *rules), "findings": (*base.findings, *findings)})
    engine = Engine(fourfold)
    more = shortest(lambda: engine.run(claims), 20)  # type: ignore[arg-type]
    return Row("four times the rules (others' findings)", milliseconds(more), milliseconds(ours), more / ours, 2.0)


def _renamed(rule: object, number: int) -> object:
    def moved(record: object) -> object:
        finding = getattr(record, "finding", None)
        return record.model_copy(update={"finding": f"{finding}-{number}"}) if finding else record  # type: ignore[attr-defined]

    update = {"id": f"{rule.id}-{number}"}  # type: ignore[attr-defined]
    update |= {name: tuple(map(moved, getattr(rule, name))) for name in ("when", "given", "unless", "gives")}  # type: ignore[misc]
    return rule.model_copy(update=update)  # type: ignore[attr-defined]


def length_rows(base: KnowledgeBase) -> list[Row]:
    """Hold a message against one of twice the length, and look at one of 100,000 characters."""
    text = "\n".join(letter.text for letter in letters("development"))
    text = (text * (2 * LONG // len(text) + 1))[:LONG]
    sizes = (12_500, 25_000, 50_000, LONG)
    seconds = {size: shortest(lambda size=size: message_entry(text[:size], base), 2) for size in sizes}
    rows = [
        Row(
            f"{2 * size:,} characters against {size:,}",
            milliseconds(seconds[2 * size]),
            milliseconds(seconds[size]),
            seconds[2 * size] / seconds[size],
            2.2,
        )
        for size in sizes[:-1]
    ]
    return [*rows, Row(f"{LONG:,} characters, in seconds", milliseconds(seconds[LONG]), "2 s", seconds[LONG], 2.0)]


def cold_row() -> Row:
    """Hold a fresh `ohmbudsman triage` against a fresh import of spaCy; wall time, alternating."""
    environment = os.environ | {"PYTHONPATH": str(DEMO.parents[2])}

    def wall(arguments: Sequence[str]) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment)
        return time.perf_counter() - start

    ours, floor = [], []
    for _ in range(6):
        ours.append(wall(["-m", "expert.cli", "triage", str(DEMO)]))
        floor.append(wall(["-c", "import spacy"]))
    best, least = min(ours), min(floor)
    return Row("cold triage", milliseconds(best), f"import spacy {milliseconds(least)}", best / least, 1.6)


def stages(base: KnowledgeBase) -> list[str]:
    """Say where the time of a warm triage goes."""
    text = " ".join(DEMO.read_text(encoding="utf-8").split()[:60])
    expert: Expert = expert_of(base)
    nlp = reader(base)
    case = fold([message_entry(text, base)])
    claims, engine = claims_of_case(case), Engine(base)
    firings = engine.run(claims)
    assessment = expert.assess(case)
    doc = nlp(text)
    times = {
        "clean and redact": shortest(lambda: private_spans(clean(text))),
        "words": shortest(lambda: nlp.make_doc(text)),
        "whole pipeline of the reading": shortest(lambda: nlp(text)),
        "settle": shortest(lambda: resolve(doc._.mentions, doc._.lexicon.findings)),
        "message entry (all of the reading)": shortest(lambda: message_entry(text, base)),
        "engine": shortest(lambda: engine.run(claims)),
        "belief": shortest(lambda: believe(firings, base)),
        "assess (engine, belief, plan)": shortest(lambda: expert.assess(case)),
        "document and JSON": shortest(lambda: document_of(case, assessment).to_json()),
    }
    return [f"  {name:38} {milliseconds(seconds):>12}" for name, seconds in times.items()]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="leave the cold start out")
    options = parser.parse_args()
    gc.set_threshold(OBJECTS)  # as the command does
    base = shipped_base()
    print(f"{'what':44} {'ours':>12} {'beside it':>26} {'ratio':>7}  {'asked':8}")
    for rows in (warm_rows, engine_rows, length_rows):
        for row in rows(base):
            print(row.text)
    if not options.quick:
        print(cold_row().text)
    print("\nWhere a warm triage of 60 words spends its time:")
    print("\n".join(stages(base)))


if __name__ == "__main__":
    main()
