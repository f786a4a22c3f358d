"""What NegEx and ConText do by their papers, asked of the shipped base in this trade's words.

NegEx: Chapman et al. 2001, J Biomed Inform 34:301 (triggers before and after, pseudo triggers, terminators, window).
ConText: Harkema et al. 2009, J Biomed Inform 42:839 (historical, hypothetical, experiencer, to the end of the sentence
or to a terminator). The triggers of NegEx stand in the plain English list of negspacy 1.1.0, which is held against
the words used here; those of ConText are from memory of the paper and its public list. The frames are ours, and so are
the expected states, by the definitions of the papers; where owners speak otherwise than clinicians a row says so.
"""

import pytest
from negspacy.termsets import termset

from intake import read_complaint
from knowledge import shipped_base
from tests import negation

# (words of the published list, message, findings): "+" present, "-" absent, "?" hedged.
BEFORE = [
    ("no", "There is no smoke.", "-smoke"),
    ("not", "The fans are not spinning.", "-fans-spin"),
    ("without", "The fans spin without any beeps.", "+fans-spin -beeps"),
    ("never", "It never beeps.", "-beeps"),
    ("cannot", "I cannot smell burning.", "-burning-smell"),
    ("can't", "I can't hear any beeps.", "-beeps"),
    ("cant", "i cant see any smoke", "-smoke"),
    ("doesn't", "It doesn't beep.", "-beeps"),
    ("doesnt", "it doesnt beep", "-beeps"),
    ("don't", "The fans don't spin.", "-fans-spin"),
    ("dont", "the fans dont spin", "-fans-spin"),
    ("didn't", "It didn't beep.", "-beeps"),
    ("didnt", "it didnt beep", "-beeps"),
    ("wasn't", "There wasn't any smoke.", "-smoke"),
    ("weren't", "There weren't any beeps.", "-beeps"),
    ("isn't", "There isn't any smoke.", "-smoke"),
    ("isnt", "there isnt any smoke", "-smoke"),
    ("aren't", "The fans aren't spinning.", "-fans-spin"),
    ("arent", "the fans arent spinning", "-fans-spin"),
    ("couldn't", "I couldn't see any smoke.", "-smoke"),
    ("no sign of", "There is no sign of smoke.", "-smoke"),
    ("no signs of", "No signs of smoke.", "-smoke"),
    ("absence of", "I noted an absence of beeps.", "-beeps"),
    ("denies", "My son denies any burning smell.", "-burning-smell"),
    ("denied", "He denied any smoke.", "-smoke"),
]
AFTER = [
    ("unlikely", "Smoke is unlikely.", ""),  # a guess of the writer's: neither seen nor denied
]
PSEUDO = [
    ("no change", "There is no change in the smoke.", "+smoke"),
    ("no increase", "There is no increase in the smoke.", "+smoke"),
    ("not only", "Not only does it beep, the fans spin.", "+beeps +fans-spin"),
    ("not necessarily", "It beeps, not necessarily at once.", "+beeps"),
]
ENDS = [
    ("but", "No smoke but it beeps.", "-smoke +beeps"),
    ("however", "No smoke, however it beeps.", "-smoke +beeps"),
    ("though", "There is no smoke though it beeps.", "-smoke +beeps"),
    ("although", "There is no smoke although it beeps.", "-smoke +beeps"),
    ("yet", "There is no smoke yet it beeps.", "-smoke +beeps"),
    ("nevertheless", "There is no smoke, nevertheless it beeps.", "-smoke +beeps"),
    ("except", "There is no sound except the fans spin.", "+fans-spin"),
    ("apart from", "Nothing works apart from the fans spinning.", "+fans-spin"),
    ("aside from", "Nothing works aside from the fans spinning.", "+fans-spin"),
]

