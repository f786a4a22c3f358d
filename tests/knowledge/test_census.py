"""The census, counted by hand from the little base."""

from collections import Counter

from knowledge.census import by_standing, cited, count_records, count_sources, documents
from tests.knowledge.small import SOUND, base_of

BASE = base_of(SOUND)


def test_records_are_counted_by_kind():
    """As many as the text has."""
    counts = dict(count_records(BASE))
    assert counts == {
        "rules": 4,
        "checks": 1,
        "questions": 1,
        "findings": 3,
        "causes": 1,
        "hazards": 1,
        "complaints": 1,
        "stages": 1,
        "limits": 1,
        "sources": 2,
        "wordings": 2,
        "accepted faults": 0,
    }


def test_a_record_counts_for_its_first_document_and_a_limit_for_each_band():
    """A document that was not looked up again counts as memory, whatever it is called."""
    assert count_sources(BASE) == {
        "rules": Counter({"common practice": 1, "house-wiring": 1, "from memory": 2}),
        "checks": Counter({"common practice": 1}),
        "causes": Counter({"common practice": 1}),
        "hazards": Counter({"from memory": 1}),
        "limits": Counter({"house-wiring": 1, "from memory": 1}),
    }


def test_documents_are_summed_up_as_published():
    """Whatever they are; what was searched for and not found is counted apart."""
    plain = {"common practice": 4, "from memory": 1, "no published source found": 2}
    assert by_standing(Counter({"house-wiring": 2, "atx": 3, **plain})) == Counter({"published": 5, **plain})


def test_several_documents_may_be_named():
    """Separated by semicolons; words that are no document belong to the place."""
    assert documents("a page 1; b; the manual decides", {"a", "b", "c"}) == ("a", "b")


def test_every_document_that_is_named_is_cited():
    """The second of two as well, and those of bands."""
    assert cited(BASE) == {"house-wiring", "old-handbook"}
