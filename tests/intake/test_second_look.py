"""What the models propose: quoted, marked, doubted, asked about; and what they take back. The messages are invented."""

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expert.assess import Expert
from expert.case import MessageEntry, Told, fold
from expert.first_pass import document_of, message_entry, triage
from expert.report.plain import Page
from expert.report.summary import write_summary
from intake import model, read_complaint
from intake.network import BLANK, PLACES, UNKNOWN
from intake.pieces import OPENING, pieces_of
from intake.read import reader
from intake.stretches import sentences_of, stretches_of
from knowledge import shipped_base
from tests.intake.models import linear, stubborn
from tests.intake.test_shipped_wordings import CASES

BASE = shipped_base()
PLAIN = "Hello, about my desktop: it makes its usual wind."


@pytest.fixture
def sure(monkeypatch):
    """A model that takes every clause for turning fans, with odds of 20 to 1."""
    sure_of_fans = stubborn({("fans-spin", "present"): 3.0})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: sure_of_fans)


@pytest.fixture
def unbelieving(monkeypatch):
    """A model that holds turning fans and smoke for nearly impossible, whatever the clause says: 1 in 400."""
    never = stubborn({("fans-spin", "present"): -6.0, ("smoke", "present"): -6.0, ("smoke", "absent"): -6.0})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: never)


def test_what_is_out_of_place_is_taken_back_and_says_by_what(unbelieving):
    """The clause is kept as the reason; what the model does not know stays."""
    reading = read_complaint("The fans spin on the garden table, and there is no picture.", BASE)
    assert [finding.id for finding in reading.findings] == ["picture"]
    (edge,) = [edge for edge in reading.edges if edge.category == "unlikely"]
    assert (edge.finding, edge.modifier) == ("fans-spin", "The fans spin on the garden table,")


@pytest.mark.parametrize(("message", "odds", "found"), [
    ("The fans spin.", -2.0, ["fans-spin"]),
    ("The fans spin.", -2.4, []),
    ("The fans never fail to spin.", -6.0, ["fans-spin"]),
    ("The fans do spin on Monday.", -2.0, []),
    ("There was smoke on Monday.", -1.0, ["smoke"]),
])  # fmt: skip
def test_what_is_explained_to_the_last_word_is_hardly_doubted(monkeypatch, message, odds, found):
    """At 1 in 8 it is told still, at 1 in 12 no more; a danger is always told, be it that one word is left over, and so
    is what two noes say: models seldom see them."""
    doubtful = stubborn({("fans-spin", "present"): odds, ("smoke", "present"): -7.0})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    assert [finding.id for finding in read_complaint(message, BASE).findings] == found


def test_what_a_plain_sentence_hedges_is_told_whatever_the_odds(monkeypatch):
    """The hedge is all the doubt there is."""
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: stubborn({("fans-spin", "present"): -7.0}))
    (found,) = read_complaint("Maybe the fans spin.", BASE).findings
    assert (found.id, found.certainty) == ("fans-spin", "hedged")


def test_hardly_a_plain_sentence_is_taken_back():
    """Of what every fourth of the tables' sentences states, the whole reading tells all but one in fifty, unguessed."""
    stated = lost = 0
    for case in CASES[::4]:
        told = {f"{found.id}={found.state}" for found in read_complaint(case["say"], BASE).told}
        stated += len(case["expect"])
        lost += len(set(case["expect"]) - told)
    assert stated > 300
    assert lost <= stated / 50


@pytest.mark.parametrize(("odds", "told"), [(-3.8, ["smoke"]), (-4.0, [])])
def test_a_danger_is_taken_back_only_against_long_odds(monkeypatch, odds, told):
    """At 1 in 46 it is told still, at 1 in 56 no more; its denial is taken back as anything is."""
    doubtful = stubborn({("smoke", "present"): odds, ("smoke", "absent"): odds})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    assert [found.id for found in read_complaint("There was smoke over the garden table.", BASE).findings] == told
    assert read_complaint("There was no smoke over the garden table.", BASE).findings == ()


@pytest.mark.parametrize(
    ("message", "present", "absent", "state"),
    [
        ("There was smoke over the garden table.", -1.2, 2.0, "absent"),
        ("There was smoke over the garden table.", -1.0, 2.0, "present"),  # 0.27, not so unlikely
        ("There was smoke over the garden table.", -1.2, 1.5, "present"),  # 0.82, not so likely
        ("There was smoke.", -4.7, 2.0, "absent"),
        ("There was smoke.", -4.5, 2.0, "present"),  # plain, and likelier than 1 in 100
        ("There was smoke.", -9.0, 1.5, "present"),  # plain, and its denial not so likely
    ],
)
def test_a_danger_is_taken_back_where_its_denial_is_likely(monkeypatch, message, present, absent, state):
    """Likelier than 0.85, the danger less than 0.25, or than 0.01 in a plain sentence: then the denial is told."""
    doubtful = stubborn({("smoke", "present"): present, ("smoke", "absent"): absent})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    assert [found.state for found in read_complaint(message, BASE).findings] == [state]


