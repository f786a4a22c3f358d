"""Stratification: the bands in which rules may fire, so that the order of facts and rules does not change the result.

After Apt, Blair & Walker, Towards a Theory of Declarative Knowledge (1988): a rule stands in no lower stratum than the
rules that give its conditions, and in a higher one than the rules that give its exceptions (`unless`).
"""

from collections import defaultdict, deque
from collections.abc import Sequence

from expert.facts import Claim
from expert.productions import Production
from knowledge.errors import KnowledgeError

# What is derived comes first, then danger, then elimination, then evidence, then what is locked and asked.
LAYERS = (
    ("finding", "complaint", "reached", "fails_at"),
    ("hazard", "lift"),
    ("exclude", "confirm", "clear", "convict"),
    ("support", "weaken"),
    ("lock", "ask"),
)
LAYER = {kind: layer for layer, kinds in enumerate(LAYERS) for kind in kinds}
EVIDENCE = LAYER["support"]  # where an outcome stands that speaks to belief alone

# (giver, user): whether the user looks at what the giver gives as an exception.
Edges = dict[tuple[int, int], bool]


def strata(productions: Sequence[Production]) -> tuple[int, ...]:
    """Give the stratum of each production: 0 fires first, and no number is left out.

    Raises `KnowledgeError`, naming the rules, where a rule rests on the absence of what follows from itself.
    """
    edges = _edges(productions)
    if faults := _negative_cycles(productions, edges):
        raise KnowledgeError(faults)
    # Layers are spaced so that a chain of exceptions inside one layer does not reach into the next.
    space = len(productions) + 1
    level = [space * _layer(production) for production in productions]
    changed = True
    while changed:
        changed = False
        for (giver, user), strict in edges.items():
            if level[user] < level[giver] + strict:
                level[user] = level[giver] + strict
                changed = True
    rank = {value: stratum for stratum, value in enumerate(sorted(set(level)))}
    return tuple(rank[value] for value in level)


def _layer(production: Production) -> int:
    return max((LAYER[gives.kind] for gives in production.gives), default=EVIDENCE)


def _edges(productions: Sequence[Production]) -> Edges:
    givers: dict[Claim, list[int]] = defaultdict(list)
    for giver, production in enumerate(productions):
        for claim in production.adds:
            givers[claim].append(giver)
    edges: Edges = {}
    for user, production in enumerate(productions):
        edges |= {(giver, user): False for claim in production.needs for giver in givers[claim]}
        edges |= {(giver, user): True for claim in production.unless for giver in givers[claim]}
    return edges


def _negative_cycles(productions: Sequence[Production], edges: Edges) -> list[str]:
    users: dict[int, list[int]] = defaultdict(list)
    for giver, user in edges:
        users[giver].append(user)
    cycles: dict[frozenset[int], str] = {}
    for (giver, user), strict in edges.items():
        path = _path(user, giver, users) if strict else ()
        if path and frozenset(path) not in cycles:
            names = " -> ".join(repr(productions[place].id) for place in (*path, path[0]))
            cycles[frozenset(path)] = (
                f"rule {productions[user].id!r}: its 'unless' hangs on its own conclusion: {names}; "
                "an exception may look only at what is settled before the rule"
            )
    return list(cycles.values())


def _path(start: int, goal: int, users: dict[int, list[int]]) -> tuple[int, ...]:
    """Find a shortest path from one production to another; empty if there is none."""
    reached: dict[int, tuple[int, ...]] = {start: (start,)}
    queue = deque([start])
    while queue and goal not in reached:
        here = queue.popleft()
        for user in users[here]:
            if user not in reached:
                reached[user] = (*reached[here], user)
                queue.append(user)
    return reached.get(goal, ())
