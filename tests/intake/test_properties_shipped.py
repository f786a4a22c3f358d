"""What must hold of the shipped base whatever the message: neutral company, doubled text, and no wording that is dead.

The neutral sentences are invented and tell nothing of a machine; the messages are those of the sentence tables.
"""

import random
from itertools import islice, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake import read_complaint
from intake.patterns import Element, Pattern, PatternSet, key_places
from intake.read import reader
from intake.words import stem
from knowledge import shipped_base
from tests.intake.test_shipped_wordings import CASES

NEUTRAL = (
    "Good morning to you all.",
    "Hello there.",
    "Dear volunteers,",
    "Many thanks for your kindness.",
    "Kind regards from both of us.",
    "It has rained since Tuesday.",
    "The weather has been lovely this week.",
    "We had some snow in the village.",
    "What a windy afternoon.",
    "The forecast for Saturday is sunny.",
    "Are you open on Saturdays?",
    "When do you open?",
    "I can come on Thursday afternoon.",
    "Your poster says ten to four.",
    "Is there parking behind the hall?",
    "I will take the bus.",
    "My daughter will drive me.",
    "We have two cats and a garden.",
    "The roses are nearly over.",
    "My aunt came over on Sunday.",
    "I am seventy and live alone.",
    "My grandson is learning the violin.",
    "I would like to bake a cake for everybody.",
    "Please write back when you have a moment.",
    "You can ring me in the evening.",
    "I found your address in the library.",
    "The church choir meets in the same hall.",
    "We moved to this town in spring.",
    "I enjoyed the talk about bicycles.",
    "See you on Saturday.",
)
MESSAGES = tuple(case["say"] for case in CASES if case["say"].isascii())
messages = st.lists(st.sampled_from(MESSAGES), min_size=1, max_size=3).map("\n".join)
_MOST_INSTANCES = 40


def _said(message):
    return {
        (found.id, found.state, found.certainty, found.detail) for found in read_complaint(message, shipped_base()).told
    }


def _states(message):
    return {found[:3] for found in _said(message)}


@pytest.mark.parametrize("sentence", NEUTRAL)
def test_a_neutral_sentence_tells_nothing(sentence):
    """Nothing is found in it, with or without company of its kind."""
    assert _said(sentence) == set()
    assert _said(f"{NEUTRAL[0]} {sentence} {NEUTRAL[-1]}") == set()


@pytest.mark.usefixtures("wordings_alone")
@given(st.sampled_from(MESSAGES), st.sampled_from(NEUTRAL), st.booleans())
@settings(max_examples=300, deadline=None, derandomize=True)
def test_neutral_company_changes_no_finding(message, sentence, before):
    """A line of its own, before or after: what the wordings and the context find stays as it was."""
    assert _states(_together(message, sentence, before)) == _states(message)


def test_neutral_company_hardly_ever_changes_a_second_look():
    """The models see a sentence in its place: what they are in two minds about may tip, in one case of 200 at most."""
    chance = random.Random(1)
    pairs = [(chance.choice(MESSAGES), chance.choice(NEUTRAL), chance.random() < 0.5) for _ in range(200)]
    changed = [pair for pair in pairs if _said(_together(*pair)) != _said(pair[0])]
    assert len(changed) <= len(pairs) / 200, changed


def _together(message, sentence, before):
    return f"{sentence}\n{message}" if before else f"{message}\n{sentence}"


@given(messages)
@settings(max_examples=150, deadline=None, derandomize=True)
def test_every_quote_is_a_slice_of_the_message(message):
    """Offsets are those of the message as given."""
    for found in read_complaint(message, shipped_base()).told:
        assert found.quote == message[found.start : found.end] != ""


def _work(message):
    """Words, and how often a pattern is tried on a sentence: what reading costs, counted and not timed."""
    nlp = reader(shipped_base())
    with nlp.select_pipes(disable=["mentions", "scope", "outcomes", "second_look"]):
        doc = nlp(message)
    lexicon = doc._.lexicon
    places = [key_places(sentence) for sentence in doc.sents]
    tried = sum(pattern.may_match(here) for here in places for pattern in (*lexicon.wordings, *lexicon.cues))
    return len(doc), tried


@given(messages)
@settings(max_examples=15, deadline=None, derandomize=True)
def test_twice_the_text_is_twice_the_work(message):
    """Never more than 2.2 times; the line break between the halves is one more word."""
    (words, tried), (words_twice, tried_twice) = _work(message), _work(f"{message}\n{message}")
    assert 0 < words_twice <= 2.2 * words + 1
    assert tried <= tried_twice <= 2.2 * tried


def _choices(text, words):
    """What may stand at each place of a pattern without gaps: each concept by its first word, nothing optional."""
    pieces = [piece for piece in text.split() if not (piece.endswith("?") and len(piece) > 1)]
    return [[_written(choice, words) for choice in piece.split("|") if choice] for piece in pieces]


def _written(choice, words):
    if choice.startswith("{"):
        return words[choice[1:-1]].lstrip("=")
    return "3" if choice == "#" else choice.removeprefix("=") or choice


def _dead(patterns, base):
    """Each (pattern, choice) of patterns without gaps that matches in no instance, and how many choices were asked."""
    words = {concept.id: concept.words[0] for concept in base.concepts}
    variants = {}
    for pattern in patterns:
        if not {"..", "...", "~"}.intersection(pattern.text.split()):
            variants.setdefault(pattern.text, []).append(pattern)
    dead, asked = [], 0
    for text, alike in variants.items():
        choices = _choices(text, words)
        for place, choice in ((place, choice) for place, here in enumerate(choices) for choice in here):
            others = [[choice] if at == place else here for at, here in enumerate(choices)]
            instances = map(" ".join, islice(product(*others), _MOST_INSTANCES))
            asked += 1
            if not any(_matches(alike, instance, base) for instance in instances):
                dead.append((text, choice))
    return dead, asked


def _matches(patterns, instance, base):
    nlp = reader(base)
    with nlp.select_pipes(disable=["mentions", "scope", "outcomes", "second_look"]):
        doc = nlp(instance)
    finder = PatternSet(doc._.lexicon.fillers, patterns)
    return any(True for sentence in doc.sents for _ in finder.find(sentence))


# "start to recovery": the first word of the concept ends in "to" and is a term of its own; its other words do match.
_KNOWN = {("{start}|goes|go|going|straight|drops to =recovery|{repair-screen}", "start")}


def test_no_wording_is_dead():
    """A term of several words may hide the words of a pattern: each choice must match in some sentence of its own."""
    base = shipped_base()
    dead, asked = _dead(reader(base).tokenizer.lexicon.wordings, base)
    assert asked > 3_000
    assert set(dead) == _KNOWN


def test_a_word_hidden_by_a_term_is_noticed():
    """The term "power supply" is one word to the reader, so a pattern for the two words apart is dead."""
    apart = Pattern("power supply", tuple(Element(frozenset([stem(word)])) for word in ("power", "supply")), None)
    assert _dead([apart], shipped_base()) == ([("power supply", "power"), ("power supply", "supply")], 2)
