"""How likely a message says a finding, by all that points to it: a small network over the answers of the models.

Models of different kinds err in different places, so that the two together are better than either (Wolpert, Stacked
generalization, 1992). How much one tells hangs on what the others say, hence a hidden layer (Rumelhart et al., Learning
representations by back-propagating errors, 1986). The weights are fitted to messages that neither model has learned
from (`python -m tests.train`).
What one message says together counts too, by the mutual information of each two labels (Church and Hanks, Word
association norms, mutual information, and lexicography, 1990).
"""

from typing import Any, NamedTuple

import numpy

_FARTHEST = 8.0  # log odds: what is surer than that is as sure as can be


class Evidence(NamedTuple):
    """What is known of each label in a message, an entry for each.

    `is_told` is what a wording has found. `network` and `encoder` are the greatest odds in the message, natural
    logarithms, `gist` those of the message as a whole (of few words, nearer to what the two say), `company` is what all
    that the message most likely says adds to them, and `..._opposite` are those of the other state of the finding.
    `no_fault` is how likely the message tells of none, in odds too, whatever the label; `no_fault_of_danger` is the
    same for a danger, else 0. The rest is true or false. `is_weakened` is what the writer hedges, where a wording tells
    it, and what the context has dropped, where none does.
    """

    is_told: Any
    network: Any
    encoder: Any
    gist: Any
    company: Any
    network_opposite: Any
    encoder_opposite: Any
    company_opposite: Any
    is_opposite_told: Any
    is_weakened: Any
    is_present: Any
    is_danger: Any
    is_finer: Any
    no_fault: Any
    no_fault_of_danger: Any

    def table(self) -> Any:
        """Give a row for each label: 1, for the offset, and all that is weighed."""
        columns = numpy.array([numpy.ones(len(self.is_told)), *self], float).T
        return numpy.clip(columns, -_FARTHEST, _FARTHEST)


class Weighing(NamedTuple):
    """Weights of the table of evidence: `inner` has a row for each column of it and one column for each hidden unit,
    `outer` an offset, then one for each of these.

    `together` is L, L for L labels: what a label in a message adds to the odds of each.
    """

    inner: Any
    outer: Any
    together: Any

    def company(self, odds: Any) -> Any:
        """Give what all that is likelier than not adds to the odds of each label; `odds` are those of each."""
        return (odds > 0) @ self.together

    def chances(self, evidence: Evidence) -> Any:
        """Give how likely the message says each label, from 0 to 1."""
        odds = self.outer[0] + numpy.tanh(evidence.table().astype(numpy.float32) @ self.inner) @ self.outer[1:]
        return 1 / (1 + numpy.exp(-odds))
