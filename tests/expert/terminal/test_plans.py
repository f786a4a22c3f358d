"""What comes next, as the consultation says it: by one decision, whichever command is typed."""

import pytest

from expert.terminal.screen import show_step
from knowledge.errors import CallError
from tests.expert.terminal.talk import DEAD, SMOKE, after, begun, say, text

CLICKS = "My tower got slow, it freezes, and the hard disk makes a clicking noise. All my photos are on it."
SAFE = "unplugged at the wall, owner told to leave it"


def shown(now):
    """Give what stands before the prompt, in one string."""
    return "\n".join(line.text for line in show_step(now))


def answered(now):
    """Answer no to whatever is asked about danger."""
    while now.step == "question":
        now = after(now, "no")
    return now


def test_after_a_cure_nothing_more_is_asked_or_proposed():
    """The main plug was not home and now it starts: what is left is the list before it goes home."""
    now = after(begun(), "bench", "done press-power-leads-home main-lead")
    assert now.step == "idle"
    assert now.verdict.decision.kind == "mended"
    assert "Nothing is left to replace" in shown(now)
    assert "Before it goes home:" in shown(now)


def test_a_cure_can_be_doubted():
    """If the trouble comes back, a check that is asked for is shown, and entering it opens the search again."""
    now = after(begun(), "bench", "done press-power-leads-home main-lead", "check power-drain")
    assert now.step == "check"
    assert not after(now, "no-change").verdict.decision.is_over


@pytest.mark.parametrize("command", ["plan", "stuck"])
def test_while_a_stop_hazard_stands_nothing_is_replaced(command):
    """Danger comes before every plan, also where no check is open because all are locked."""
    now = after(begun(SMOKE), SAFE, "bench")
    came = text(say(now, command))
    assert "First it is made safe" in came
    assert "replace:" not in came
    assert "stop testing" not in came


@pytest.mark.parametrize("command", ["plan", "stuck"])
def test_plan_and_stuck_say_the_same_next_thing(command):
    """Both word the one decision of the case."""
    assert "Nothing is replaced yet" in text(say(after(begun(DEAD), "bench"), command))


def test_the_copy_of_the_data_is_the_first_check_that_is_proposed():
    """A drive that clicks is copied before anything else, also if no spare drive is told to be on hand."""
    now = answered(after(begun(CLICKS), "bench"))
    assert now.check.id == "data-copied-first"
    assert text(say(now, "checks")).startswith("data-copied-first")
    assert text(say(now, "why")).startswith("Before any long test")
    passed = after(now, "skip")
    assert passed.check.id != "data-copied-first"
    assert "the data copied first" in shown(passed)


def test_once_the_data_is_copied_the_plan_is_said_above_the_check():
    """The decision to replace does not wait to be asked for."""
    now = answered(after(begun(CLICKS), "bench", "done data-copied-first clean", "seen smart-warning yes"))
    assert now.verdict.decision.kind == "replace"
    assert "Replace: drives" in shown(now)


def test_a_lock_is_named_in_words():
    """Whoever reads the list knows no ids."""
    came = text(say(after(begun(CLICKS), "bench"), "checks"))
    assert "locked (the data may be lost)" in came
    assert "locked by" not in came


def test_a_second_danger_tells_what_it_locks_by_itself():
    """The first one is named as the reason for each check; the second locks them as well."""
    now = begun(f"{SMOKE} And the breaker trips each time I plug it in.")
    assert after(now, SAFE).step == "danger"
    assert ": 0 checks" not in shown(after(now, SAFE))


def test_a_check_that_is_not_known_is_met_with_the_likeliest():
    """Some seventy ids would fill the screen; the two or three that look alike help more."""
    with pytest.raises(CallError, match=r"did you mean .*graphics-card-reseated.*\?$") as caught:
        say(after(begun(), "bench"), "check graphics-card-reseat-now")
    assert len(str(caught.value)) < 200


def test_a_mistyped_command_is_named():
    """One letter too many is no reason to read it as a complaint."""
    with pytest.raises(CallError, match="did you mean 'causes'"):
        say(begun(), "causess")
