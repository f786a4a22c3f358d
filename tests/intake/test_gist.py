"""What a message says as a whole; the messages are invented."""

from itertools import chain

import numpy
import pytest
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

from intake.gist import Gist, gist_of, pooled_of
from intake.model import shipped_model
from intake.network import UNKNOWN
from intake.pieces import pieces_of
from intake.read import reader
from intake.stretches import sentences_of, stretches_of
from knowledge import shipped_base
from tests.fit import gist
from tests.fit.examples import Example
from tests.intake.models import SIZE, small_encoder

NONE = frozenset()
FANS, SMOKE = ("fans-spin", "present"), ("smoke", "absent")
WORDS = {"lamp": 4, "smokes": 5, "thanks": 6, "fans": 7, "turn": 8}


def _message(words, says=NONE, unknown=NONE):
    return [Example([word], [word.lower()], NONE, says, unknown, opens=word[0].isupper()) for word in words.split()]


def test_the_fit_ends_at_logistic_regressions(monkeypatch):
    """Beside scikit-learn: over words that are there or not, and numbers brought to mean nought and variance one; what
    tells no fault is worth its share of forty words."""
    generator = numpy.random.default_rng(1)
    rows = [sorted(generator.choice(12, size, replace=False)) for size in generator.integers(1, 12, gist.BATCH)]
    pooled = generator.normal(3, [1, 2, 5, 9], (gist.BATCH, 4))
    says = [[0] * int(3 in some) + [2] * int(some[0] > 2) for some in rows]
    samples = [gist.Sample(*each, []) for each in zip(rows, pooled, says, strict=True)]
    monkeypatch.setattr(gist, "ROUNDS", 1_000)
    monkeypatch.setattr(gist, "RATE", 0.2)
    monkeypatch.setattr(gist, "WORDS", 2.0)
    ours = gist_of(gist.fit(samples, words=12, labels=2))
    table = numpy.zeros((gist.BATCH, 16))
    for row, some in enumerate(rows):
        table[row, some] = gist.WORDS / len(some) ** 0.5
    table[:, 12:] = StandardScaler().fit_transform(pooled)
    odds, no_fault = zip(*(ours.odds(some, each) for some, each in zip(rows, pooled, strict=True)), strict=True)
    theirs = LogisticRegression(C=1 / (2 * gist.DECAY * gist.BATCH)).fit(table, [0 in each for each in says])
    assert numpy.std(odds, axis=0)[0] > 1
    assert [label for label, _ in odds] == pytest.approx(theirs.decision_function(table), abs=0.06)  # bytes
    shares = numpy.array([len(some) for some in rows]) / 40
    table[:, :12], table[:, 12:] = table[:, :12] / gist.WORDS, table[:, 12:] * gist.SPREAD
    theirs = LogisticRegression(C=gist.EASE).fit(table, [2 in each for each in says])
    prior = numpy.log(sum(2 in each for each in says) / sum(2 not in each for each in says))
    assert no_fault == pytest.approx(shares * theirs.decision_function(table) + (1 - shares) * prior, abs=0.02)


def test_a_few_words_tell_little_of_no_fault():
    """By the share of forty different words that a message has; of the labels it tells what it tells."""
    ours = Gist(numpy.full((50, 2), 3), numpy.array([0.1, 0.2]), numpy.array([[1.0, 2.0]]), numpy.zeros(2), -2.0)
    for count, share in ((10, 0.25), (40, 1)):
        (label,), no_fault = ours.odds(range(count), numpy.array([0.5]))
        assert label == pytest.approx(0.3 * count**0.5 + 0.5)
        assert no_fault == pytest.approx(share * (0.6 * count**0.5 + 1.0) + (1 - share) * -2)


def test_what_the_encoder_sees_is_pooled_over_the_sentences():
    """A sentence goes on until the next that opens one."""
    encoder = small_encoder(numpy.random.default_rng(2))
    (sample,) = gist.samples_of([_message("Lamp smokes Thanks")], WORDS, {**WORDS, "thanks": 6}, [FANS], encoder)
    seen = encoder.seen([[4, 5], [6]])
    assert len(sample.pooled) == 2 * SIZE
    assert sample.pooled == pytest.approx([*seen.mean(axis=0), *seen.max(axis=0)])
    assert not numpy.allclose(sample.pooled, pooled_of(encoder.seen([[4, 5, 6]])))


@pytest.mark.parametrize(
    ("message", "says", "unknown"),
    [
        (_message("fans turn", frozenset({FANS})), [0], []),
        (_message("Lamp smokes"), [2], []),
        (_message("lamp"), [], [2]),  # no message: nothing is known of what it is about
        (_message("fans", frozenset({FANS})) + _message("turn", unknown={SMOKE}), [0, 1], []),  # the gold has it
        (_message("fans", frozenset({FANS})) + _message("turn", frozenset({(FANS[0], "absent")})), [], []),
    ],
)
def test_what_a_message_says_is_what_its_clauses_say(message, says, unknown):
    """The last state holds; what the gold of a message has, and no clause of it, it says all the same."""
    (sample,) = gist.samples_of([message], WORDS, WORDS, [FANS, SMOKE], small_encoder())
    assert (sample.says, sample.unknown) == (says, unknown)


def test_a_lamp_is_not_the_machine():
    """The shipped numbers, on plain cases, which are invented."""
    model = shipped_model()

    def of(message):
        stretches = list(stretches_of(reader(shipped_base())(message)))
        pieces = [[row for word in stretch.words for row in pieces_of(word, model.pieces)] for stretch in stretches]
        sentences = [list(chain.from_iterable(pieces[first:end])) for first, end in sentences_of(stretches)]
        stems = {stem for stretch in stretches for stem in stretch.stems}
        rows = {model.words[stem] for stem in stems & model.words.keys()}
        return model.gist.odds(rows, pooled_of(model.encoder.seen(sentences)))

    lamp = of("The lamp from your raffle smokes. Is it safe in the bedroom? My aunt wants to give it back on Thursday.")
    thanks = of("Thank you all for the lovely afternoon, the cake and the toaster that you mended for my aunt.")
    dark = of("Since Sunday my computer does not start. The fans turn at the button, but the screen stays dark.")
    smoke = of("It smoked at the back and now the computer is dead, with no light and no fan.")
    assert min(lamp[1], thanks[1]) > max(dark[1], smoke[1])
    spins = model.labels.index(FANS)
    assert dark[0][spins] > max(each[0][spins] for each in (lamp, thanks, smoke))
    assert model.gist.words.shape == (UNKNOWN + 1 + len(model.words), len(model.labels) + 1)
    assert model.gist.weights.shape == (2 * model.encoder.vectors.shape[1], len(model.labels) + 1)
