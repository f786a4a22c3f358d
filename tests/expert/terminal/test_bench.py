"""Work at the bench: outcomes by letter, readings, swaps, hands, parts; what a hazard locks stays locked.

The limits of the coin cell and of the +12 V rail are those of the base; a full cell of the usual size has 3 V (IEC
60086-2, CR2032), the +12 V rail 11.40 to 12.60 V (ATX12V design guide 2.x, table 2).
"""

import re
from dataclasses import replace

import pytest

from expert.case import CloseEntry, HandEntry, MeasureEntry, OutcomeEntry, PartEntry
from expert.elimination import eliminate
from expert.terminal.answers import listed
from expert.terminal.bench import lifts
from expert.terminal.consultation import ON_BENCH
from expert.terminal.screen import show_step
from knowledge.errors import CallError
from tests.expert.terminal.talk import SMOKE, after, begun, say, states, text

BARE = "My tower is dead: no fans, no lights. Nobody felt a shock, no burning smell, no breaker tripped, it is dry."


def test_on_the_bench_a_check_is_proposed_with_lettered_outcomes():
    """Precautions come before the doing, and the last line says what can be typed."""
    now = after(begun(BARE), "bench", "skip", "skip", "skip", "skip")
    while now.step == "question":
        now = after(now, "skip")
    shown = [said.text.strip() for said in show_step(now)]
    record = now.check_record(now.check.id)
    assert now.step == "check"
    assert [line for line in shown if line[:2] in ("a)", "b)")] == [
        f"a) {record.outcomes[0].title}",
        f"b) {record.outcomes[1].title}",
    ]
    assert all(f"! {precaution}" in shown for precaution in record.precautions)
    assert shown.index(record.how) > max((shown.index(f"! {p}") for p in record.precautions), default=0)


@pytest.mark.parametrize("typed", ["b", "B)", "no-change", "no change", "No change"])
def test_an_outcome_is_its_letter_its_id_or_its_words(typed):
    """All mean the same entry."""
    now = after(begun(BARE), "check power-drain", typed)
    assert now.log[-1] == OutcomeEntry(check="power-drain", outcome="no-change")


def test_done_enters_any_check():
    """With the id of the check and the outcome."""
    assert after(begun(BARE), "done power-drain b").log[-1] == OutcomeEntry(check="power-drain", outcome="no-change")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("done", "say which check"),
        ("done power-drain", "cured, no-change"),
        ("done power-drain exploded", "cured, no-change"),
        ("done tea-break cured", "no check 'tea-break'"),
        ("measure", "no quantity"),
        ("measure coin-cell", "give the reading in V"),
        ("measure coin-cell blue", "not one|cannot take"),
        ("seen fairies yes", "no finding 'fairies'"),
        ("seen fans-spin maybe", "say yes or no"),
        ("swap memory", "say the part, where"),
        ("swap memory elsewhere cured", "two meanings"),
        ("swap fairies other-machine works", "no part 'fairies'"),
        ("swap ports other-machine works", "no such swap test for ports"),
        ("have fairy dust", "no tool or spare 'fairy dust'"),
        ("part", ""),
        ("part something nice", "could not read a part"),
        ("note", "write the note"),
        ("undo many", "how many steps"),
        ("save", "say where to"),
        ("whatif", "say what to suppose"),
        ("how fairies", "no cause or raised hazard"),
        ("letter poem", "no letter 'poem'"),
        ("help xyzzy", "no command 'xyzzy'"),
    ],
)
def test_a_command_that_does_not_fit_says_what_to_type(line, words):
    """One clear line; nothing is entered."""
    now = begun(BARE)
    if not words:
        assert after(now, line).log == now.log
        return
    with pytest.raises(CallError, match=words) as caught:
        say(now, line)
    assert "\n" not in str(caught.value)


