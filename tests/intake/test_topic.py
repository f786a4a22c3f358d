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
        table[row, list(columns)] = len(columns) ** -0.5
    theirs = LogisticRegression(C=topic.EASE).fit(table, [1, 1, 1, 0, 0])
    columns = [[2, 3], [2, 4], [2, 7], [5, 6], [3, 5]]
    decided = theirs.decision_function(table)
    share = 2 / 40  # two words of the forty that tell enough; the rest is the odds of messages at large, three to two
    expected = share * decided + (1 - share) * numpy.log(3 / 2)
    assert [ours.odds(set(rows)) for rows in columns] == pytest.approx(expected, abs=1e-3)  # weights of sixteen bits
    assert ours.odds(set()) == pytest.approx(numpy.log(3 / 2))


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