@pytest.mark.parametrize(("fans", "proposed"), [(3.0, ["fans-spin", "picture"]), (-3.0, [])])
def test_what_is_said_together_is_likelier_together(monkeypatch, fans, proposed):
    """What is a little less likely than not is proposed beside what it often comes with, and only then."""
    doubtful = stubborn({("fans-spin", "present"): fans, ("picture", "absent"): -0.4})
    together = numpy.array([[0, 0.5], [0.5, 0]])
    doubtful = doubtful._replace(weighing=doubtful.weighing._replace(together=together))
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    assert sorted(found.id for found in _proposed(PLAIN)) == proposed


@pytest.mark.parametrize(("about", "told"), [(-2.0, ["smoke"]), (5.0, [])])
def test_a_danger_in_a_message_of_no_fault_is_taken_back(monkeypatch, about, told):
    """What the message is about weighs as much as what the clause says, where the weights say so."""
    ours = stubborn({("smoke", "present"): 0.0})
    ours = ours._replace(weighing=linear(1, no_fault_of_danger=-1.0), gist=ours.gist._replace(prior=about))
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: ours)
    assert [found.id for found in read_complaint("There was smoke over the garden table.", BASE).findings] == told


@pytest.mark.parametrize(("odds", "proposed"), [(3.0, ["graphics-removed"]), (-3.0, [])])
def test_what_a_longer_wording_takes_up_may_be_said_all_the_same(monkeypatch, odds, proposed):
    """The one wording is within the other, which is told; what it tells is a guess then, where it is likely."""
    taken_out = stubborn({("graphics-removed", "present"): odds})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: taken_out)
    message = "I took the graphics card out and put it back in."
    assert [found.id for found in read_complaint(message, BASE).told] == ["graphics-reseated"]
    assert [found.id for found in _proposed(message)] == proposed


@pytest.mark.parametrize(("state", "proposed"), [("present", []), ("absent", ["wont-start"])])
def test_a_bare_claim_is_idle_where_more_is_told_and_its_denial_is_not(monkeypatch, state, proposed):
    """Where the fans turn, "it will not start" tells nothing more; "it does start" does."""
    sure = stubborn({("wont-start", state): 3.0})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: sure)
    assert [found.id for found in _proposed("The fans spin on the garden table.")] == proposed


@pytest.mark.parametrize(("dead", "found"), [(1.0, "fans-spin"), (3.0, "dead")])
def test_of_two_that_exclude_one_another_and_of_which_one_is_guessed_the_likelier_stays(monkeypatch, dead, found):
    """In a machine that does nothing no fan turns; the guess goes, or what a wording tells."""
    doubtful = stubborn({("fans-spin", "present"): 2.0, ("dead", "present"): dead})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    assert [finding.id for finding in read_complaint("The fans spin on the garden table.", BASE).findings] == [found]


def test_of_two_guesses_that_exclude_one_another_the_likelier_stays(monkeypatch):
    """Whichever of the two names the other; a third beside them stays as well."""
    sure = {("turns-off-randomly", "present"): 3.0, ("turns-off-under-load", "present"): 2.0, ("smoke", "present"): 2.5}
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: stubborn(sure))
    assert {found.id for found in _proposed(PLAIN)} == {"turns-off-randomly", "smoke"}


@pytest.mark.parametrize(("absent", "state"), [(1.0, "present"), (3.0, "absent")])
def test_the_likelier_state_wins(monkeypatch, absent, state):
    """The wordings say that they turn, and the model takes that for likely enough; where it takes the contrary for
    likelier still, that is proposed instead."""
    doubtful = stubborn({("fans-spin", "present"): 2.0, ("fans-spin", "absent"): absent})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    (found,) = read_complaint("The fans spin on the garden table.", BASE).findings
    assert (found.id, found.state) == ("fans-spin", state)


@pytest.mark.parametrize(
    ("present", "absent", "state"),
    [(3.2, 0.2, "present"), (3.2, 0.6, "absent"), (2.7, 0.2, "absent")],  # 0.96 and 0.55; 0.65; 0.94
)
def test_of_what_is_told_in_both_states_the_doubtful_one_gives_way_to_the_sure_one(monkeypatch, present, absent, state):
    """Else the later words win."""
    doubtful = stubborn({("fans-spin", "present"): present, ("fans-spin", "absent"): absent})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: doubtful)
    found = read_complaint("The fans spin on the garden table. The fans do not spin in the kitchen cupboard.", BASE)
    assert [finding.state for finding in found.findings if finding.id == "fans-spin"] == [state]


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


