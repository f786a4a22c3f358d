"""What a model proposes: quoted, marked, doubted, asked about; and what it takes back. The messages are invented."""

import json
from itertools import chain

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.linear_model import LogisticRegression

from expert.assess import Expert
from expert.case import MessageEntry, Told, fold
from expert.first_pass import document_of, message_entry, triage
from expert.report.plain import Page
from expert.report.summary import write_summary
from intake import model, read_complaint
from intake.likelihood import stems_of
from intake.model import PLACES, Model, pieces_of
from intake.read import reader
from knowledge import shipped_base
from tests import train

BASE = shipped_base()
PLAIN = "Hello, about my desktop: it makes its usual wind."


@pytest.fixture
def sure(monkeypatch):
    """A model that takes every clause for turning fans, with odds of 20 to 1."""
    sure_of_fans = Model(
        (("fans-spin", "present"),), numpy.zeros((PLACES, 1), numpy.int8), numpy.ones(1), numpy.array([3.0])
    )
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: sure_of_fans)


@pytest.fixture
def unbelieving(monkeypatch):
    """A model that holds turning fans and smoke for nearly impossible, whatever the clause says: 1 in 400."""
    labels = (("fans-spin", "present"), ("smoke", "present"))
    never = Model(labels, numpy.zeros((PLACES, 2), numpy.int8), numpy.ones(2), numpy.array([-6.0, -6.0]))
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: never)


def test_what_is_out_of_place_is_taken_back_and_says_by_what(unbelieving):
    """The clause is kept as the reason; what the model does not know stays."""
    reading = read_complaint("The fans spin, and there is no picture.", BASE)
    assert [finding.id for finding in reading.findings] == ["picture"]
    (edge,) = [edge for edge in reading.edges if edge.category == "unlikely"]
    assert (edge.finding, edge.modifier) == ("fans-spin", "The fans spin,")


def test_a_danger_is_never_taken_back(unbelieving):
    """It is raised rather too often than too rarely."""
    assert "smoke" in {finding.id for finding in read_complaint("There was smoke, the fans spin.", BASE).findings}


def _proposed(message):
    return [found for found in read_complaint(message, BASE).findings if found.certainty == "proposed"]


def test_a_proposal_is_marked_and_quotes_the_clause(sure):
    """Offsets are into the message as given."""
    message = PLAIN
    for found in _proposed(message):
        assert (found.id, found.state, found.certainty) == ("fans-spin", "present", "proposed")
        assert found.quote == message[found.start : found.end]
    assert len(_proposed(message)) == 1


def test_what_a_wording_says_is_never_proposed_as_well(sure):
    """Neither the same nor its contrary."""
    found = read_complaint("The fans do not spin. It is odd.", BASE).findings
    assert [finding.state for finding in found if finding.id == "fans-spin"] == ["absent"]


@pytest.mark.parametrize(
    ("message", "words"),
    [
        ("My neighbour's computer does it the same way. Mine is new.", "neighbour"),
        ("Could it be doing that?", "doing"),
        ("It used to do that.", "that"),
        ("Write to me at ann@example.org about it.", "ann"),
    ],
)
def test_the_context_drops_a_proposal(sure, message, words):
    """Another's machine, a question, the past; and what holds personal data is not quoted."""
    assert [found.quote for found in _proposed(message) if words in found.quote] == []


def test_another_language_has_nothing_proposed(sure):
    """Only dangers that are certain are read there."""
    assert _proposed("Der Rechner ist tot und nichts geht mehr, bitte helfen Sie mir mit dem Netzteil.") == []


def test_the_document_knows_no_third_certainty(sure):
    """What is proposed is not stated; the published document has `stated` and `hedged`."""
    document = triage(PLAIN)
    assert [finding.certainty for finding in document.findings if finding.id == "fans-spin"] == ["hedged"]


def _case(certainty):
    """A dead machine, and a bang that is told so."""
    dead = Told(id="dead", state="present", quote="y", start=1, end=2)
    told = Told(id="pop", state="present", quote="x", start=0, end=1, certainty=certainty)
    return fold([MessageEntry(text="xy", sentences=1, redactions=0, findings=(told, dead))])


def test_it_counts_for_less_than_a_doubtful_word():
    """Stated, hedged, proposed: the supply is less and less likely."""
    shares = []
    for certainty in ("stated", "hedged", "proposed"):
        causes = Expert(BASE).assess(_case(certainty)).belief.causes
        shares.append(next(cause.probability for cause in causes if cause.id == "psu-failed"))
    assert shares[0] > shares[1] > shares[2]


