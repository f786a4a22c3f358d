"""What a model proposes: quoted, marked, doubted, asked about; and what it takes back. The messages are invented."""

from itertools import chain
from math import log

import numpy
import onnx.helper
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from onnx.reference import ReferenceEvaluator
from thinc.api import Ragged, expand_window, reduce_max, reduce_sum

from expert.assess import Expert
from expert.case import MessageEntry, Told, fold
from expert.first_pass import document_of, message_entry, triage
from expert.report.plain import Page
from expert.report.summary import write_summary
from intake import model, read_complaint
from intake.likelihood import likelihoods_of, stems_of
from intake.model import BLANK, PLACES, SIDE, UNKNOWN, Model, View, pieces_of
from intake.read import reader
from knowledge import shipped_base
from tests import network, train
from tests.intake.test_shipped_wordings import CASES
from tests.network import Sample

BASE = shipped_base()
SHIPPED = model.shipped_model()
PLAIN = "Hello, about my desktop: it makes its usual wind."


def _stubborn(offsets):
    """A model that holds the same odds of each label whatever the clause says."""
    size = len(offsets)
    return Model(
        labels=tuple(offsets),
        words=SHIPPED.words,
        vectors=numpy.zeros((UNKNOWN + 1 + len(SHIPPED.words), 1), numpy.float16),
        filters=numpy.zeros((2 * SIDE + 1, 1)),
        thresholds=numpy.zeros(1),
        weights=numpy.zeros((2, size)),
        inputs=numpy.zeros((2, 1, 3)),
        loops=numpy.zeros((2, 1, 3)),
        gates=numpy.zeros((2, 3)),
        state_weights=numpy.zeros((2, size)),
        sides=numpy.zeros((6, 1)),
        side_thresholds=numpy.zeros(1),
        side_weights=numpy.zeros((1, size)),
        trust=numpy.zeros((size, size)),
        pieces=numpy.zeros((PLACES, size), numpy.int8),
        scales=numpy.ones(size),
        offsets=numpy.array(list(offsets.values())),
        together=numpy.zeros((size, size)),
    )


@pytest.fixture
def sure(monkeypatch):
    """A model that takes every clause for turning fans, with odds of 20 to 1."""
    sure_of_fans = _stubborn({("fans-spin", "present"): 3.0})
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: sure_of_fans)


@pytest.fixture
def unbelieving(monkeypatch):
    """A model that holds turning fans and smoke for nearly impossible, whatever the clause says: 1 in 400."""
    never = _stubborn({("fans-spin", "present"): -6.0, ("smoke", "present"): -6.0, ("smoke", "absent"): -6.0})
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: never)


def test_what_is_out_of_place_is_taken_back_and_says_by_what(unbelieving):
    """The clause is kept as the reason; what the model does not know stays."""
    reading = read_complaint("The fans spin, and there is no picture.", BASE)
    assert [finding.id for finding in reading.findings] == ["picture"]
    (edge,) = [edge for edge in reading.edges if edge.category == "unlikely"]
    assert (edge.finding, edge.modifier) == ("fans-spin", "The fans spin,")


def test_hardly_a_plain_sentence_is_taken_back():
    """Of what the tables of sentences state, the whole reading tells all but one in fifty without guessing."""
    stated = lost = 0
    for case in CASES:
        told = {f"{found.id}={found.state}" for found in read_complaint(case["say"], BASE).told}
        stated += len(case["expect"])
        lost += len(set(case["expect"]) - told)
    assert stated > 1000
    assert lost <= stated / 50


@pytest.mark.parametrize(("odds", "told"), [(-2.5, ["smoke"]), (-3.5, [])])
def test_a_danger_is_taken_back_only_against_long_odds(monkeypatch, odds, told):
    """At 1 in 13 it is told still, at 1 in 34 no more; its denial is taken back as anything is."""
    doubtful = _stubborn({("smoke", "present"): odds, ("smoke", "absent"): odds})
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: doubtful)
    assert [found.id for found in read_complaint("There was smoke.", BASE).findings] == told
    assert read_complaint("There was no smoke.", BASE).findings == ()


