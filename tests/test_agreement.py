"""The agreement of two readers, on published tables of counts, and the second reader's file."""

import pytest

from knowledge import shipped_base
from tests.agreement import finding_decisions, gold, kappa, second_against_gold, second_reader

# (both yes, first only, second only, both no), kappa. The first three are the examples commonly printed with
# Cohen's kappa in encyclopedias and lecture notes (counts and results from memory); the fourth is the worked example
# of easycalculation.com ("Cohen's kappa index value": 20 patients, two doctors), (0.7 - 0.62) / (1 - 0.62), printed
# as 0.21.
TABLES = [((20, 5, 10, 15), 0.40), ((45, 15, 25, 15), 0.13), ((25, 35, 5, 35), 0.26), ((12, 2, 4, 2), 0.21)]


@pytest.mark.parametrize(("counts", "expected"), TABLES)
def test_kappa_is_that_of_the_published_table(counts, expected):
    """To the two digits that are printed."""
    cells = [("yes", "yes"), ("yes", "no"), ("no", "yes"), ("no", "no")]
    pairs = [cell for cell, count in zip(cells, counts, strict=True) for _ in range(count)]
    assert round(kappa(pairs), 2) == expected


def test_kappa_at_its_ends():
    """By definition 1 for full agreement, 0 for chance, and -1 for two readers who halve and always differ."""
    assert kappa([("present", "present"), ("absent", "absent"), ("none", "none")]) == 1
    assert kappa([("a", "a"), ("a", "b"), ("b", "a"), ("b", "b")]) == 0
    assert kappa([("a", "b"), ("b", "a")]) == -1
    assert kappa([("none", "none")] * 3) == 1


def test_f1_counts_a_wrong_state_on_both_sides():
    """Counted by hand: one right, one wrong state, one missed, one invented, and one of neither reader."""
    pairs = [("present", "present"), ("present", "absent"), ("absent", "none"), ("none", "present"), ("none", "none")]
    assert second_against_gold(pairs) == pytest.approx((1 / 3, 1 / 3, 1 / 3))


def test_the_second_readers_labels_fit_corpus_and_base():
    """Every message and id exists, both halves are sampled, and every message is compared on every id in use."""
    base, second = shipped_base(), second_reader()
    first = gold(second)
    assert {i.partition("-")[0] for i in second} == {"dev", "test"}
    assert len(second) >= 50
    used = {i for side in (first, second) for labels in side.values() for i in labels.findings}
    assert used <= {finding.id for finding in base.findings}
    assert {h for labels in second.values() for h in labels.hazards} <= {hazard.id for hazard in base.hazards}
    assert len(list(finding_decisions(first, second))) == len(second) * len(used)