def test_it_is_asked_about_with_the_words_it_was_taken_from():
    """After the questions for safety, before what is only worth knowing; what is stated is not asked."""
    sentence = next(finding.present for finding in BASE.findings if finding.id == "pop")
    assessed = {certainty: Expert(BASE).assess(_case(certainty)) for certainty in ("stated", "proposed")}
    asked = {c: document_of(_case(c), assessment).questions for c, assessment in assessed.items()}
    guards = {plan.id for plan in assessed["proposed"].questions if plan.guards}
    ids = [question.id for question in asked["proposed"]]
    at = ids.index("pop-so")
    assert asked["proposed"][at].text == f"“x”: does that mean that {sentence}?"
    assert set(ids[:at]) == guards
    assert len(ids) > at + 1
    assert "pop-so" not in [question.id for question in asked["stated"]]


def test_the_text_says_that_it_is_a_guess():
    """The technician sees which findings nobody has said."""
    case = _case("proposed")
    text = write_summary(document_of(case, Expert(BASE).assess(case)), case.findings, BASE, Page(width=100))
    assert "(a guess at these words: ask)" in text


def test_the_pieces_are_places_of_the_table():
    """Sorted, each once; letters of a word make some pieces common to its forms."""
    fans, fan = (set(pieces_of([word])) for word in ("blower", "blowers"))
    assert fans & fan
    assert all(0 <= place < PLACES for place in fans | fan)
    assert pieces_of(["a", "a"]) == sorted(set(pieces_of(["a", "a"])))


def test_eight_bits_give_the_odds_of_the_regression():
    """Against scikit-learn's decision function on the same examples: a rounding of 1 in 254 of the largest weight.

    Fifty pieces a clause, each off by half a step at most: their sum over the root of their number is off by no more
    than sqrt(50) half steps.
    """
    generator = numpy.random.default_rng(1)
    rows = [sorted(generator.choice(PLACES, 50, replace=False).tolist()) for _ in range(60)]
    matrix = numpy.zeros((60, PLACES))
    for number, row in enumerate(rows):
        matrix[number, row] = 50**-0.5
    says = [number % 3 == 0 for number in range(60)]
    fit = LogisticRegression(C=20.0, solver="liblinear", random_state=0).fit(matrix, says)
    weights = fit.coef_.T
    scale = numpy.abs(weights).max() / 127
    ours = Model(
        (("x", "present"),), numpy.rint(weights / scale).astype(numpy.int8), numpy.array([scale]), fit.intercept_
    )
    odds = ours.odds(numpy.array([ours.sum_of(row) for row in rows]), numpy.full(60, 50))[:, 0]
    assert numpy.abs(odds - fit.decision_function(matrix)).max() <= 50**0.5 * scale / 2


def test_the_same_examples_give_the_same_bytes(tmp_path, monkeypatch):
    """Whatever process they are fitted in."""
    examples = [
        train.Example(pieces_of(text.split()), frozenset(says))
        for text, says in [
            ("fan go round", [("fans-spin", "present")]),
            ("no fan at all", [("fans-spin", "absent")]),
            ("it is dark", []),
            ("fan whir", [("fans-spin", "present")]),
        ]
        * 3
    ]
    label = ("fans-spin", "present")
    written = []
    for name in ("one", "two"):
        train._prepare(examples)
        monkeypatch.setattr(train, "NUMBERS", tmp_path / f"{name}.npy")
        monkeypatch.setattr(train, "LABELS", tmp_path / f"{name}.json")
        train.write([label], [train._fit(label)])
        written.append(((tmp_path / f"{name}.npy").read_bytes(), (tmp_path / f"{name}.json").read_text()))
    assert written[0] == written[1]
    assert json.loads(written[0][1])["labels"] == [["fans-spin", "present"]]


def test_the_shipped_model_fits_the_base():
    """Every label is a finding of the base in a state that a message can say, and has numbers."""
    shipped = model.shipped_model()
    assert {finding for finding, _ in shipped.labels} <= {finding.id for finding in BASE.findings}
    assert shipped.numbers.shape == (PLACES, len(shipped.labels))
    assert shipped.numbers.any(axis=0).all()


@settings(max_examples=60, deadline=None, derandomize=True, database=None)
@given(st.text(max_size=200))
def test_any_text_has_stems_for_each_token(text):
    """The pieces of a clause are made from the stems that the words have already."""
    doc = reader(BASE).make_doc(text)
    assert len(stems_of(doc)) == len(doc)
    assert pieces_of(list(chain.from_iterable(stems_of(doc)))) is not None


def test_a_message_entry_keeps_what_is_proposed(sure):
    """The log of the case tells a guess from a word."""
    entry = message_entry(PLAIN, BASE)
    assert [told.certainty for told in entry.findings if told.id == "fans-spin"] == ["proposed"]