# No words of the list: how far a trigger reaches. The paper of 2001 has a window of five words.
REACH = [
    ("No beeps. The fans spin.", "-beeps +fans-spin"),
    ("The fans spin. No beeps.", "+fans-spin -beeps"),
    ("No smoke, burning smell or beeps.", "-smoke -burning-smell -beeps"),
    ("Neither smoke nor a burning smell.", "-smoke -burning-smell"),
    ("No beeps at all from the little speaker inside the case.", "-beeps"),
    (
        "I have not at any moment of the whole long evening seen smoke.",
        "-smoke",
    ),  # beyond five words
    ("The beeps are absent.", "-beeps"),
    ("Smoke: none.", "-smoke"),
]
HISTORICAL = [
    ("History of beeps.", ""),
    ("It has a history of freezing.", ""),
    ("It used to beep.", ""),
    ("It used to beep. Now there is smoke.", "+smoke"),
    ("In the past it beeped.", ""),
    ("Last year there was smoke.", ""),
    ("In the past there was a burning smell.", ""),
    ("Previously it beeped, now it does not beep.", "-beeps"),
    ("Last year there was a burning smell, now there is no burning smell.", "-burning-smell"),
]
HYPOTHETICAL = [
    ("If there is smoke I will unplug it.", ""),
    ("Should it beep I will write again.", ""),
    ("I will come back if it beeps.", ""),
    ("I am worried about smoke.", ""),
    ("I will call if it beeps because there is smoke.", "+smoke"),  # `because` ends a hypothesis in the paper
    ("There is smoke, so I unplugged it.", "+smoke"),
]
EXPERIENCER = [
    ("My brother's computer beeps, mine has no picture.", "-picture"),
    ("My neighbour's pc had smoke. Mine does not beep.", "-beeps"),
    ("My mother says the fans spin.", "+fans-spin"),  # she reports, and does not own: a person alone is no bearer
    ("My other computer beeps.", ""),
]
UNCERTAIN = [
    ("I can not rule out smoke.", "?+smoke"),
    ("Possibly smoke.", "?+smoke"),
    ("It probably beeps.", "?+beeps"),
    ("Smoke was ruled out.", ""),  # clinicians deny by it; owners speak of what they had thought
    ("There is no doubt that there was smoke.", "+smoke"),
]
FROM_THE_LIST = {
    "preceding_negations": BEFORE,
    "following_negations": AFTER,
    "pseudo_negations": PSEUDO,
    "termination": ENDS,
}
ROWS = [row[1:] for rows in FROM_THE_LIST.values() for row in rows]
ROWS += [*REACH, *HISTORICAL, *HYPOTHETICAL, *EXPERIENCER, *UNCERTAIN]


@pytest.mark.parametrize(("message", "expected"), ROWS, ids=[row[0] for row in ROWS])
def test_a_published_behaviour_holds_in_this_trade(message, expected):
    """Exactly these findings, with these states."""
    told = {
        ("?" if found.certainty == "hedged" else "") + ("+" if found.state == "present" else "-") + found.id
        for found in read_complaint(message, shipped_base()).told
    }
    assert told == set(expected.split())


@pytest.mark.parametrize("kind", FROM_THE_LIST)
def test_the_triggers_are_those_of_the_list(kind):
    """Each row's words are on the list of their kind, and in the row."""
    listed = set(termset("en").get_patterns()[kind])
    assert [words for words, message, _ in FROM_THE_LIST[kind] if words not in listed] == []
    assert all(words in message.lower() for words, message, _ in FROM_THE_LIST[kind])


def test_denials_are_told_better_than_by_the_published_algorithm():
    """At most half as many errors as negspacy on identical spans of the corpus, the words mended for it as for us."""
    ways = "ours, the whole reading", "negspacy, on mended words"
    ours, reference = negation.results(list(negation.spans()), *ways).values()
    assert ours.tp + ours.fn == reference.tp + reference.fn > 100
    assert 2 * (ours.fp + ours.fn) <= reference.fp + reference.fn
    assert ours.f1 > reference.f1
