"""How the answers of the models are weighed; the numbers are invented, the formulas published."""

from math import exp, log, tanh

import numpy
import pytest
from sklearn.neural_network import MLPClassifier
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from intake.weighing import Evidence, Weighing
from tests.fit import weighing


def test_what_is_learned_of_two_labels_is_their_mutual_information():
    """Church and Hanks (1990): the logarithm of how much oftener they are together than by chance, damped by one.

    Of 100 messages 40 have the first, 50 the second and 30 both, where 20 are expected; the third is never with them.
    """
    first, second, third, contrary = ("a", "present"), ("b", "present"), ("c", "present"), ("a", "absent")
    both, rest = [frozenset({first, second})] * 30, [frozenset({first})] * 10 + [frozenset({second})] * 20
    messages = [*both, *rest, *[frozenset({third, contrary})] * 40]
    found = weighing.together([first, second, third, contrary], messages)
    assert found[0, 1] == pytest.approx(weighing.FOR * log(31 / 21))
    assert found[0, 2] == pytest.approx(weighing.AGAINST * log(1 / 17))
    assert found == pytest.approx(found.T)
    assert found[0, 3] == found[0, 0] == 0


def test_the_chance_is_the_logistic_function_of_what_the_hidden_units_make():
    """Rumelhart et al. (1986), with hyperbolic tangents: an offset and weights times units, for each label a row."""
    nothing = numpy.zeros(2)
    evidence = Evidence(**dict.fromkeys(Evidence._fields, nothing))._replace(
        is_told=numpy.array([True, False]), network=numpy.array([2.0, 2.0]), encoder=numpy.array([-1.0, -1.0])
    )
    inner = numpy.zeros((1 + len(Evidence._fields), 2))
    inner[:4] = [[0.5, -0.25], [1.0, 0.0], [0.25, 0.5], [0.0, 2.0]]  # offset, told, network, encoder
    told, guessed = Weighing(inner, numpy.array([-0.5, 3.0, 1.5]), numpy.zeros((2, 2))).chances(evidence)
    assert told == pytest.approx(1 / (1 + exp(-(-0.5 + 3 * tanh(2.0) + 1.5 * tanh(-1.25)))))
    assert guessed == pytest.approx(1 / (1 + exp(-(-0.5 + 3 * tanh(1.0) + 1.5 * tanh(-1.25)))))


def test_what_was_fitted_to_scaled_evidence_answers_alike_without_the_scaling():
    """Against scikit-learn, whose networks they are: the mean of the log odds of two."""
    generator = numpy.random.default_rng(7)
    columns = {name: generator.normal(1, 2, 200) for name in Evidence._fields}
    evidence = Evidence(**columns)
    said = columns["network"] * columns["encoder"] > columns["gist"]
    table = evidence.table()[:, 1:]
    networks = [MLPClassifier(5, activation="tanh", solver="lbfgs", alpha=1, random_state=at) for at in (1, 2)]
    fitted = [make_pipeline(StandardScaler(), network).fit(table, said) for network in networks]
    ours = Weighing(**weighing.numbers_of(fitted), together=numpy.zeros((200, 200)))
    each = numpy.array([one.predict_log_proba(table) for one in fitted])
    theirs = 1 / (1 + numpy.exp((each[..., 0] - each[..., 1]).mean(axis=0)))
    assert theirs.std() > 0.2
    assert abs(each[0] - each[1]).max() > 0.1
    assert ours.chances(evidence) == pytest.approx(theirs, abs=1e-4)


def test_only_what_is_likelier_than_not_keeps_company():
    """The first of three is likely: it adds to the second and takes from the third."""
    together = numpy.array([[0, 0.5, -0.7], [0.5, 0, 9], [-0.7, 9, 0]])
    ours = Weighing(None, None, together)
    assert ours.company(numpy.array([0.1, -0.1, -3])) == pytest.approx([0, 0.5, -0.7])


def test_what_is_known_of_a_clause_alone_is_what_is_known_of_a_message_of_few_words():
    """Nothing of its company nor of the whole, the mean of the two models for the third, and no fault as at large."""
    fields = {name: numpy.array([at + 1.0, -at - 2.0]) for at, name in enumerate(Evidence._fields)}
    evidence = Evidence(**fields)._replace(is_danger=numpy.array([True, False]))
    alone = weighing.alone(evidence, prior=-2.0)
    assert alone.gist == pytest.approx((evidence.network + evidence.encoder) / 2)
    assert not alone.company.any()
    assert not alone.company_opposite.any()
    assert alone.no_fault == pytest.approx([-2.0, -2.0])
    assert alone.no_fault_of_danger == pytest.approx([-2.0, 0.0])
    changed = {"gist", "company", "company_opposite", "no_fault", "no_fault_of_danger"}
    for name in Evidence._fields:
        assert (getattr(alone, name) is getattr(evidence, name)) == (name not in changed)
