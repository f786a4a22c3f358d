"""Measure how far two readers of the corpus agree: `python -m tests.agreement [--worst N]`.

Compares corpus/second/labels.toml, made from the texts and the guide alone, with the gold labels. The unit of the
findings is a message and a finding id that either reader uses anywhere in the sample, with the categories present,
absent and none; of the hazards a message and a hazard id, raised or not. Prints Cohen's kappa (Educational and
Psychological Measurement 20, 1960, pp. 37-46) of both, the second reader's F1 taken as a reader of the gold, and the
commonest disagreements. Details are not compared. What a reader of flesh reaches is the ceiling for a program.
"""

import argparse
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from tests.corpus import FOLDER, HALVES, letters
from tests.reading import figures

NONE = "none"
Unit = tuple[str, str]


@dataclass(frozen=True)
class Labels:
    """What one reader says of one message: state by finding id, and the hazards."""

    findings: dict[str, str]
    hazards: frozenset[str]


def kappa(pairs: Iterable[tuple[str, str]]) -> float:
    """Give (p_o - p_e) / (1 - p_e) of pairs of categories; 1 where both readers use one and the same category only."""
    counts = Counter(pairs)
    total = counts.total()
    first, second = Counter[str](), Counter[str]()
    for (one, other), count in counts.items():
        first[one] += count
        second[other] += count
    observed = sum(count for (one, other), count in counts.items() if one == other) / total
    expected = sum(first[category] * second[category] for category in first) / total**2
    return 1.0 if expected == 1 else (observed - expected) / (1 - expected)


def second_reader() -> dict[str, Labels]:
    """Give the second reader's labels by message id."""
    document = tomllib.loads((FOLDER / "second" / "labels.toml").read_text("utf-8"))
    return {
        message["id"]: Labels({f["id"]: f["state"] for f in message["findings"]}, frozenset(message["hazards"]))
        for message in document["message"]
    }


def gold(ids: Iterable[str]) -> dict[str, Labels]:
    """Give the gold labels of these messages by id."""
    every = {letter.id: letter for half in HALVES for letter in letters(half)}
    return {i: Labels({f.id: f.state for f in every[i].findings}, frozenset(every[i].hazards)) for i in ids}


def finding_decisions(one: dict[str, Labels], other: dict[str, Labels]) -> Iterator[tuple[Unit, tuple[str, str]]]:
    """Yield each message and finding in use, with the two states."""
    used = sorted({i for side in (one, other) for labels in side.values() for i in labels.findings})
    for message in one:
        for i in used:
            yield (message, i), (one[message].findings.get(i, NONE), other[message].findings.get(i, NONE))


def hazard_decisions(one: dict[str, Labels], other: dict[str, Labels]) -> Iterator[tuple[Unit, tuple[str, str]]]:
    """Yield each message and hazard in use, with raised or none by either reader."""
    used = sorted({i for side in (one, other) for labels in side.values() for i in labels.hazards})
    for message in one:
        for i in used:
            yield (message, i), tuple("raised" if i in side[message].hazards else NONE for side in (one, other))


def second_against_gold(pairs: Iterable[tuple[str, str]]) -> tuple[float, float, float]:
    """Give precision, recall and F1 of the second reader: right is the same id in the same state."""
    right = missed = invented = 0
    for first, second in pairs:
        right += first == second != NONE
        missed += first not in (NONE, second)
        invented += second not in (NONE, first)
    return figures(right, missed, invented)


def report(worst: int) -> Iterator[str]:
    """Yield the lines of the report."""
    second = second_reader()
    first = gold(second)
    yield f"{len(second)} messages"
    for name, decide in (("findings", finding_decisions), ("hazards", hazard_decisions)):
        decisions = list(decide(first, second))
        pairs = [pair for _, pair in decisions]
        precision, recall, f1 = second_against_gold(pairs)
        yield (
            f"{name}: kappa {kappa(pairs):.3f} over {len(pairs)} decisions; second reader against gold:"
            f" precision {precision:.3f}  recall {recall:.3f}  F1 {f1:.3f}"
        )
        apart: dict[tuple[str, str, str], list[str]] = {}
        for (message, i), (one, other) in decisions:
            if one != other:
                apart.setdefault((i, one, other), []).append(message)
        for (i, one, other), messages in sorted(apart.items(), key=lambda row: (-len(row[1]), row[0]))[:worst]:
            yield f"    {len(messages)} x {i}: gold {one}, second {other} ({', '.join(messages)})"


def main() -> None:
    """Print the agreement."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--worst", type=int, default=10, help="how many kinds of disagreement to print")
    sys.stdout.writelines(f"{line}\n" for line in report(parser.parse_args().worst))


if __name__ == "__main__":
    main()