@pytest.mark.parametrize(("fans", "proposed"), [(3.0, ["fans-spin", "picture"]), (-3.0, [])])
def test_what_is_said_together_is_likelier_together(monkeypatch, fans, proposed):
    """What is a little less likely than not is proposed beside what it often comes with, and only then."""
    doubtful = _stubborn({("fans-spin", "present"): fans, ("picture", "absent"): -0.2})
    doubtful = doubtful._replace(together=numpy.array([[0, 0.5], [0.5, 0]]))
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: doubtful)
    assert sorted(found.id for found in _proposed(PLAIN)) == proposed


def test_what_is_learned_of_two_labels_is_their_mutual_information():
    """Church and Hanks (1990): the logarithm of how much oftener they are together than by chance, damped by one.

    Of 100 messages 40 have the first, 50 the second and 30 both, where 20 are expected; the third is never with them.
    """
    first, second, third, contrary = ("a", "present"), ("b", "present"), ("c", "present"), ("a", "absent")
    both, rest = [frozenset({first, second})] * 30, [frozenset({first})] * 10 + [frozenset({second})] * 20
    messages = [*both, *rest, *[frozenset({third, contrary})] * 40]
    found = train.together([first, second, third, contrary], messages)
    assert found[0, 1] == pytest.approx(train.FOR * log(31 / 21))
    assert found[0, 2] == pytest.approx(train.AGAINST * log(1 / 17))
    assert found == pytest.approx(found.T)
    assert found[0, 3] == found[0, 0] == 0


def test_what_is_hedged_is_not_taken_back(unbelieving):
    """It counts for less already."""
    (found,) = read_complaint("Perhaps the fans spin.", BASE).findings
    assert (found.id, found.certainty) == ("fans-spin", "hedged")


@pytest.mark.parametrize(("absent", "state"), [(1.0, "present"), (3.0, "absent")])
def test_the_likelier_state_wins(monkeypatch, absent, state):
    """The wordings say that they turn, and the model takes that for likely enough; where it takes the contrary for
    likelier still, that is proposed instead."""
    doubtful = _stubborn({("fans-spin", "present"): 2.0, ("fans-spin", "absent"): absent})
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: doubtful)
    (found,) = read_complaint("The fans spin in it.", BASE).findings
    assert (found.id, found.state) == ("fans-spin", state)


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


@pytest.mark.parametrize(("odds", "proposed"), [(0.5, []), (1.0, ["fans-spin"])])
def test_against_the_context_it_takes_more_to_be_proposed(monkeypatch, odds, proposed):
    """What used to be is dropped by the scope: even odds do not bring it back, two to one do."""
    doubtful = _stubborn({("fans-spin", "present"): odds})
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: doubtful)
    monkeypatch.setattr("intake.second_look._LONE", 0.0)
    found = read_complaint("The fans used to spin.", BASE).findings
    assert [each.id for each in found if each.certainty == "proposed"] == proposed


@pytest.mark.parametrize(("odds", "message", "proposed"), [
    (0.9, PLAIN, []),
    (1.3, PLAIN, ["fans-spin"]),
    (0.9, f"There is no picture. {PLAIN}", ["fans-spin"]),
])  # fmt: skip
def test_a_lone_guess_takes_more_to_be_proposed(monkeypatch, odds, message, proposed):
    """Three to one where nothing else is said, better than even odds beside something."""
    doubtful = _stubborn({("fans-spin", "present"): odds})
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: doubtful)
    assert [found.id for found in _proposed(message)] == proposed


def test_what_holds_personal_data_is_not_quoted(sure):
    """A proposal over an address is none."""
    assert [
        found.quote for found in _proposed("Write to me at ann@example.org about it.") if "ann" in found.quote
    ] == []


@pytest.mark.parametrize(
    "message",
    [
        "My neighbour's tower smells as if it had been fried. I am glad it is not mine.",
        "Could it be the supply, or is it rather the board? I have no idea.",
        "Years ago an old one of ours went up in smoke, but that is another story.",
        "I will try another lead tomorrow, my sister has one.",
        "Thank you for the lovely afternoon, and for the cake.",
    ],
)
def test_the_shipped_model_has_learned_what_is_no_finding(message):
    """Another's machine, a question, an old story, a plan, thanks."""
    assert read_complaint(message, BASE).findings == ()


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


