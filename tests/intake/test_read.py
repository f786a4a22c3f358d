"""The whole reading: quotes, odd input, other languages, and what must never change it."""

import subprocess
import sys
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake import read_complaint
from intake.clean import check
from knowledge.errors import MessageError
from tests.intake.small import BASE

SENTENCES = (
    "No fans, lights or beeps.",
    "Fans spin without any beeps.",
    "It used to crash.",
    "Could it be the psu?",
    "I can not rule out smoke.",
    "Swapped the lead, no change.",
    "My other pc beeps.",
    "It won't turn on.",
    "the moniter is black",
    "smoke: no",
    "screen dark but the light is on",
)
UNRELATED = (
    "We have two cats and a garden.",
    "My aunt came over on Sunday.",
    "The weather has been lovely this week.",
    "Please write back when you have a moment.",
    "I am free on Thursday afternoon.",
)

messages = st.lists(st.sampled_from(SENTENCES), min_size=1, max_size=5).map(" ".join)
whole_sentences = st.lists(st.sampled_from([f"{said.rstrip('.?')}." for said in SENTENCES]), min_size=1, max_size=5)
pieces = st.one_of(
    st.text(max_size=12),
    st.sampled_from(SENTENCES),
    st.sampled_from(
        ["\x1b[1m", "\u200b", "\u202e", "<b>", "&nbsp;", "\n> ", "\n-- \n", "â€™", "no", "not", "fans", ",", "?", "🔥"]
    ),
)
odd = st.lists(pieces, min_size=1, max_size=12).map("".join)


def _said(message):
    return {(found.id, found.state, found.certainty, found.detail) for found in read_complaint(message, BASE).told}


@given(odd)
@settings(max_examples=200, deadline=None)
def test_no_input_crashes_and_every_quote_is_a_slice(message):
    """Anything gives a reading, or one clear error."""
    reading = _reading_or_none(message)
    if reading is None:
        return
    assert reading.message == message
    assert reading.characters == len(message)
    for found in reading.told:
        assert found.quote == message[found.start : found.end]
        assert found.quote.strip()
    assert all(0 <= edge.modifier_start <= edge.modifier_end <= len(message) for edge in reading.edges)


def _reading_or_none(message):
    """The reading, or None where the message is refused for the reasons that `check` has: blank or binary."""
    try:
        check(message)
    except MessageError:
        with pytest.raises(MessageError):
            read_complaint(message, BASE)
        return None
    return read_complaint(message, BASE)


@given(whole_sentences.map(" ".join), st.sampled_from(UNRELATED), st.booleans())
@settings(max_examples=150, deadline=None)
def test_an_unrelated_sentence_changes_no_finding(message, unrelated, before):
    """Before or after: what the rest says stays as it was."""
    whole = f"{unrelated} {message}" if before else f"{message} {unrelated}"
    assert _said(whole) == _said(message)


@given(messages)
@settings(max_examples=50, deadline=None)
def test_capitals_say_the_same(message):
    """Shouting changes nothing."""
    assert _said(message.upper()) == _said(message)


def test_reading_takes_linear_time():
    """Four times the message, far less than sixteen times the time; both in this run."""
    unit = "it wont turn on no fans no lights i swapped the lead no change the screen is dark\n"

    def seconds(times):
        start = time.process_time()
        read_complaint(unit * times, BASE)
        return time.process_time() - start

    seconds(10)
    assert min(seconds(400) for _ in range(3)) < 10 * min(seconds(100) for _ in range(3))


@pytest.mark.parametrize(
    ("message", "language", "found"),
    [
        ("Mein Computer startet nicht mehr und es gibt smoke.", "other", {"smoke"}),
        ("Mi ordenador no enciende y la pantalla es negra, beep beep.", "other", set()),
        ("Компьютер не включается, beep", "other", set()),
        ("My computer does not beep and the screen is black.", "en", {"beeps", "picture"}),
        ("dead pc no beep", "en", {"beeps"}),
    ],
)
def test_another_language_raises_certain_dangers_only(message, language, found):
    """Said so, and not guessed at."""
    reading = read_complaint(message, BASE)
    assert reading.language == language
    assert {finding.id for finding in reading.told} == found


@pytest.mark.parametrize("message", ["", "  ", "\0\1\2", "x" * 200_001])
def test_what_cannot_be_read_is_refused(message):
    """With the error of the tree."""
    with pytest.raises(MessageError):
        read_complaint(message, BASE)


def test_one_very_long_message_without_any_mark():
    """20,000 words and no punctuation."""
    reading = read_complaint("it beeps " + "and so on " * 6_660, BASE)
    assert [finding.id for finding in reading.told] == ["beeps"]


def test_spacy_is_loaded_only_when_a_message_is_read():
    """Commands that read no message do not pay for it."""
    code = "import sys, intake; sys.exit('spacy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_quoted_mail_does_not_count():
    """The reply counts, not the older text."""
    assert _said("No beeps.\n> Is there smoke? It beeps, you said.") == {("beeps", "absent", "stated", None)}