def test_a_reading_is_judged_and_entered():
    """11.9 V is good on the +12 V rail; 10.5 V is not, even at the declared peak load (10.80 V, note 1)."""
    now = begun(BARE)
    good, bad = after(now, "measure rail-12v 11.9 V").log[-1], after(now, "measure rail-12v 10,5").log[-1]
    assert isinstance(good, MeasureEntry)
    assert isinstance(bad, MeasureEntry)
    assert (good.value, good.state, bad.value, bad.state) == (11.9, "present", 10.5, "absent")


def test_a_reading_that_cannot_be_is_asked_about():
    """119 V on a 12 V rail: a decimal point lost; nothing is entered."""
    reply = say(begun(BARE), "measure rail-12v 119 V")
    assert reply.consultation.log == begun(BARE).log
    assert "?" in text(reply)


def test_where_a_check_is_about_one_reading_the_reading_answers_it():
    """The coin cell by meter: 3.0 V typed alone."""
    now = after(begun(BARE), "check coin-cell-by-meter", "3.0 V")
    assert states(now)["coin-cell-good"] == "present"
    assert "reading in V" in show_step(after(begun(BARE), "check coin-cell-by-meter"))[-1].text


def test_a_swap_clears_or_convicts_the_part():
    """Their memory runs in the good machine: it is cleared; it fails there: it is convicted."""
    for result, verdict in (("works", "cleared"), ("fails", "convicted")):
        now = after(begun(BARE), f"swap memory other-machine {result}")
        known = eliminate(now.base, now.assessment.belief, now.assessment.firings)
        assert next(part.status for part in known.parts if part.part == "memory") == verdict


def test_a_good_part_in_this_machine_is_the_other_swap():
    """No change with the good card: the old one was not it."""
    assert after(begun(BARE), "swap graphics card known-good no-change").log[-1] == OutcomeEntry(
        check="known-good-card", outcome="no-change"
    )


def test_hands_add_up():
    """At first every tool; spares are added, a tool taken off, or all told anew."""
    now = after(begun(BARE), "have spare psu, good bench")
    added = now.log[-1]
    assert isinstance(added, HandEntry)
    assert {"spare-supply", "known-good-bench", "multimeter", "torch"} <= set(added.have)
    assert "multimeter" not in after(now, "have no multimeter").case.have
    assert after(now, "have only torch and multimeter").case.have == ("multimeter", "torch")
    assert "spare supply" in text(say(now, "have"))


def test_a_part_is_told_in_the_words_of_a_message():
    """Kind and rating are read from the words."""
    entry = after(begun(BARE), "part psu 450 W sfx").log[-1]
    assert isinstance(entry, PartEntry)
    assert (entry.named.part, entry.named.facts["watts"], entry.named.start) == ("psu", 450, None)


def test_bench_is_kept_in_the_log():
    """A resumed case knows that the machine is here."""
    now = after(begun(BARE), "bench")
    assert now.on_bench
    assert now.case.notes[-1].words == ON_BENCH
    assert not after(now, "undo").on_bench


def test_a_check_that_was_passed_over_gives_way():
    """Another one is proposed; the first is still listed."""
    now = after(begun(BARE), "check power-drain")
    passed = after(now, "skip")
    assert passed.check is None or passed.check.id != "power-drain"
    assert any(said.text.startswith("power-drain:") for said in say(passed, "checks").say)


# ---- danger ----


def test_a_stop_hazard_comes_before_everything():
    """Also before the correction of the list; the next line is what was done about it."""
    now = after(begun(), SMOKE)
    assert now.step == "danger"
    assert show_step(now)[0].text.startswith("! STOP")
    answered = after(now, "have unplugged it at the wall, owner told to leave it")
    assert answered.step != "danger"
    assert answered.log[-1].hazard == now.unanswered[0].hazard.id


@pytest.mark.parametrize("line", ["yes", "ok", "?", "done", "no.", "plan", "checks", "done power-drain cured"])
def test_a_mere_word_is_no_account_of_what_was_done(line):
    """Nor is another command."""
    now = after(begun(), SMOKE)
    with pytest.raises(CallError, match=r"say (first )?what was done"):
        say(now, line)


