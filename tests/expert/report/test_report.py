"""The report: it reads back, it hides what is private, and every conclusion in it goes back to something stated."""

import json
import os
import re
import subprocess
import sys
from contextlib import redirect_stdout
from io import StringIO

import jsonschema
import pytest
from hypothesis import given, settings

from expert.case import AnswerEntry, CloseEntry, MeasureEntry, NoteEntry, OutcomeEntry
from expert.cli import main
from expert.portable import write_case
from expert.report.derivation import Reason, Root, reason_of
from expert.report.letter import letter_of, write_letter
from expert.report.markdown import write_markdown
from expert.report.model import CaseReport
from expert.report.page import write_letter_page, write_page, write_sheet_page
from expert.report.sheet import sheet_of, write_sheet
from expert.store import Stamped
from knowledge import shipped_base
from tests.expert.logs import logs
from tests.expert.report.cases import (
    MAIL,
    NAME,
    PHONE,
    WORDS,
    answer,
    attack,
    bench,
    closed,
    danger,
    message,
    report,
)

CASES = pytest.mark.parametrize("case", [bench, danger, closed, attack], ids=lambda case: case.__name__)


def every_format(case: CaseReport) -> dict[str, str]:
    """Give the case in every format."""
    letter, sheet = letter_of(case, "handover" if case.closed else "diagnosis"), sheet_of(case)
    return {
        "md": write_markdown(case),
        "html": write_page(case),
        "json": case.to_json(),
        "letter": write_letter(letter),
        "letter page": write_letter_page(letter),
        "sheet": write_sheet(sheet),
        "sheet page": write_sheet_page(sheet),
    }


@CASES
def test_json_reads_back(case):
    """What was written is the same when it is read."""
    assert CaseReport.from_json(case().to_json()) == case()


@CASES
def test_json_keeps_to_the_published_schema(case, capsys):
    """The schema that the command prints is a sound JSON Schema, and a report keeps to it."""
    assert main(["knowledge", "schema", "report"]) == 0
    schema = json.loads(capsys.readouterr().out)
    checker = jsonschema.Draft202012Validator(schema)
    checker.check_schema(schema)
    assert list(checker.iter_errors(json.loads(case().to_json()))) == []
    assert not checker.is_valid({"schema": "ohmbudsman.report/1"})


@given(log=logs)
@settings(max_examples=30, deadline=None)
def test_a_case_file_keeps_to_the_published_schema(log):
    """The schema of the case file is a sound JSON Schema, and any case that is written keeps to it."""
    with redirect_stdout(StringIO()) as printed:
        assert main(["knowledge", "schema", "case"]) == 0
    schema = json.loads(printed.getvalue())
    checker = jsonschema.Draft202012Validator(schema)
    checker.check_schema(schema)
    written = json.loads(write_case([Stamped("2026-03-14T09:30:00Z", entry) for entry in log], "green tower", 7))
    assert list(checker.iter_errors(written)) == []
    assert not checker.is_valid({**written, "schema": "ohmbudsman.case/0"})
    assert not checker.is_valid({**written, "entries": [{"at": "yesterday", "entry": {"kind": "undo"}}]})


@pytest.mark.parametrize("private", [PHONE, MAIL, NAME])
def test_personal_data_is_in_no_format(private):
    """What the owner's message gives away is blanked there, and its name in the notes of the bench as well."""
    assert private in WORDS
    formats = every_format(closed())
    assert [name for name, text in formats.items() if private in text] == []
    assert "█" in formats["md"]
    assert "█" in formats["html"]


def test_a_name_is_blanked_in_all_that_is_entered_later():
    """In an answer, a note, what was done about a danger, and the last word; a word that only holds it stays."""
    case = report(
        message(),
        answer("smoke", "present", f"{NAME} saw smoke"),
        NoteEntry(words=f"unplugged with {NAME}", hazard="fire"),
        NoteEntry(words=f"{NAME}, and {NAME}line"),
        CloseEntry(words=f"{NAME} was told"),
    )
    blanked = "█" * len(NAME)
    assert next(f.quote for f in case.findings if f.id == "smoke") == f"{blanked} saw smoke"
    assert next(h.done for h in case.hazards if h.id == "fire") == [f"unplugged with {blanked}"]
    assert case.notes[0].words == f"{blanked}, and {NAME}line"
    assert case.closed.words == f"{blanked} was told"


def test_a_name_that_only_the_bench_wrote_stays():
    """Nothing tells it from a word, and whoever wrote it may want it there; the guide says so."""
    assert report(message(), NoteEntry(words="ask Wilhelmina")).notes[0].words == "ask Wilhelmina"


def test_blanking_moves_nothing():
    """The message keeps its length, and each quote stands where it stood."""
    case = bench()
    assert len(case.message.text) == len(WORDS)
    quoted = [(f.quote, case.message.text[f.start : f.end]) for f in case.findings if f.start is not None]
    assert len(quoted) == 5
    assert [pair for pair in quoted if pair[0] != pair[1]] == []


def test_a_last_line_that_tells_something_stays():
    """ "Dead." on a line of its own is no signature where the reading took it for a finding."""
    words = "I pressed the button.\nDead."
    assert report(message(words, (("dead", "present", "Dead"),))).findings[0].quote == "Dead"


def test_a_later_message_takes_the_place_of_the_first():
    """Findings of the first message stay, without a place in the second."""
    case = report(message(), message("It beeps now.", (("beeps", "present", "beeps"),), 0))
    places = {finding.id: finding.start for finding in case.findings}
    assert places["beeps"] == 3
    assert places["cleaned"] is None
    assert [f.told for f in case.findings] == ["message"] * 6


