"""The triage as text: danger first, each reason once."""

from collections import Counter

from expert.assess import Expert
from expert.case import fold
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
    return write_summary(document, base, Page(width=100)), shown


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
