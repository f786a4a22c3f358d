"""The triage as text: danger first, each reason once."""

import re
from collections import Counter

from expert.assess import Expert
from expert.case import OutcomeEntry, fold
from expert.first_pass import document_of
from expert.report.plain import Page
from expert.report.summary import SHOWN_CAUSES, write_summary
from knowledge import shipped_base
from tests.expert.report.cases import DANGER, message


def _summary(*entries) -> tuple[str, list]:
    base = shipped_base()
    case = fold(entries)
    document = document_of(case, Expert(base).assess(case))
    shown = [cause for cause in document.causes if cause.status != "excluded"][:SHOWN_CAUSES]
    return write_summary(document, case.findings, base, Page(width=100)), shown


def test_each_reason_is_written_once_and_names_its_causes():
    """A rule that speaks for two causes stands once, with both."""
    text, shown = _summary(message())
    text = " ".join(text.split())
    spoken = Counter(
        rule for cause in shown for rule in dict.fromkeys([*cause.rules_for[:3], *cause.rules_against[:2]])
    )
    shared = [rule for rule, count in spoken.items() if count > 1]
    assert shared
    assert [rule for rule in spoken if text.count(f"[{rule}, ") != 1] == []
    rule = shared[0]
    line = text[: text.index(f"[{rule}, ")].rpartition(" - ")[2]
    assert [c.title for c in shown if rule in c.rules_for[:3] and c.title not in line] == []


def test_danger_is_the_first_thing():
    """Before what was understood, and in words."""
    text, _ = _summary(*DANGER)
    assert text.startswith("Danger first")
    assert text.index("STOP") < text.index("What was understood")


CLICKS = (
    ("slow", "present", "it crawls"),
    ("drive-noise", "present", "it clicks"),
    ("smart-warning", "present", "warns"),
)


def _failing(*later) -> str:
    """The summary of a drive that fails, on one line."""
    text, _ = _summary(message("My tower: it crawls, it clicks, it warns.", CLICKS, 0), *later)
    return " ".join(text.split())


def test_nothing_is_printed_as_certain_or_as_nothing():
    """A failing drive leaves the rest with shares that would be printed as 0 %."""
    text = _failing(OutcomeEntry(check="data-copied-first", outcome="errors"))
    assert "over 99 % drive failed" in text
    assert " 100 %" not in text.partition("What to check next")[0]
    assert " 0 %" not in text


def test_the_copy_comes_before_the_checks_until_it_was_made():
    """A drive that fails is copied first; what was tried once is not asked for again."""
    due = "Before any long test, and before anything is replaced: the data copied first."
    assert due in _failing().partition("What to check next")[2]
    assert due not in _failing(OutcomeEntry(check="data-copied-first", outcome="errors"))


def test_a_lock_and_what_is_needed_are_in_words():
    """An id such as "test-stick" or "data-loss" is for those who write rules."""
    text = _failing()
    assert "Locked (the data may be lost): " in text
    assert "needs test stick" in text
    assert "test-stick)" not in text


def test_the_outcome_of_a_check_is_a_reason_with_the_name_of_the_check():
    """ "No change" alone tells nobody what was tried."""
    done = OutcomeEntry(check="press-power-leads-home", outcome="main-lead")
    text, _ = _summary(message(), done)
    assert "power leads pressed home: the main plug was not home" in " ".join(text.split())


def test_a_question_is_asked_once():
    """Several complaints may ask for one finding in the same words."""
    text, _ = _summary(message("My tower: it crawls, it clicks, it warns.", CLICKS, 0))
    asked = re.findall(r"\d+ ([^?]+\?)", " ".join(text.partition("What to ask the owner")[2].split()))
    assert len(asked) > 1
    assert len(asked) == len(set(asked))