def test_guessed_good_news_is_asked_about_last():
    """It accuses nothing."""
    good = Told(id="files-missing", state="absent", quote="x", start=0, end=1, certainty="proposed")
    case = fold([MessageEntry(text="xy", sentences=1, redactions=0, findings=(good,))])
    assert document_of(case, Expert(BASE).assess(case)).questions[-1].id == "files-missing-so"


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


def test_the_filters_are_those_of_a_published_library():
    """Windows, greatest answers and sums against the layers of thinc 8, on sentences by chance."""
    generator = numpy.random.default_rng(1)
    known, size, filters, labels = 20, 6, 8, 3
    ours = _stubborn({(str(label), "present"): float(label) for label in range(labels)})._replace(
        vectors=generator.normal(size=(known, size)),
        filters=generator.normal(size=((2 * SIDE + 1) * size, filters)),
        thresholds=generator.normal(size=filters),
        weights=generator.normal(size=(2 * filters, labels)),
        sides=numpy.zeros((6 * filters, 1)),
    )
    ours.vectors[BLANK] = 0
    sentences = [generator.integers(UNKNOWN, known, length).tolist() for length in (1, 9, 4)]
    vectors = Ragged(ours.vectors[list(chain(*sentences))].astype("f"), numpy.array([1, 9, 4], "i"))
    windows = expand_window(SIDE).predict(vectors)
    answers = Ragged(numpy.maximum(windows.data @ ours.filters + ours.thresholds, 0).astype("f"), windows.lengths)
    peaks, sums = reduce_max().predict(answers), reduce_sum().predict(answers)
    sizes = numpy.array([1, 9, 4])
    expected = numpy.hstack([peaks, sums / numpy.sqrt(sizes + 1)[:, None]]) @ ours.weights + ours.offsets

    rows = list(chain.from_iterable([*sentence, *[BLANK] * SIDE] for sentence in sentences))
    found = ours.answers(rows)
    starts = [0, 1 + SIDE, 10 + 2 * SIDE]
    parts = [found[start : start + size] for start, size in zip(starts, sizes, strict=True)]
    nothing = numpy.zeros((3, labels))
    view = View(
        numpy.stack([part.max(axis=0) for part in parts]),
        numpy.stack([part.sum(axis=0) for part in parts]),
        sizes,
        numpy.zeros((3, 2)),
        nothing,
        nothing,
        numpy.ones(3),
    )
    assert ours.odds(view) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("lengths", [[1], [5, 5], [2, 9, 1, 4]])
def test_the_chains_are_those_of_an_open_standard(lengths):
    """States along words by chance, against the reference of the operator GRU of ONNX, both ways, run by run."""
    generator = numpy.random.default_rng(2)
    known, size, units = 20, 6, 4
    ours = SHIPPED._replace(
        vectors=generator.normal(size=(known, size)),
        inputs=generator.normal(size=(2, size, 3 * units)),
        loops=generator.normal(size=(2, units, 3 * units)),
        gates=generator.normal(size=(2, 3 * units)),
    )
    runs = [generator.integers(UNKNOWN, known, length).tolist() for length in lengths]
    node = onnx.helper.make_node(
        "GRU", list("XWRB"), ["Y"], hidden_size=units, direction="bidirectional", linear_before_reset=1
    )
    weights = {"W": ours.inputs, "R": ours.loops}
    numbers = {name: array.swapaxes(1, 2) for name, array in weights.items()}
    numbers["B"] = numpy.hstack([ours.gates, numpy.zeros_like(ours.gates)])
    for run, found in zip(runs, ours.states(runs), strict=True):
        (states,) = ReferenceEvaluator(node).run(None, {"X": ours.vectors[run][:, None], **numbers})
        assert found == pytest.approx(states.max(axis=0)[:, 0].ravel(), abs=1e-5)


