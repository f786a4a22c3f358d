"""The log of a case: undo, redo, and the later word."""

from hypothesis import given
from hypothesis import strategies as st

from expert.case import (
    AnswerEntry,
    CloseEntry,
    Entry,
    ExperienceEntry,
    HandEntry,
    MessageEntry,
    Named,
    NoteEntry,
    OutcomeEntry,
    PartEntry,
    ReopenEntry,
    SkipEntry,
    StepEntry,
    Told,
    WithdrawEntry,
    effective,
    fold,
)

UNDO, REDO = StepEntry(kind="undo"), StepEntry(kind="redo")


def _answer(finding: str, state: str = "present") -> AnswerEntry:
    return AnswerEntry(finding=finding, state=state, words="yes")


entries = st.one_of(
    st.builds(_answer, st.sampled_from(["dead", "smoke", "beeps"]), st.sampled_from(["present", "absent", "unknown"])),
    st.builds(OutcomeEntry, check=st.sampled_from(["outlet", "lead"]), outcome=st.sampled_from(["good", "bad"])),
    st.builds(HandEntry, have=st.just(("multimeter",))),
    st.builds(NoteEntry, words=st.just("calls back at six")),
)


@given(st.lists(entries, max_size=8), st.lists(entries, min_size=1, max_size=4))
def test_undo_takes_back_and_redo_brings_again(before: list[Entry], later: list[Entry]):
    """As many steps back as forward give the state from before; redo gives the state after."""
    taken_back = [*before, *later, *[UNDO] * len(later)]
    assert fold(taken_back) == fold(before)
    assert fold([*taken_back, *[REDO] * len(later)]) == fold([*before, *later])


@given(st.lists(entries, max_size=5), entries, entries)
def test_a_new_entry_forgets_what_could_be_redone(before: list[Entry], taken_back: Entry, new: Entry):
    """After an undo and something new there is nothing left to redo."""
    log = [*before, taken_back, UNDO, new]
    assert effective([*log, REDO]) == effective(log) == [*before, new]


def test_more_undos_than_entries_do_no_harm():
    """An empty log stays empty."""
    assert effective([UNDO, REDO, UNDO]) == []


def test_the_later_word_stands():
    """A finding told twice holds as it was told last."""
    case = fold([_answer("dead"), _answer("beeps", "absent"), _answer("dead", "absent")])
    assert [(told.id, told.state) for told in case.findings] == [("beeps", "absent"), ("dead", "absent")]


def test_one_entry_may_tell_of_several_parts():
    """ "New memory and a new drive" is one finding with two details; a later answer replaces both."""
    parts = tuple(Told(id="part-added", state="present", quote="new", detail=part) for part in ("memory", "storage"))
    message = MessageEntry(text="new memory and a new drive", sentences=1, redactions=0, findings=parts)
    assert fold([message]).findings == parts
    assert [told.state for told in fold([message, _answer("part-added", "absent")]).findings] == ["absent"]


def test_a_withdrawn_finding_was_never_told():
    """Withdrawing takes out both states, and a later answer puts the finding back."""
    log = [_answer("smoke"), _answer("dead"), WithdrawEntry(finding="smoke")]
    assert [told.id for told in fold(log).findings] == ["dead"]
    assert [told.id for told in fold([*log, UNDO]).findings] == ["smoke", "dead"]
    assert [told.id for told in fold([*log, _answer("smoke", "absent")]).findings] == ["dead", "smoke"]


def test_a_skipped_question_counts_as_asked_and_tells_nothing():
    """Skipping is no answer."""
    case = fold([SkipEntry(finding="storm")])
    assert (case.asked, case.findings) == (("storm",), ())


def test_parts_told_at_the_bench_follow_those_of_the_message():
    """What is told at the bench adds to what the message names."""
    told, named = (Named(part=part, text=part, facts={}) for part in ("psu", "board"))
    message = MessageEntry(text="a board", sentences=1, redactions=0, build=(named,))
    assert [part.part for part in fold([PartEntry(named=told), message]).build] == ["board", "psu"]


def test_a_case_is_closed_until_it_is_opened_again():
    """The last of the two words stands; undo takes a close back."""
    close = CloseEntry(cause="psu-failed", replaced=("psu",))
    assert fold([close]).closed == close
    assert fold([close, ReopenEntry()]).closed is None
    assert fold([close, UNDO]).closed is None


def test_the_experience_at_the_beginning_stays_with_the_case():
    """Counts of other cases are part of the log."""
    learned = ExperienceEntry(counts={"dead": {"psu-failed": 3}})
    assert fold([learned, _answer("dead")]).experience == learned
