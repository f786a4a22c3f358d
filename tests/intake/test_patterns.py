"""The pattern language: what each piece matches and what it does not, and the shipped patterns against themselves."""

import pytest

from intake.lexicon import Lexicon
from intake.patterns import Pattern, PatternSet, parse
from intake.prepared import Compiler
from intake.read import reader
from knowledge import shipped_base
from knowledge.errors import KnowledgeError
from knowledge.models import KnowledgeBase
from knowledge.wordings import Concept, Cue, Wording
from tests.intake.small import BASE


def _matches(pattern, text):
    known = Compiler(BASE)
    patterns = [Pattern(pattern, elements, None) for elements in known.terms.variants(tuple(parse(pattern, known)))]
    doc = reader(BASE)(text)
    hits = PatternSet(known.fillers, patterns).find(doc[:])
    return {text[doc._.offsets[match.start][0] : doc._.offsets[match.end - 1][1]] for _, match in hits}


@pytest.mark.parametrize(
    ("pattern", "text", "quotes"),
    [
        ("{fan} {spin}", "the fans spin", {"fans spin"}),
        ("{fan} {spin}", "the fans don't even spin", {"fans don't even spin"}),
        ("{fan} {spin}", "the fans at the back spin", set()),
        ("{fan} ... {spin}", "the fans at the back spin", {"fans at the back spin"}),
        ("{fan} .. {spin}", "the fans of one two three spin", set()),
        ("{fan} ... {spin}", "fans, but they spin", set()),
        ("{fan} ... {spin}", "fans. They spin", set()),
        ("spin", "spinning spins spun", {"spinning", "spins"}),
        ("=spins", "spinning spins", {"spins"}),
        ("slow", "slowly", set()),
        ("{fan}|{light} {on}|{spin}", "lights on", {"lights on"}),
        ("{fan} rear? {spin}", "fans rear spin", {"fans rear spin"}),
        ("beep # times", "beeps 3 times", {"beeps 3 times"}),
        ("beep # times", "beeps three times", {"beeps three times"}),
        ("beep # times", "beeps many times", set()),
        ("{supply}", "the power-supply and the power  supply", {"power-supply", "power  supply"}),
        ("power", "the power supply", set()),
        ("power supply", "the power supplies", {"power supplies"}),
        ("turn .. on", "it does turn on", {"turn on"}),  # spelled out, although `turn on` is a term
        ("turn .. on", "turn it back on", {"turn it back on"}),
        ("not {start}", "it doesn't start", {"doesn't start"}),
        ("do n't", "dont", {"dont"}),
    ],
)
def test_a_pattern_matches_what_it_says(pattern, text, quotes):
    """One row for each rule of the language, with the near miss."""
    assert _matches(pattern, text) == quotes


@pytest.mark.parametrize(
    ("pattern", "fault"),
    [
        ("{fam} {spin}", "no concept 'fam'"),
        ("fan || spin", "'||' is not a word, a {concept}, '#' or a gap"),
        (".. ...", "it names no word that must be there"),
        ("fan?", "it names no word that must be there"),
        ("{fan", "'{fan' is not a word, a {concept}, '#' or a gap"),
    ],
)
def test_a_wrong_pattern_is_named_with_its_place(pattern, fault):
    """All faults at once, each with the finding and the pattern."""
    base = KnowledgeBase.model_construct(
        concepts=(Concept(id="fan", words=("fan",)), Concept(id="spin", words=("spin",))),
        wordings=(Wording(finding="fans-spin", present=(pattern,)),),
        cues=(Cue(category="negated", say=("{nay}",)),),
    )
    with pytest.raises(KnowledgeError) as caught:
        Lexicon(base)
    assert caught.value.faults == (
        f"wording 'fans-spin': present: pattern {pattern!r}: {fault}",
        "cue of category 'negated': pattern '{nay}': no concept 'nay'",
    )


def test_every_shipped_pattern_matches_words_it_is_made_of():
    """A pattern whose words are always hidden by a longer term can never match."""
    base = shipped_base()
    lexicon = reader(base).tokenizer.lexicon
    words = {concept.id: [word.lstrip("=") for word in concept.words] for concept in base.concepts}
    patterns = {pattern.text: pattern.owner.finding for pattern in lexicon.wordings}
    assert len(patterns) > 500
    assert [(finding, text) for text, finding in patterns.items() if not _can_match(text, lexicon, base, words)] == []


def _can_match(text, lexicon, base, words):
    for choice in range(6):
        doc = reader(base).tokenizer(_sample(text, words, choice))
        if text in {found.text for found, _ in lexicon.wordings.find(doc[:])}:
            return True
    return False


def _sample(pattern, words, choice):
    sample = []
    for piece in pattern.split():
        if piece not in ("..", "..."):
            options = piece.removesuffix("?").split("|") if len(piece) > 1 else [piece]
            option = options[choice % len(options)]
            concept = words.get(option[1:-1], [option.lstrip("=")]) if option.startswith("{") else [option.lstrip("=")]
            sample.append("3" if option == "#" else concept[choice % len(concept)])
    return " ".join(sample)
