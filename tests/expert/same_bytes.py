"""Print the trace of one set of facts as JSON; run in processes of its own by `test_same_bytes`.

Usage: python -m tests.expert.same_bytes SHUFFLE: the seed by which the facts are shuffled before they are stated.
"""

import json
import random
import sys
from typing import Any

from expert.engine import Engine
from expert.facts import Claim
from knowledge import shipped_base
from knowledge.models import KnowledgeBase
from tests.expert.samples import base, rule


def ties() -> KnowledgeBase:
    """Make rules that nothing but their place tells apart: eight on one fact, eight on four facts, eight on theirs."""
    one = [rule(f"one-{n}", "a", f"d{n}") for n in range(8)]
    four = [rule(f"four-{n}", "d, c, b, a", f"support:c{n}:strong", unless=f"x{n}") for n in range(8)]
    chained = [rule(f"chained-{n}", f"d{n}, d{(n + 3) % 8}, b", f"exclude:c{n}") for n in range(8)]
    return base(*chained, *four, *one)


def document(rules: KnowledgeBase, chance: random.Random) -> list[dict[str, Any]]:
    """Run everything that the rules name, save the odd exception, in an order of chance."""
    engine = Engine(rules)
    facts = {claim for production in engine.productions for claim in production.needs}
    stated: list[Claim] = sorted(facts)
    chance.shuffle(stated)
    return [firing.as_json() for firing in engine.run(stated)]


def main() -> None:
    """Write both traces to standard output."""
    chance = random.Random(int(sys.argv[1]))
    traces = {"ties": document(ties(), chance), "shipped": document(shipped_base(), chance)}
    sys.stdout.write(json.dumps(traces, ensure_ascii=False, indent=1))


if __name__ == "__main__":
    main()
