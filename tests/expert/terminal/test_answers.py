"""Answers and corrections: what a line makes of the log; the expected findings are what the line says in English."""

from dataclasses import replace

import pytest

from expert.case import AnswerEntry, PartEntry, SkipEntry, WithdrawEntry
from expert.report.wording import detail_words
from expert.terminal.answers import choices_of, listed
from expert.terminal.screen import opening, remind, show_step
from knowledge.errors import CallError
from tests.expert.terminal.talk import DEAD, after, begun, opened, say, states, text


def asks(now):
    """Give the finding that the question is about."""
    return now.question_record(now.question).asks


def test_a_consultation_begins_with_what_was_understood():
    """Numbered, with the owner's words, and what to type if it is wrong."""
    shown = [said.text for said in show_step(opened(DEAD))]
    assert opened(DEAD).step == "correct"
    assert any(line.strip().startswith("1 ") and "“" in line for line in shown)
    assert "3 strikes out number 3, !3 turns it round" in shown[-1]
    assert "what is missing" in shown[-1]


def test_a_mark_and_a_number_turn_a_finding_round_and_back():
    """The fans do not turn: 'no, they do', and back again; the numbers stay in place."""
    now = opened(DEAD)
    place = [told.id for told in now.case.findings].index("fans-spin") + 1
    turned = after(now, f"!{place}")
    assert (states(now)["fans-spin"], states(turned)["fans-spin"]) == ("absent", "present")
    assert states(after(turned, f"!{place}"))["fans-spin"] == "absent"
    assert turned.step == "correct"


@pytest.mark.parametrize("line", ["1", "-1"])
def test_one_key_strikes_a_finding_out(line):
    """It was not told at all: neither present nor absent."""
    now = opened(DEAD)
    struck = after(now, line)
    gone = now.case.findings[0].id
    assert gone not in states(struck)
    assert struck.log[-1] == WithdrawEntry(finding=gone)


def test_several_corrections_go_by_the_numbers_on_the_screen():
    """Striking out 1 does not move 2 while the line is read."""
    now = opened(DEAD)
    first, second = (told.id for told in now.case.findings[:2])
    both = after(now, "1, -2")
    assert not {first, second} & states(both).keys()


def test_what_was_taken_out_and_put_back_is_set_right():
    """The card was out for cleaning only: no trial without it, no reseating; and what was missed is added."""
    now = opened("The tower is dead. I took the graphic card out to get at the dust and put it all back.")
    wrong = [n for n, told in enumerate(listed(now), start=1) if told.id.startswith("graphics-")]
    assert wrong
    mended = after(now, " ".join(map(str, wrong)), "it got wet in the cellar")
    assert mended.step == "danger"
    assert [name for name in states(mended) if name.startswith("graphics-")] == []
    added = after(mended, "unplugged at the wall, owner told")
    assert states(added)["liquid-spilled"] == "present"
    assert added.step == "correct"


def test_what_cannot_be_read_while_correcting_says_how_to_go_on():
    """The list is still to be found right."""
    reply = say(opened(DEAD), "xyzzy plugh")
    assert "strikes out number 3" in text(reply)
    assert "Enter if the rest is right" in text(reply)


@pytest.mark.parametrize(("line", "words"), [("0", "no 0"), ("99", "has 1 to"), ("no", "type the number")])
def test_a_correction_that_fits_nothing_is_explained(line, words):
    """One clear line, nothing entered."""
    with pytest.raises(CallError, match=words):
        say(opened(DEAD), line)


@pytest.mark.parametrize("line", ["", "ok", "yes", "right"])
def test_a_list_that_is_right_is_left(line):
    """Enter, or a word."""
    now = after(opened(DEAD), line)
    assert now.step == "question"
    assert now.log == opened(DEAD).log


def test_the_list_can_be_had_again():
    """At any time, also with the correction at once."""
    assert after(begun(), "understood").step == "correct"
    now = after(begun(), "understood -1")
    assert isinstance(now.log[-1], WithdrawEntry)
    with pytest.raises(CallError, match="understood 3 !5"):
        say(begun(), "understood the fans")


@pytest.mark.parametrize(
    ("line", "state"),
    [
        ("yes", "present"),
        ("Y", "present"),
        ("no", "absent"),
        ("nope.", "absent"),
        ("?", "unknown"),
        ("dk", "unknown"),
        ("dunno", "unknown"),
    ],
)
def test_plain_answers(line, state):
    """Yes, no, and don't know."""
    now = begun()
    assert after(now, line).log[-1] == AnswerEntry(finding=asks(now), state=state, words=line)