@CASES
def test_every_conclusion_goes_back_to_what_was_stated(case):
    """Each firing ends in findings of this report or in checks that were done."""
    roots = [root for firing in case().trace for root in _roots(reason_of(case(), firing.n))]
    assert roots
    assert [root.words for root in roots if re.fullmatch(r"[a-z0-9-]+([=:/][a-z0-9-]+)+", root.words)] == []


def _roots(reason: Reason | Root) -> list[Root]:
    return [reason] if isinstance(reason, Root) else [root for below in reason.rests_on for root in _roots(below)]


@CASES
def test_every_reason_that_counts_is_in_the_report(case):
    """Grounds of causes, hazards and parts name firings of the trace."""
    numbers = {firing.n for firing in case().trace}
    assert numbers == set(range(1, len(numbers) + 1))
    named = {ground.firing for cause in case().causes for ground in cause.grounds}
    named |= {n for hazard in case().hazards for n in hazard.firings}
    named |= {ground.firing for part in case().parts for ground in part.grounds}
    assert named <= numbers
    assert all(hazard.firings for hazard in case().hazards)


def test_what_was_taken_back_is_not_told():
    """The answer that was undone leaves no trace in the findings and none in the course."""
    case = bench()
    assert "smoke" not in {finding.id for finding in case.findings}
    assert not case.stopped
    assert [moment.kind for moment in case.course.moments] == ["message", "answer", "outcome", "answer", "measure"]


def test_a_reading_stands_beside_its_limits():
    """11.3 V on +12 V: below 11.40 (ATX12V guide 2.0, table 2), above 11.20 (ATX 3.0 guide, table 4-2): doubtful."""
    [line] = bench().measurements
    assert (line.value, line.unit, line.state) == (11.3, "V", "unknown")
    inside = {band.source: band.inside for band in line.bands}
    assert inside["atx12v-2-0 table 2"] is False
    assert inside["atx-3-0-rails table 4-2"] is True


def test_the_course_ends_where_the_ranking_is():
    """The last moment holds the probabilities of the report; a step that told nothing changes nothing."""
    case = bench()
    now = {cause.id: cause.probability for cause in case.causes if cause.status != "excluded"}
    last = case.course.moments[-1]
    assert last.probabilities == pytest.approx([now.get(cause, 0.0) for cause in case.course.causes])
    assert case.course.causes[0] == case.likely[0].id


def test_time_is_the_minutes_of_the_checks_and_the_clock():
    """One check of a minute was done; the first entry was at 9:30, the last at 9:37."""
    assert bench().time.minutes == sum(done.minutes for done in bench().done) == 1
    assert (bench().time.first[11:16], bench().time.last[11:16]) == ("09:30", "09:37")


def test_what_was_done_about_a_hazard_stands_with_it():
    """The note belongs to the hazard, not to the notes."""
    fire = next(hazard for hazard in danger().hazards if hazard.id == "fire")
    assert fire.done == ["unplugged at the wall, put aside with a label"]
    assert danger().notes == []


def test_the_chain_is_whole_and_fails_once():
    """Eight rungs in order: reached below, one failing at the most, the rest above it not reached."""
    for case in (bench(), danger()):
        states = [rung.state for rung in case.stage]
        assert len(states) == 8
        assert states.count("fails") <= 1
        order = ["reached", "unknown", "fails", "beyond"]
        assert states == sorted(states, key=order.index)


PRINT = (
    "import sys; from tests.expert.report.cases import closed;"
    "from tests.expert.report.test_report import every_format;"
    "sys.stdout.write(repr(every_format(closed())))"
)


def test_the_same_log_gives_the_same_bytes_in_every_format():
    """In fresh processes, whatever the hash seed."""
    printed = set()
    for seed in ("0", "1", "random"):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONIOENCODING": "utf-8"}
        done = subprocess.run([sys.executable, "-c", PRINT], env=environment, capture_output=True, check=True)
        printed.add(done.stdout)
    assert printed == {repr(every_format(closed())).encode()}


def test_an_older_case_is_still_reported():
    """What the base no longer has is named by its id, and an empty log is a report as well."""
    gone = [
        AnswerEntry(finding="no-such-sign", state="present", words="yes"),
        OutcomeEntry(check="no-such-check", outcome="good"),
        MeasureEntry(limit="no-such-rail", value=1.0, finding="no-such-sign", state="absent", verdict="low"),
        CloseEntry(cause="no-such-cause", replaced=("no-such-part",)),
    ]
    text = write_markdown(report(message(), *gone))
    assert all(name in text for name in ("no-such-check", "no-such-rail", "no-such-cause", "no-such-part"))
    assert report().findings == []


def test_nothing_that_cannot_be_seen_reaches_a_reader():
    """No escape and no change of the direction of writing in what is shown."""
    for name, text in every_format(attack()).items():
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2066-\u2069]", text), name


def test_while_it_is_unsafe_only_danger_is_asked_about():
    """Whether the firmware was updated has time until nothing smells any more."""
    told = danger()
    base = shipped_base()
    kinds = {finding.id: finding.kind for finding in base.findings}
    asks = {question.id: question.asks for question in base.questions}
    assert told.plan.decision.kind == "make-safe"
    assert told.questions
    assert {kinds[asks[question.id]] for question in told.questions} == {"danger"}