def test_what_a_hazard_locks_cannot_be_entered_by_any_way():
    """Neither by the list, nor by `done`, nor by `swap`, nor as a sentence that begins like a call."""
    now = after(begun(), SMOKE, "unplugged at the wall")
    locked = [plan.id for plan in now.assessment.checks if plan.locked_by == "fire"]
    assert "other-mains-lead" in [check.id for check in now.base.checks if "energise" in check.risks]
    assert locked
    for line in (f"done {locked[0]} a", f"check {locked[0]}", "done supply-alone runs", "swap psu known-good cured"):
        with pytest.raises(CallError, match=r"locked \(smoke, flames"):
            say(now, line)
    assert now.check is None or now.check.id not in locked


def test_undo_across_the_danger_asks_again():
    """The account is taken back: the danger stands on the screen; the smoke is taken back: it does not."""
    now = after(begun(), "It smokes and there was a burning smell", "unplugged at the wall")
    again = after(now, "undo")
    assert again.step == "danger"
    while again.can_undo() and again.unanswered:
        again = after(again, "undo")
    assert again.log != begun().log
    assert again.case == begun().case
    assert after(again, "redo 9").case == now.case


def test_a_danger_that_was_misread_can_be_struck_out():
    """The list is open while the danger stands."""
    now = after(begun(), "there was smoke")
    reply = say(now, "understood")
    assert re.search(r"\d+ there was smoke", text(reply))
    assert reply.consultation.step == "danger"
    place = [told.id for told in now.case.findings].index("smoke") + 1
    assert after(now, f"understood -{place}").step != "danger"


def test_a_hazard_says_what_lifts_it():
    """What to type is typed: the hazard is gone."""
    now = after(begun(), SMOKE, "unplugged at the wall")
    (way,) = lifts(now, "fire")
    assert f"to say so: {way}" in text(say(now, "hazards"))
    assert "fire" in {raised.hazard.id for raised in now.assessment.hazards}
    assert "fire" not in {raised.hazard.id for raised in after(now, way).assessment.hazards}


def test_no_text_of_ours_opens_a_supply():
    """The plan for a convicted supply refuses it."""
    now = after(begun(BARE), "swap psu known-good cured")
    assert "inside the supply" in text(say(now, "plan"))


@pytest.mark.parametrize(
    "line",
    [
        "x",
        "pulled it",
        "ok ok ok",
        "yes yes, all done",
        "done it",
        "x y z",
        "have spare psu, known-good bench",
        "part psu 450 W",
    ],
)
def test_an_account_takes_a_few_words_and_no_call(line):
    """It is said what is asked for."""
    with pytest.raises(CallError, match=r"say (first )?what was done"):
        say(after(begun(), SMOKE), line)


def test_an_empty_line_is_no_account():
    """The danger stays, and what is asked for stands below it."""
    now = after(begun(), SMOKE, "")
    assert now.step == "danger"
    assert "what was done" in show_step(now)[-1].text


@pytest.mark.parametrize(
    "line",
    ["pulled the plug", "leave it unplugged, owner told", "quit using it, owner told", "bench supply pulled out"],
)
def test_an_account_may_begin_like_a_command(line):
    """A word that takes nothing is no command where words follow it."""
    reply = say(after(begun(), SMOKE), line)
    assert not reply.leave
    assert reply.consultation.case.notes[-1].words == line
    assert not reply.consultation.unanswered


def test_a_danger_that_comes_up_again_is_asked_about_again():
    """By another finding, by the same once more, or when what lifted it turns out not to hold; else not."""
    settled = after(begun(), "there was a burning smell", "unplugged at the wall")
    assert after(settled, "note the owner calls at six", "no", "the fans spin").step != "danger"
    for line in ("smoke came out of the back", "there was a burning smell again"):
        again = after(settled, line)
        assert again.step == "danger"
        assert after(again, "pulled the plug once more").step != "danger"
    lifted = after(settled, "seen burnt-part-replaced yes")
    assert "fire" not in {raised.hazard.id for raised in lifted.assessment.hazards}
    assert after(lifted, "seen burnt-part-replaced no").step == "danger"
    (place,) = (n for n, told in enumerate(listed(lifted), start=1) if told.id == "burnt-part-replaced")
    assert after(lifted, f"understood {place}").step == "danger"


