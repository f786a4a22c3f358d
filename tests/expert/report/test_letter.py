"""The letter: danger first, only what an owner may do, chances in words, nothing private and nothing invented."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expert.assess import Expert
from expert.case import AnswerEntry, CloseEntry, NoteEntry, OutcomeEntry
from expert.report.chances import chances
from expert.report.letter import letter_of, write_letter
from expert.report.sheet import sheet_of, write_sheet
from expert.report.verdict_lines import verdict_lines
from expert.verdict import conclude
from knowledge import shipped_base
from knowledge.errors import CallError
from tests.expert.report.cases import DANGER, NAME, bench, closed, danger, message, report
from tests.expert.test_verdict import case_of
from tests.expert.worked import PRICES

OCCASIONS = ("first", "diagnosis", "handover")


def _headings(case, occasion: str) -> list[str]:
    return [block.heading for block in letter_of(case, occasion).blocks]


def _block(case, occasion: str, heading: str):
    return next(block for block in letter_of(case, occasion).blocks if block.heading == heading)


@pytest.mark.parametrize("occasion", ["first", "diagnosis"])
def test_danger_comes_first(occasion):
    """The first block says to leave it off, with the advice of each hazard."""
    block = letter_of(danger(), occasion).blocks[0]
    assert block.heading == "Please read this first"
    assert "switched off and unplugged" in block.text
    assert len(block.items) == len(danger().hazards) > 1
    assert "licensed electrician" in " ".join(block.items)


def test_nothing_is_to_be_tried_at_home_while_it_is_dangerous():
    """With a hazard of level stop no check is named at all."""
    block = _block(danger(), "first", "What you can try at home")
    assert block.items == ()
    assert block.text.startswith("Nothing, please")


def test_no_question_tempts_anybody_to_plug_it_in_while_it_is_dangerous():
    """Whether a light is on with the plug in is asked of a harmless case, and not where mains must stay off."""
    tempting = {question.id for question in shipped_base().questions if "energise" in question.risks}
    assert tempting & {question.id for question in report(message()).questions}
    assert not tempting & {question.id for question in danger().questions}
    asked = " ".join(_block(danger(), "first", "What we need to know").items)
    assert asked
    assert "plugged in and off" not in asked


def test_only_checks_for_owners_are_named_and_with_their_precautions():
    """Each item is a check that the base gives to the owner and no hazard locks, with every precaution of it."""
    checks = {check.title: check for check in shipped_base().checks}
    items = _block(report(message()), "first", "What you can try at home").items
    assert items
    for item in items:
        check = next(check for title, check in checks.items() if item.startswith(f"{title}. "))
        assert check.who == "owner"
        assert all(text in item for text in check.precautions)


def test_no_name_is_in_it():
    """Whoever signs does so by hand; the owner's name is not taken from the message."""
    for occasion in OCCASIONS:
        text = write_letter(letter_of(closed(), occasion))
        assert NAME not in text.replace("______", "")
        assert "Hello ______________________," in text


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        ((0.97, 0.03), ["almost certain", "less than 1 in 20"]),
        ((0.9, 0.1), ["about 9 in 10", "about 1 in 10"]),
        # Three halves rounded up would make eleven.
        ((0.35, 0.25, 0.25, 0.15), ["about 4 in 10", "about 3 in 10", "about 2 in 10", "about 1 in 10"]),
        ((0.86, 0.07, 0.07), ["about 8 in 10", "about 1 in 10", "about 1 in 10"]),
        ((0.92, 0.05, 0.03), ["about 9 in 10", "about 1 in 10", "less than 1 in 10"]),
        ((), []),
    ],
)
def test_chances_are_words_out_of_ten(shares, words):
    """Worked by hand by the largest remainder (Balinski & Young, Fair Representation, 1982: Hamilton's method)."""
    assert chances(shares) == words


@given(st.lists(st.integers(0, 1000), min_size=1, max_size=6).filter(any))
def test_the_tenths_sum_to_ten(parts):
    """And none is further than one tenth from its share: the quota rule, which Hamilton's method keeps (ibid.)."""
    shares = [part / sum(parts) for part in parts]
    tenths = [int(word.split()[1]) if word.startswith("about") else 0 for word in chances(shares)]
    if max(shares) < 0.95:
        assert sum(tenths) == 10
        assert all(abs(n - 10 * share) < 1 for n, share in zip(tenths, shares, strict=True))


def test_the_chances_of_a_letter_leave_room_for_something_else():
    """What is not named is named as something else."""
    items = _block(report(message()), "first", "What it may be").items
    assert items[-1].startswith("Something else: ")


def test_too_little_is_said_to_be_too_little():
    """Without a finding no cause is named."""
    block = _block(report(message("Hello, it is broken, please help.", (), 0)), "first", "What it may be")
    assert block.items == ()
    assert "Too little is known" in block.text


def test_another_language_is_said():
    """The owner learns why so little was understood."""
    foreign = message("Hallo, mein Rechner ist kaputt.", (), 0).model_copy(update={"language": "other"})
    assert "English" in _block(report(foreign), "first", "What we understood").text


