"""How the answers of the models are weighed; the numbers are invented, the formulas published."""

from math import exp, log

import numpy
import pytest

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


def test_the_chance_is_the_logistic_function_of_what_is_weighed():
    """Cox (1958): the log odds are offset and weights times evidence; what a wording tells has weights of its own."""
    nothing = numpy.zeros(2)
    evidence = Evidence(**dict.fromkeys(Evidence._fields, nothing))._replace(
        is_told=numpy.array([True, False]), network=numpy.array([2.0, 2.0]), encoder=numpy.array([-1.0, -1.0])
    )
    rest = [0.0] * (len(Evidence._fields) - 3)
    ours = Weighing(numpy.array([0.5, 1.0, 2.0, *rest]), numpy.array([-1.0, 0.5, 0.25, *rest]), numpy.zeros((2, 2)))
    told, guessed = ours.chances(evidence)
    assert told == pytest.approx(1 / (1 + exp(-(0.5 + 2 * 1 - 1 * 2))))
    assert guessed == pytest.approx(1 / (1 + exp(-(-1 + 2 * 0.5 - 1 * 0.25))))


def test_only_what_is_likelier_than_not_keeps_company():
    """The first of three is likely: it adds to the second and takes from the third."""
    together = numpy.array([[0, 0.5, -0.7], [0.5, 0, 9], [-0.7, 9, 0]])
    ours = Weighing(None, None, together)
    assert ours.company(numpy.array([0.1, -0.1, -3])) == pytest.approx([0, 0.5, -0.7])