def test_an_answer_with_more_in_it_answers_and_tells():
    """The question gets its no, the smell is told as well."""
    now = begun()
    told = states(after(now, "no, but there is a coil of dust and the fans spin now"))
    assert told[asks(now)] == "absent"
    assert told["fans-spin"] == "present"


def test_no_and_more_is_a_no_and_more():
    """The question gets its no, the breaker is told as well."""
    now = after(begun(), "no")
    told = states(after(now, "no and the fans do not even twitch"))
    assert told[asks(now)] == "absent"


def test_no_fans_is_no_answer_no():
    """'no burning smell' tells of the smell, and does not deny what was asked."""
    now = after(begun(), "skip", "skip")
    told = states(after(now, "no beeps at all"))
    assert told["beeps"] == "absent"
    assert asks(now) not in told


def test_free_text_fills_several_answers_at_once():
    """The lead and the outlet, both without a change; each is told back."""
    reply = say(begun(), "I swapped the lead and tried another socket, still nothing")
    told = {finding.id: finding for finding in reply.consultation.case.findings}
    assert told["lead-swapped"].detail == told["other-outlet-tried"].detail == "no change"
    assert text(reply).count("understood:") >= 2


def test_free_text_tells_hardware():
    """A supply and its rating."""
    now = after(begun(), "by the way there is a 550 W supply in it")
    parts = [entry.named for entry in now.log if isinstance(entry, PartEntry)]
    assert [(part.part, part.facts["watts"], part.start) for part in parts] == [("psu", 550, None)]


def test_nonsense_is_said_to_be_unread():
    """Nothing is entered, and it is said what to type."""
    reply = say(begun(), "xyzzy plugh")
    assert reply.consultation.log == begun().log
    assert "could not read" in text(reply)


def test_a_sentence_that_begins_like_a_command_is_read():
    """'part of ...' is no call of `part`."""
    now = after(begun(), "have tried another mains lead, no change")
    assert states(now)["lead-swapped"] == "present"


def test_a_question_with_choices_takes_a_letter():
    """It was drained: cured, no change; the letter answers yes and tells which."""
    now = begun("My tower is dead. No burning smell, no shock, no breaker tripped, it is dry, nothing rattles.")
    while now.question and asks(now) != "power-drained":
        now = after(now, "skip")
    assert now.question
    shown = [said.text for said in show_step(now)]
    letter = next(line.strip()[0] for line in shown if line.endswith("yes: no change"))
    assert after(now, letter).log[-1] == AnswerEntry(
        finding="power-drained", state="present", detail="no change", words="no change"
    )
    assert after(now, "yes, no change").case.findings[-1].detail == "no change"


def test_skip_does_not_ask_again():
    """Another question follows; the skipped one never comes back."""
    now = begun()
    skipped = after(now, "skip")
    assert skipped.log[-1] == SkipEntry(finding=asks(now))
    assert now.question.id not in {plan.id for plan in skipped.assessment.questions}


def test_an_answer_without_a_question_is_refused():
    """On the bench a check is proposed; yes is no outcome of it."""
    now = replace(begun(), chosen="power-drain")
    with pytest.raises(CallError, match="no yes-or-no question"):
        say(now, "yes")


def test_what_the_message_leads_to_is_told_danger_first():
    """Before the first question: dangers, or that none is told; then the causes."""
    lines = [said.text for said in opening(begun())]
    assert "No danger sign" in lines[0]
    assert lines[-1].strip()[0].isdigit()


def test_every_step_has_a_reminder():
    """One line, so that what is open is not lost from sight."""
    assert len(remind(begun())) == len(remind(opened(DEAD))) == len(remind(after(begun(), "check power-drain"))) == 1


def test_choices_are_called_by_name():
    """Every choice that is a part or a rung of the chain by its title; what is told back as well."""
    now = begun()
    titles = {record.id: record.title for record in (*now.base.stages, *now.base.build_parts)}
    told = {q.asks: choices_of(now, q.asks) for q in now.base.questions}
    named_ones = {choice for choices in told.values() for choice in choices if choice in titles}
    assert {"graphics", "mains"} <= named_ones
    assert detail_words(now.base, "graphics") == "graphics card"
    assert detail_words(now.base, "no-change") == "no change"
    now = opened("I put a new graphics card in and now it is dead, no fans.")
    assert any("[graphics card]" in said.text for said in show_step(now))
