"""Fit `intake.topic` to whole messages; needs sklearn."""

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import Any

import numpy
from scipy.sparse import csr_matrix
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import normalize

from tests.fit.examples import Example, finer

EASE = 10.0  # the inverse of the penalty on great weights; by judgement, on the held messages


def is_faultless(message: Sequence[Example]) -> bool:
    """Tell whether a message says nothing of a fault of the owner's machine."""
    return not any(example.says or example.unknown - finer() for example in message)


def fit(messages: Sequence[Sequence[Example]], words: Mapping[str, int], count: int) -> dict[str, Any]:
    """Give the weights of `count` rows, by the names of `Topic`; `words` gives the rows of stems.

    A sentence that stands alone in the corpus is no message, and nothing is learned from it.
    """
    whole = [message for message in messages if len(message) > 1]
    rows = [sorted(words.keys() & set(chain.from_iterable(each.stems for each in message))) for message in whole]
    columns = [words[stem] for stems in rows for stem in stems]
    edges = numpy.cumsum([0, *map(len, rows)])
    table = normalize(csr_matrix((numpy.ones(len(columns)), columns, edges), (len(whole), count)))
    truth = numpy.array(list(map(is_faultless, whole)))
    fitted = LogisticRegression(C=EASE, max_iter=10_000).fit(table, truth)
    return {
        "weights": fitted.coef_[0].astype(numpy.float16),
        "offset": fitted.intercept_[0].astype(numpy.float32),
        "prior": numpy.log(truth.mean() / (1 - truth.mean())).astype(numpy.float32),
    }