def test_a_case_that_is_not_closed_is_not_handed_over():
    """There is nothing to hand over yet."""
    with pytest.raises(CallError, match="not closed"):
        letter_of(bench(), "handover")


def test_the_hand_over_names_what_was_wrong_and_replaced():
    """In the plain words of the base."""
    plain = next(cause.plain for cause in shipped_base().causes if cause.id == "psu-lead-loose")
    text = " ".join(write_letter(letter_of(closed(), "handover")).split())
    assert plain in text
    assert "Replaced: power leads." in text


def test_a_machine_that_goes_home_unsafe_is_not_called_ready():
    """A hazard that was never lifted changes the opening."""
    unsafe = report(*DANGER, CloseEntry())
    assert "must not be switched on" in letter_of(unsafe, "handover").opening
    assert _headings(unsafe, "handover")[0] == "Please read this first"


def test_the_diagnosis_asks_before_anything_is_done():
    """And it tells how sure it is, and what was looked at."""
    headings = _headings(bench(), "diagnosis")
    assert headings[0] == "What we think, and how sure we are"
    assert "What we looked at" in headings
    assert "Tell us whether we may go on" in write_letter(letter_of(bench(), "diagnosis"))


def test_an_answer_of_unknown_is_not_called_understood():
    """ "I don't know" says nothing of the machine."""
    case = report(message(), AnswerEntry(finding="storm", state="unknown", words="?"))
    assert not any("not known" in item.lower() for item in _block(case, "first", "What we understood").items)


STORM = (
    message(
        "A storm last night, now nothing happens.",
        (("storm", "present", "storm"), ("dead", "present", "nothing happens")),
        0,
    ),
)
CURED = (*STORM, OutcomeEntry(check="press-power-leads-home", outcome="main-lead"))
DRIVE = (
    message("It is slow and the drive clicks.", (("slow", "present", "slow"), ("drive-noise", "present", "clicks")), 0),
)


def test_the_advice_for_the_storm_is_over_when_the_case_is():
    """The first letter says to leave it unplugged; the hand-over asks what became of it, and says what was done."""
    advice = next(hazard.advice for hazard in shipped_base().hazards if hazard.id == "surge")
    assert advice in write_letter(letter_of(report(*STORM), "first"), 10**4)
    home = report(*CURED, CloseEntry(cause="psu-lead-loose"))
    text = write_letter(letter_of(home, "handover"), 10**4)
    assert advice not in text
    assert _block(home, "handover", "What was done").items[0] == "The board's main power plug was pressed home."
    assert any("surge" in item for item in _block(home, "handover", "What to keep an eye on").items)


def test_what_was_said_about_a_danger_is_in_the_hand_over():
    """And then it is not asked about once more."""
    noted = NoteEntry(words="storm is over, safety test passed", hazard="surge")
    home = report(*CURED, noted, CloseEntry(cause="psu-lead-loose"))
    assert any("safety test passed" in item for item in _block(home, "handover", "What was done").items)
    assert _block(home, "handover", "What to keep an eye on").items == ()


def test_after_a_cure_nothing_is_replaced_asked_or_tried():
    """Plan, letter and sheet say the same: what was pressed home, and the list before it goes home."""
    case = report(*CURED)
    assert "Nothing is left to replace" in _block(case, "diagnosis", "What we suggest").text
    headings = {*_headings(case, "diagnosis"), *_headings(case, "first")}
    assert not {"What we need to know", "What you can try at home"} & headings
    assert (case.checks, case.questions) == ([], [])
    sheet = write_sheet(sheet_of(case), 10**4)
    assert case.plan.decision.text in sheet
    assert all(item.title in sheet for item in case.plan.verification)


def test_a_clicking_drive_is_not_tried_at_home_and_its_files_come_first():
    """In the suggestion as well as in the danger."""
    case = report(*DRIVE)
    assert "files come first" in _block(case, "diagnosis", "What we suggest").text
    assert _block(case, "first", "What you can try at home").text.startswith("Nothing, please")


def test_no_letter_says_replace_while_it_is_dangerous():
    """Who makes it safe comes first."""
    block = _block(danger(), "diagnosis", "What we suggest")
    assert block.text.startswith("First it has to be made safe")
    assert block.items == ()


def test_without_a_price_list_the_price_is_promised_and_none_is_made_up():
    """What the list lacks is for the bench, not for the owner."""
    case = report(*STORM, OutcomeEntry(check="known-good-supply-beside-case", outcome="cured"))
    items = _block(case, "diagnosis", "What we suggest").items
    assert items[0] == "Replace: power supply."
    assert items[-1] == "We tell you the price before anything is ordered."


def test_the_two_ways_and_their_prices_are_told_plainly():
    """The maker's supply 140 and 24 of labour; board 90, case 45, supply 50 and 100 of labour, by hand."""
    told = "dead, nonstandard-supply, their-supply-on-good-bench/fails"
    base = shipped_base().model_copy(update={"prices": PRICES})
    case = case_of(told)
    price = verdict_lines(base, conclude(base, case, Expert(base).assess(case)))["plan"].price
    assert "A smaller repair costs about 164 (that it is enough: " in price
    assert "renewing at once all that may be bad costs about 285" in price
    assert "Beginning with the smaller one comes cheaper on average" in price
