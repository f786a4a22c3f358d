"""Measure the reading: `python -m tests.reading [development|held|test] [--voice NAME] [--worst N] [--findings]`.

Counts a finding as right if id and state agree. Prints precision, recall and F1 in all and per finding, the state
errors (right id, wrong state), the figures without what a model only proposes, the recall of danger signs and hazards,
the findings in messages without a fault, the rank of the true cause, and, for the development half only, the worst
messages with what was missed and what was invented: nobody should come to know the test half by heart.
"""

import argparse
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field
from functools import cache

from expert.case import fold
from expert.first_pass import document_of, expert_of, message_entry
from knowledge import shipped_base
from knowledge.errors import MessageError
from tests.corpus import HALVES, HELD, Letter, letters

Pair = tuple[str, str]


@dataclass
class Score:
    """Counts over the messages of one half."""

    right: Counter[str] = field(default_factory=Counter)
    missed: Counter[str] = field(default_factory=Counter)
    invented: Counter[str] = field(default_factory=Counter)
    told: list[int] = field(default_factory=lambda: [0, 0])  # right and in all, without what is only proposed
    state_errors: int = 0
    dangers: list[int] = field(default_factory=lambda: [0, 0])
    hazards: list[int] = field(default_factory=lambda: [0, 0, 0])
    quiet_messages: int = 0
    quiet_invented: int = 0
    ranks: list[int] = field(default_factory=list)
    worst: list[tuple[int, Letter, set[Pair], set[Pair]]] = field(default_factory=list)


def figures(right: int, missed: int, invented: int) -> tuple[float, float, float]:
    """Give precision, recall and F1; 1 where there was nothing to find and nothing was found."""
    precision = right / (right + invented) if right + invented else 1.0
    recall = right / (right + missed) if right + missed else 1.0
    return precision, recall, 2 * precision * recall / (precision + recall) if precision + recall else 0.0


def measure(half: str, voices: Collection[str] = ()) -> Score:
    """Read every message of a half, or of these voices in it, and compare."""
    base = shipped_base()
    danger = {finding.id for finding in base.findings if finding.kind == "danger"}
    score = Score()
    for letter in letters(half):
        if not voices or letter.voice in voices:
            _compare(letter, score, danger)
    return score


@cache
def labelled() -> frozenset[str]:
    """Give the findings that the corpus labels: those that some message of either half has.

    The reader also answers questions of the base that no voice of the corpus was asked ("it was drained"); these are
    not labelled (see corpus/README.md), and so are neither right nor wrong here.
    """
    return frozenset(finding.id for half in HALVES for letter in letters(half) for finding in letter.findings)


def _compare(letter: Letter, score: Score, danger: set[str]) -> None:
    gold = {(finding.id, finding.state) for finding in letter.findings if finding.id in labelled()}
    try:
        case = fold([message_entry(letter.text, shipped_base())])
    except MessageError:
        found: set[Pair] = set()
        told: set[Pair] = set()
        hazards: set[str] = set()
        ranking: list[str] = []
    else:
        document = document_of(case, expert_of(shipped_base()).assess(case))
        found = {(item.id, item.state) for item in document.findings if item.id in labelled()}
        proposed = {item.id for item in case.findings if item.certainty == "proposed"}
        told = {(finding, state) for finding, state in found if finding not in proposed}
        hazards = {item.id for item in document.hazards}
        ranking = [item.id for item in document.causes]
    score.right.update(i for i, _ in gold & found)
    score.missed.update(i for i, _ in gold - found)
    score.invented.update(i for i, _ in found - gold)
    score.told = [score.told[0] + len(gold & told), score.told[1] + len(told)]
    score.state_errors += len({i for i, _ in gold - found} & {i for i, _ in found - gold})
    for finding in danger & {i for i, state in gold if state == "present"}:
        score.dangers[0] += (finding, "present") in found
        score.dangers[1] += 1
    score.hazards[0] += len(hazards & set(letter.hazards))
    score.hazards[1] += len(letter.hazards)
    score.hazards[2] += len(hazards - set(letter.hazards))
    if not gold and letter.complaint is None:
        score.quiet_messages += 1
        score.quiet_invented += len(found)
    if letter.cause in ranking and gold:
        score.ranks.append(ranking.index(letter.cause) + 1)
    if gold != found:
        score.worst.append((len(gold ^ found), letter, gold - found, found - gold))


def _print(half: str, score: Score, worst: int, per_finding: bool) -> None:
    right, missed, invented = (sum(c.values()) for c in (score.right, score.missed, score.invented))
    precision, recall, f1 = figures(right, missed, invented)
    print(f"{half}: precision {precision:.3f}  recall {recall:.3f}  F1 {f1:.3f}  ({right} right, {missed} missed,")
    share = score.state_errors / max(right + missed, 1)
    print(f"    {invented} invented)  state errors {score.state_errors} ({share:.1%})")
    p_told, r_told, f_told = figures(score.told[0], right + missed - score.told[0], score.told[1] - score.told[0])
    print(f"    without what is only proposed: precision {p_told:.3f}  recall {r_told:.3f}  F1 {f_told:.3f}")
    print(f"    danger signs found {score.dangers[0]} of {score.dangers[1]}; hazards {score.hazards[0]} of")
    print(f"    {score.hazards[1]}, {score.hazards[2]} more raised than marked")
    print(f"    messages without a fault: {score.quiet_invented} findings in {score.quiet_messages} messages")
    ranks = score.ranks or [0]
    shares = ", ".join(f"first {k}: {sum(r <= k for r in ranks) / len(ranks):.0%}" for k in (1, 3, 5))
    print(f"    true cause among the {shares} ({len(score.ranks)} messages)")
    if per_finding:
        for finding in sorted({*score.right, *score.missed, *score.invented}):
            counts = score.right[finding], score.missed[finding], score.invented[finding]
            print(f"      {finding:26} F1 {figures(*counts)[2]:.2f}  right/missed/invented {counts}")
    for _, letter, lost, made in sorted(score.worst, key=lambda row: -row[0])[: worst if half != "test" else 0]:
        print(f"\n  {letter.id}: {' '.join(letter.text.split())}")
        print(f"      missed   {', '.join(sorted(map('='.join, lost)))}")
        print(f"      invented {', '.join(sorted(map('='.join, made)))}")


def main() -> None:
    """Measure the halves that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("half", nargs="?", choices=(*HALVES, HELD), help="only this half, or the held messages")
    parser.add_argument("--worst", type=int, default=5, help="how many of the worst development messages to print")
    parser.add_argument("--findings", action="store_true", help="figures per finding as well")
    parser.add_argument("--voice", action="append", default=[], help="only this voice; may be given more than once")
    options = parser.parse_args()
    for half in [options.half] if options.half else HALVES:
        _print(half, measure(half, options.voice), options.worst, options.findings)


if __name__ == "__main__":
    main()
