"""Personal data: found, counted, blanked without moving anything."""

import pytest

from intake import read_complaint
from intake.redact import BLANK, private_spans, redact
from tests.intake.small import BASE


@pytest.mark.parametrize(
    ("message", "private"),
    [
        ("write to ann.lee+pc@example.org please", ["ann.lee+pc@example.org"]),  # RFC 2606: reserved for examples
        ("call 01632 960 123 or +44 1632 960124", ["01632 960 123", "+44 1632 960124"]),  # Ofcom's range for fiction
        ("call (555) 010-0199 now, 555-555-0123", ["(555) 010-0199", "555-555-0123"]),
        ("order no. 24-0317 and ticket #A1234", ["24-0317", "#A1234"]),
        ("I live at 12 Mill Lane, Oakham ZZ9 9ZZ.", ["12 Mill Lane, Oakham ZZ9 9ZZ"]),
        ("Dear Mr Osei,\nno fans", ["Mr Osei"]),
        ("Hi Bea, no fans", ["Bea"]),
        ("No fans.\nKind regards,\nKirsten Lund", ["Kirsten Lund"]),
        ("No fans. Thanks, Ann", ["Ann"]),
        ("No fans spin.\n\nNoor A", ["Noor A"]),
        ("my name is Fenna Hoekstra and it beeps", ["Fenna Hoekstra"]),
        ("it beeps, my name's wim, thanks", ["wim"]),
        ("Hey, Jonas here. No fans.", ["Jonas"]),
        ("No fans. Ask for Mr Osei", ["Mr Osei"]),
        ("No fans.\nGreetings, Bela", ["Bela"]),
        ("My name is on the case. Hi, Nothing here works.", []),
        ("I ask for help", []),
        ("No fans spin.\n\nNo lights", []),
        ("Hi all, no fans", []),
        ("Hello there, it beeps", []),
        ("Hi, No fans spin", []),
        ("Thanks, no fans though", []),
        ("a 650 W supply, 3.3 V, 0x0000007E, 2x16 GB, 3200 MHz, 2024-11-25", []),
        ("in order to start it in 2019", []),
        ("code 55 and 12345 hours", []),
    ],
)
def test_private_data_is_found(message, private):
    """Each kind, and what only looks like it."""
    assert [message[start:end] for start, end, _ in private_spans(message)] == private


def test_redacting_keeps_every_offset():
    """Blanked, the text has its length, and every other word its place."""
    message = "Dear Ann, no fans; call 01632 960 123"
    blanked = redact(message, private_spans(message))
    assert blanked == f"Dear {BLANK * 3}, no fans; call {BLANK * 13}"


def test_redactions_are_counted_and_not_read():
    """A name is no finding."""
    reading = read_complaint("Hi Smoke, it beeps. Write to smoke@example.org", BASE)
    assert reading.redactions == len(reading.private) == 2
    assert [finding.id for finding in reading.told] == ["beeps"]
