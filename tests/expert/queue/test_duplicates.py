"""Joining what was sent twice, against comparing all pairs."""

import random
from time import perf_counter

from rapidfuzz import fuzz

from expert.queue.duplicates import SAME, Joiner, _plain

DEAD = "Hello, my machine is completely dead since yesterday, no fans and no lights, and I need it for work on Monday."
LOUD = "The fan at the back howls like a hoover whenever my daughter starts a game, and then the whole thing cuts out."


def _groups(*told: tuple[str, str]) -> list[list[int]]:
    joiner = Joiner()
    for text, owner in told:
        joiner.add(text, owner)
    return list(joiner.groups())


def test_one_owner_who_asks_again_is_joined():
    """A reminder around the same words, and the same words with another greeting."""
    reminder = f"Any news? I wrote on Tuesday:\n> {DEAD}"
    assert _groups((DEAD, "a@x"), (LOUD, "b@x"), (reminder, "a@x"), (DEAD.replace("Hello", "Hi"), "a@x")) == [
        [0, 2, 3],
        [1],
    ]


def test_two_machines_of_one_owner_stay_two():
    """Other words are another complaint."""
    assert _groups((DEAD, "a@x"), (LOUD, "a@x")) == [[0], [1]]


def test_two_owners_with_the_same_words_stay_two():
    """Two people may well say the same."""
    assert _groups((DEAD, "a@x"), (DEAD, "b@x"), (DEAD, "")) == [[0], [1], [2]]


def test_without_owners_nearly_the_same_text_is_joined():
    """A word more or less, capitals and marks do not matter; a quoted text inside another one does not count."""
    assert _groups((DEAD, ""), (LOUD, ""), (DEAD.upper() + "!!", ""), (f"{LOUD} {DEAD}", "")) == [[0, 2], [1], [3]]


def test_short_messages_are_not_found_inside_longer_ones():
    """ "It is dead" stands in many a letter."""
    assert _groups(("my machine is dead", "a@x"), (DEAD, "a@x")) == [[0], [1]]


def _variants(seed: int) -> list[str]:
    """Texts of eight words from 400, a third of them a near copy of an earlier one."""
    chance = random.Random(seed)
    words = [f"w{number:03}x" for number in range(400)]
    texts: list[str] = []
    for _ in range(150):
        if texts and chance.random() < 0.35:
            copy = chance.choice(texts).split()
            copy[chance.randrange(len(copy))] += "s"
            texts.append(" ".join(copy))
        else:
            texts.append(" ".join(chance.choices(words, k=40)))
    return texts


def _all_pairs(texts: list[str]) -> list[list[int]]:
    groups: list[list[int]] = []
    for number, text in enumerate(texts):
        same = [g for g in groups if any(fuzz.ratio(_plain(text), _plain(texts[other])) >= SAME for other in g)]
        groups = [g for g in groups if g not in same] + [sorted({number, *(n for g in same for n in g)})]
    return sorted(groups)


def test_blocks_find_what_all_pairs_find():
    """The sketch may miss a pair now and then, and must never join what comparing all pairs does not join."""
    found = expected = 0
    for seed in range(4):
        texts = _variants(seed)
        ours, all_of = _groups(*((text, "") for text in texts)), _all_pairs(texts)
        place = {number: group for group, members in enumerate(all_of) for number in members}
        assert all(len({place[number] for number in group}) == 1 for group in ours)
        found += sum(len(group) - 1 for group in ours)
        expected += sum(len(group) - 1 for group in all_of)
    assert expected > 150
    assert found >= 0.98 * expected


def test_the_work_does_not_grow_with_the_square_of_the_queue():
    """Ten times as many of the worst kind, all alike and of one owner: about ten times the time, not a hundred."""

    def seconds(count: int) -> float:
        begun = perf_counter()
        _groups(*((f"{DEAD} {number}", "a@x") for number in range(count)))
        return perf_counter() - begun

    seconds(50)
    assert seconds(2000) < 40 * seconds(200)