def test_ranges_of_rows_are_seen_as_one():
    """Greatest answers, sums, sizes, what was found, pieces and their counts, as numpy has them row by row."""
    generator = numpy.random.default_rng(3)
    view = View(*(generator.normal(size=(5, 2)) for _ in range(2)), numpy.arange(5.0), numpy.zeros((5, 2)),
                *(generator.normal(size=(5, 3)) for _ in range(2)), numpy.arange(5.0))  # fmt: skip
    joined = view.joined([(0, 2), (2, 5)], numpy.ones((2, 2)))
    for row, part in enumerate((slice(0, 2), slice(2, 5))):
        for name in ("peaks", "told"):
            assert getattr(joined, name)[row] == pytest.approx(getattr(view, name)[part].max(axis=0))
        for name in ("sums", "sizes", "pieces", "counts"):
            assert getattr(joined, name)[row] == pytest.approx(getattr(view, name)[part].sum(axis=0))
    assert joined.states.all()


def _fitted(tmp_path, monkeypatch, name):
    """A model of three clauses, fitted and written, and what the fit makes of a fourth."""
    words = ["fan", "go", "no", "round"]
    rows = {word: row for row, word in enumerate(words, start=UNKNOWN + 1)}
    clauses = [("fan go round", [], [0]), ("no fan go", [1], [1]), ("go no", [], [])]
    samples = [
        Sample([rows[word] for word in text.split()], pieces_of(text.split()), told, says, [], [rows["go"]], [])
        for text, told, says in clauses
    ]
    monkeypatch.setattr(network, "BATCH", 3)
    for size, small in {"FILTERS": 8, "UNITS": 4, "NEAR": 4}.items():
        monkeypatch.setattr(network, size, small)
    numbers = network.fit(samples, UNKNOWN + 1 + len(words), 2)
    monkeypatch.setattr(train, "NUMBERS", tmp_path / f"{name}.npz")
    monkeypatch.setattr(train, "NAMES", tmp_path / f"{name}.json")
    monkeypatch.setattr(model, "NUMBERS", tmp_path / f"{name}.npz")
    monkeypatch.setattr(model, "NAMES", tmp_path / f"{name}.json")
    labels = [("fans-spin", "present"), ("fans-spin", "absent")]
    train.write(labels, words, numbers | {"together": train.together(labels, [])})
    return numbers, samples


def test_the_same_examples_give_the_same_bytes(tmp_path, monkeypatch):
    """Two fits, two files."""
    written = []
    for name in ("one", "two"):
        _fitted(tmp_path, monkeypatch, name)
        written.append([(tmp_path / f"{name}{end}").read_bytes() for end in (".npz", ".json")])
    assert written[0] == written[1]


def test_what_is_shipped_reads_as_what_was_fitted(tmp_path, monkeypatch):
    """The odds of a message are those of the fit, but for the rounding to sixteen and eight bits."""
    numbers, _ = _fitted(tmp_path, monkeypatch, "one")
    shipped = model.shipped_model.__wrapped__()
    monkeypatch.setattr("intake.likelihood.shipped_model", lambda: shipped)
    stems = ["no", "fan", "go", "round"], ["go"]
    rows = [[shipped.words[stem] for stem in some] for some in stems]
    samples = [
        Sample(rows[0], pieces_of(stems[0]), [1], [], [], [], rows[1]),
        Sample(rows[1], pieces_of(stems[1]), [], [], [], rows[0], []),
    ]
    fitted = network.odds_of(numbers, network.batch_of(samples, 2))
    doc = reader(BASE).make_doc("No fan go round. Go.")
    nlp = reader(BASE)
    for name in ("clauses", "mentions", "scope"):
        doc = nlp.get_pipe(name)(doc)
    assert {(each.finding, each.polarity) for each in doc._.mentions} == {("fans-spin", "absent")}
    assert likelihoods_of(doc).odds == pytest.approx(numpy.asarray(fitted), abs=0.05)


def test_the_shipped_model_fits_the_base():
    """Every label is a finding of the base in a state that a message can say, and has numbers."""
    shipped = model.shipped_model()
    assert {finding for finding, _ in shipped.labels} <= {finding.id for finding in BASE.findings}
    assert shipped.pieces.shape == (PLACES, len(shipped.labels))
    assert shipped.vectors.shape[0] == UNKNOWN + 1 + len(shipped.words)
    assert shipped.pieces.any(axis=0).all()
    assert not shipped.vectors[BLANK].any()


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