def test_undo_across_a_second_danger_goes_back_to_the_first_account():
    """The later smoke and its account are taken back: the first account holds again; redo asks again."""
    settled = after(begun(), "there was a burning smell", "unplugged at the wall")
    twice = after(settled, "smoke came out of the back", "pulled the plug once more")
    assert after(twice, "undo").step == "danger"
    back = after(twice, "undo", "undo")
    assert (back.step, back.case) == (settled.step, settled.case)
    assert after(back, "redo").step == "danger"


# ---- closed ----


def closed():
    """Give a case that was closed with a cause found."""
    return begun().with_entries(CloseEntry(cause="psu-lead-loose", words="pressed home"))


def test_a_closed_case_proposes_nothing_and_offers_to_go_on():
    """What was found is said; it can be looked at and noted on."""
    now = closed()
    shown = "\n".join(line.text for line in show_step(now))
    assert now.step == "closed"
    assert "It is closed: board's main power lead" in shown
    assert "reopen" in shown
    assert "Do this" not in shown
    assert text(say(now, "why")) == "Nothing is being asked."
    for line in ("summary", "plan", "letter", "parts"):
        assert after(now, line).log == now.log
    assert after(now, "note fetched on Friday").step == "closed"


@pytest.mark.parametrize("line", ["it smokes", "done power-drain cured", "have spare psu", "measure coin-cell 3.0 V"])
def test_nothing_is_entered_into_a_closed_case(line):
    """Before it is opened again."""
    with pytest.raises(CallError, match="type 'reopen'"):
        say(closed(), line)


def test_a_reopened_case_goes_on_where_it_was():
    """With the question that was next; an undo of the closing does the same."""
    again = after(closed(), "reopen")
    assert (again.step, again.question) == (begun().step, begun().question)
    assert after(closed(), "undo").case == begun().case
    with pytest.raises(CallError, match="is open"):
        say(again, "reopen")


def test_a_danger_in_a_case_closed_in_the_meantime_waits_for_the_reopening():
    """It is named while the case is closed, and asked about when it is open."""
    now = after(begun(), SMOKE).with_entries(CloseEntry())
    assert "smoke, flames" in "\n".join(line.text for line in show_step(now))
    assert after(now, "reopen").step == "danger"


# ---- names ----


def test_what_a_check_needs_is_named_in_words():
    """No id among tools and spares: neither where it is proposed, nor in the list, nor where a separator is missing."""
    now = begun(BARE)
    ids = {item for record in now.base.checks for item in (*record.tools, *record.spares) if "-" in item}
    named = 0
    for record in now.base.checks:
        chosen = replace(now, chosen=record.id)
        needs = [line.text for line in show_step(chosen) if line.text.startswith("  needs ")] if chosen.check else []
        named += sum(any(item.replace("-", " ") in line for item in ids) for line in needs)
        assert [line for line in needs if any(item in line for item in ids)] == []
    assert named
    lists = text(say(now, "checks")) + text(say(now, "stuck"))
    assert [item for item in ids if f"needs {item}" in lists or f", {item}" in lists] == []


def test_only_the_proposed_check_has_letters():
    """Another one that is looked at is entered by name, so that no letter is taken for the wrong check."""
    now = after(begun(BARE), "have only torch", "check power-drain")
    offered = {plan.id for plan in now.assessment.checks}
    record = next(r for r in now.base.checks if r.id not in offered and not now.lock_of(r))
    reply = say(now, f"check {record.id}")
    assert record.how in text(reply)
    assert not re.search(r"^  [a-z]\) ", text(reply), re.MULTILINE)
    assert f"done {record.id} {record.outcomes[0].id} | " in text(reply)
    assert reply.consultation.check.id == "power-drain"
