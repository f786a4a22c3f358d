"""Explanations: down to the owner's words, previews that enter nothing, steps back and forth, help, completion."""

import re
from dataclasses import replace

import pytest

from expert.terminal.answers import choices_of
from expert.terminal.commands import COMMANDS
from expert.terminal.completion import complete
from expert.terminal.explain import leading_causes
from expert.terminal.naming import find, things_of
from expert.terminal.screen import bar
from expert.terminal.steps import NOTHING_AGAIN, NOTHING_BACK
from knowledge.errors import CallError
from tests.expert.terminal.talk import DEAD, SMOKE, after, begun, opened, say, text

LEAD = "My tower is dead, no fans, no lights. I swapped the mains lead for another, no change."


def test_how_goes_down_to_the_owners_words():
    """The mains lead is ruled out by the trial, in the words of the message."""
    said = text(say(begun(LEAD), "how mains-lead"))
    assert "before anything was told" in said
    assert "“swapped the mains lead" in said
    assert "less likely" in said


def test_how_takes_a_danger_and_the_leader():
    """A hazard by its id; nothing is the leading cause."""
    now = after(begun(), SMOKE, "unplugged at the wall")
    assert "smoke" in text(say(now, "how fire"))
    leader = next(cause for cause in now.assessment.belief.causes if cause.status != "excluded")
    assert leader.title in text(say(now, "how"))


def test_whatif_enters_nothing_and_foretells_what_the_answer_does():
    """The leading causes after the answer are the ones that were foretold."""
    now = after(begun(), "check power-drain")
    reply = say(now, "whatif a")
    assert reply.consultation.log == now.log
    assert reply.consultation.chosen == "power-drain"
    leader = leading_causes(after(now, "a"), 1)[0].split("%")[1].strip().removesuffix(" (confirmed)")
    assert leader in text(reply)
    assert text(say(begun(), "whatif power-drain cured")).splitlines()[1:] == text(reply).splitlines()[1:]


def test_whatif_shows_a_danger_beforehand():
    """A yes to the question about smoke and smell."""
    assert "STOP" in text(say(begun(), "whatif yes"))


def test_why_says_what_each_way_out_would_mean():
    """For a question and for a check."""
    assert "likely): then" in text(say(begun(), "why"))
    why = text(say(after(begun(), "check power-drain"), "why"))
    assert "bits" in why
    assert [why.count(outcome) for outcome in ("no change", "it starts after the drain")] == [1, 1]


@pytest.mark.parametrize("command", ["causes", "checks", "parts", "stuck", "plan", "hazards", "summary", "letter"])
def test_looking_enters_nothing(command):
    """And says something."""
    reply = say(begun(), command)
    assert reply.consultation.log == begun().log
    assert text(reply).strip()


def test_summary_fits_the_width():
    """At 60 columns no line is longer."""
    lines = say(replace(begun(), width=60), "summary").say
    assert max(len(line.text) for line in lines) <= 60


def test_any_number_of_steps_back_and_forth():
    """Three back, three forth: the same case; never behind the message."""
    now = after(begun(), "no", "bench", "done power-drain no-change")
    back = after(now, "undo 3")
    assert back.case == begun().case
    assert after(back, "redo 3").case == now.case
    assert text(say(back, "undo")) == NOTHING_BACK
    assert text(say(now, "redo")) == NOTHING_AGAIN
    assert "Full power drain" in text(say(now, "undo"))


def test_a_new_answer_drops_what_could_be_redone():
    """As in any editor."""
    now = after(begun(), "no", "undo", "yes")
    assert text(say(now, "redo")) == NOTHING_AGAIN


def test_the_danger_question_is_asked_before_the_others():
    """A no to each: only then what is worth asking for the repair."""
    assert begun().question.guards


def test_help_lists_every_command_and_gives_examples_that_work():
    """Each example is taken without complaint by a fresh case, one that tells much."""
    now = begun(f"{LEAD} My lamp works in the same outlet. No burning smell. It was cleaned just before.")
    listed = text(say(now, "help"))
    assert [name for name in COMMANDS if f"\n{name:11}" not in listed] == []
    for name, command in COMMANDS.items():
        if command.example:
            assert command.example in text(say(now, f"help {name}"))
            reply = say(now, f"{name} {command.example}")
            assert reply.say or reply.save_to or reply.consultation != now


def test_completion_offers_what_fits():
    """Commands, checks, their outcomes, quantities and units, things, parts."""
    now = begun()
    assert complete(now, "wha") == ("whatif",)
    assert "power-drain" in complete(now, "done power")
    assert complete(now, "done power-drain ") == ("cured", "no-change")
    assert complete(now, "measure rail-12v 11.9 ") == ("V",)
    assert "spare-supply" in complete(now, "have spare")
    assert complete(now, "swap memory other-machine ") == ("works", "fails")
    assert complete(now, "note the owner ") == ()
    assert "yes" in complete(now, "")


def test_names_are_found_as_people_type_them():
    """Short names of parts, words in part, slips; what may mean two things is asked about."""
    base = begun().base
    things = things_of(base)
    assert find("spare psu", things, base, "thing") == "spare-supply"
    assert find("multimetr", things, base, "thing") == "multimeter"
    assert find("spare gpu" if "gpu" in things else "spare graphics", things, base, "thing") == "spare-graphics-card"
    with pytest.raises(CallError, match="may be"):
        find("spare", things, base, "thing")


def test_the_bar_fits_any_width_and_names_the_danger_first():
    """Cut, never wrapped."""
    now = after(begun(), SMOKE, "unplugged at the wall")
    for width in (20, 40, 60, 80, 200):
        line, style = bar(replace(now, width=width))
        assert len(line) < width
        assert (line.startswith("! fire"), style) == (True, "danger")
    assert bar(opened(DEAD))[0].startswith("fails at")


def test_no_reason_is_given_twice():
    """A finding that names a part holds with it and without it; its words stand once below a rule."""
    now = begun("I put a new graphics card in. Now it starts and stops again after a second, over and over.")
    for cause in now.assessment.belief.causes:
        blocks = re.split(r"\n(?=[+-] )", text(say(now, f"how {cause.id}")))
        for block in blocks:
            lines = block.splitlines()
            assert len(lines) == len(set(lines)), block


def test_why_speaks_of_what_stands_on_the_screen():
    """While the list is corrected nothing is asked; what if goes by the question that is shown."""
    assert "likely): then" not in text(say(opened(DEAD), "why"))
    now = begun()
    assert now.question.text in text(say(now, "whatif no"))
    now = begun("It shuts off when I play. No smell, no shock, no breaker tripped, it is dry, no fan stands.")
    while now.question and not choices_of(now, now.question_record(now.question).asks):
        now = after(now, "skip")
    assert now.step == "question"
    assert text(say(now, "whatif a")).startswith("if a to “")
    assert say(now, "whatif a").consultation.log == now.log


def test_a_word_that_takes_nothing_is_no_command_in_a_sentence():
    """'why' asked with a story behind it tells the story; with words that say nothing it is refused."""
    told = after(begun(), "why is it that the fans spin now but no picture comes")
    assert {finding.id for finding in told.case.findings} >= {"fans-spin", "picture"}
    with pytest.raises(CallError, match="nothing goes after"):
        say(begun(), "causes please")