@pytest.mark.parametrize(("told", "guessed", "state"), [(3.0, -3.0, "present"), (-3.0, 3.0, None)])
def test_what_a_wording_tells_is_weighed_by_itself(monkeypatch, told, guessed, state):
    """That a wording tells it counts as much as the weights say."""
    ours = stubborn({("fans-spin", "present"): 0.0})
    ours = ours._replace(weighing=linear(1, offset=guessed, is_told=told - guessed))
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: ours)
    found = [each.state for each in read_complaint("The fans spin on the garden table.", BASE).told]
    assert found == ([state] if state else [])


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


@pytest.mark.parametrize(("odds", "doubt"), [(0.2, 0.4), (1.1, 0.25), (2.2, 0.1), (3.0, 0.05), (7.0, 0.05)])
def test_a_proposal_is_doubted_by_its_odds(monkeypatch, odds, doubt):
    """Odds of 3 to 1 (e to the 1.1) are one in four against, of 9 to 1 one in ten; never surer than one in twenty."""
    likely = stubborn({("fans-spin", "present"): odds, ("picture", "absent"): odds})
    monkeypatch.setattr("intake.second_look.shipped_model", lambda: likely)
    assert {found.doubt for found in _proposed(PLAIN)} == {doubt}


def test_the_less_it_is_doubted_the_more_it_counts():
    """A bang that is nearly sure accuses the supply more than one that is hardly likelier than not."""
    shares = []
    for doubt in (0.05, 0.2, 0.4):
        case = _case("proposed")
        findings = tuple(told.model_copy(update={"doubt": doubt}) for told in case.findings if told.id == "pop")
        causes = Expert(BASE).assess(case.model_copy(update={"findings": findings})).belief.causes
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


@pytest.mark.parametrize(("doubt", "last"), [(0.05, True), (0.1, False)])
def test_what_is_hardly_doubted_is_asked_about_last(doubt, last):
    """What is doubted as little as may be."""
    case = _case("proposed")
    findings = tuple(told.model_copy(update={"doubt": doubt}) for told in case.findings)
    case = case.model_copy(
        update={"findings": findings, "message": case.message.model_copy(update={"findings": findings})}
    )
    ids = [question.id for question in document_of(case, Expert(BASE).assess(case)).questions]
    assert (ids[-1] == "pop-so") == last


def test_the_text_says_that_it_is_a_guess():
    """The technician sees which findings nobody has said."""
    case = _case("proposed")
    text = write_summary(document_of(case, Expert(BASE).assess(case)), case.findings, BASE, Page(width=100))
    assert "(a guess at these words: ask)" in text


def test_the_shipped_model_fits_the_base():
    """Every label is a finding of the base in a state that a message can say, and has numbers."""
    shipped = model.shipped_model()
    labels = len(shipped.labels)
    assert {finding for finding, _ in shipped.labels} <= {finding.id for finding in BASE.findings}
    assert shipped.network.features.shape == (PLACES, labels)
    assert shipped.network.vectors.shape[0] == UNKNOWN + 1 + len(shipped.words)
    assert shipped.network.features.any(axis=0).all()
    assert not shipped.network.vectors[BLANK].any()
    assert shipped.encoder.weights.shape[1] == labels
    assert len(shipped.encoder.vectors) == len(shipped.pieces)
    assert (shipped.pieces["[CLS]"], shipped.pieces["[UNK]"]) == (OPENING, UNKNOWN)
    assert shipped.weighing.together.shape == (labels, labels)


@settings(max_examples=60, deadline=None, derandomize=True, database=None)
@given(st.text(max_size=200))
def test_any_text_is_looked_at_word_by_word(text):
    """The stretches hold each word of the message once, in order, and every word has a piece at least."""
    doc = reader(BASE)(text)
    stretches = list(stretches_of(doc))
    tokens = [token for token in doc if token.tag_ in ("WORD", "NUM")]
    words = [word for token in tokens for word in token.text.split(" ")]
    assert [word for stretch in stretches for word in stretch.words] == words
    assert [len(stretch.stems) for stretch in stretches] == [len(stretch.words) for stretch in stretches]
    assert sum(end - first for first, end in sentences_of(stretches)) == len(stretches)
    assert all(pieces_of(word, model.shipped_model().pieces) for word in words)


def test_a_message_entry_keeps_what_is_proposed(sure):
    """The log of the case tells a guess from a word."""
    entry = message_entry(PLAIN, BASE)
    assert [told.certainty for told in entry.findings if told.id == "fans-spin"] == ["proposed"]
