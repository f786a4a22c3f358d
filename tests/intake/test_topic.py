"""What a message is about; the messages are invented."""

import numpy
import pytest
from sklearn.linear_model import LogisticRegression

from intake.model import shipped_model
from intake.network import UNKNOWN
from intake.read import reader
from intake.topic import Topic
from knowledge import shipped_base
from tests.fit import topic
from tests.fit.examples import Example

NONE = frozenset()


def _message(words, says=NONE, unknown=NONE):
    return [Example([word], [word], NONE, says, unknown) for word in words.split()]


def test_the_odds_are_those_of_the_regression_that_was_fitted():
    """Beside scikit-learn: the decision of a logistic regression over words that are there or not."""
    messages = [
        _message("lamp smokes"), _message("thanks for the lamp"), _message("lamp again lamp"),
        _message("fans turn", frozenset({("fans-spin", "present")})), _message("smokes and fans", unknown={("a", "b")}),
    ]  # fmt: skip
    words = {word: row for row, word in enumerate(["lamp", "smokes", "thanks", "fans", "turn", "again"], start=2)}
    ours = Topic(**topic.fit([*messages, _message("alone")], words, 8))
    table = numpy.zeros((5, 8))
    for row, columns in enumerate([(2, 3), (2, 4), (2, 7), (5, 6), (3, 5)]):
        table[row, list(columns)] = topic.scale(len(columns))
    theirs = LogisticRegression(C=topic.EASE).fit(table, [1, 1, 1, 0, 0])
    expected = theirs.decision_function(table)
    found = [ours.odds(set(columns)) for columns in [(2, 3), (2, 4), (2, 7), (5, 6), (3, 5)]]
    assert found == pytest.approx(expected, abs=0.01)  # weights are kept in sixteen bits
    assert ours.odds(set()) == pytest.approx(theirs.intercept_[0], abs=0.01)


def test_a_lamp_is_not_the_machine():
    """The shipped numbers, on plain cases, which are invented."""
    model = shipped_model()

    def odds(message):
        stems = {stem for token in reader(shipped_base())(message) for stem in token.lemma_.split(" ")}
        return model.topic.odds({model.words[stem] for stem in stems & model.words.keys()})

    lamp = odds(
        "The lamp from your raffle smokes. Is it safe in the bedroom? My aunt wants to give it back on Thursday."
    )
    thanks = odds("Thank you all for the lovely afternoon, the cake and the toaster that you mended for my aunt.")
    dark = odds("Since Sunday my computer does not start. The fans turn at the button, but the screen stays dark.")
    smoke = odds("It smoked at the back and now the computer is dead, with no light and no fan.")
    assert min(lamp, thanks) > max(dark, smoke)
    assert len(model.topic.weights) == UNKNOWN + 1 + len(model.words)
