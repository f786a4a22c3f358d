"""Hostile and odd text: same length, nothing that a terminal would act on, and one clear line where it is no text."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.clean import check, clean
from intake.thread import own_words
from knowledge.errors import MessageError


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        ("no \x1b[31mfans\x1b[0m", "no      fans    "),
        ("\x1b]0;title\x07smoke", "          smoke"),
        ("smo\u200bke \u202eevil\u202c", "smo ke  evil "),
        ("<b>no</b> fans<br>beep", "   no     fans   \nbeep"),
        ("<script>alert('smoke')</script>fine", " " * 31 + "fine"),
        ("2 < 3 and 5 > 4", "2 < 3 and 5 > 4"),
        ("a\r\nb\rc\td", "a \nb\nc d"),
        ("donâ€™t", "donâ€™t"),
        ("it’s 🔥", "it’s 🔥"),
    ],
)
def test_what_is_not_plain_text_becomes_spaces(message, expected):
    """Control sequences as in ECMA-48, invisible characters as in Unicode's general categories Cc and Cf."""
    assert clean(message) == expected


@given(st.text())
def test_length_stays_and_nothing_unsafe_is_left(message):
    """Whatever comes in."""
    text = clean(message)
    assert len(text) == len(message) == len(own_words(text))
    assert all(character == "\n" or character.isprintable() or ord(character) > 0xA0 for character in text)
    assert "\x1b" not in text


@pytest.mark.parametrize(
    ("message", "said"),
    [
        ("", "the message is empty; give the owner's own words"),
        (" \n\t ", "the message is empty; give the owner's own words"),
        ("PK\x03\x04\x00\x00", "the message is not text (it holds binary data); give the owner's letter as plain text"),
        ("\x01\x02\x03a", "the message is not text (it holds binary data); give the owner's letter as plain text"),
        ("a" * 200_001, "the message has 200,001 characters, more than 200,000; give the owner's letter only"),
    ],
)
def test_a_message_that_cannot_be_read_is_refused(message, said):
    """One line: what is wrong and what to do."""
    with pytest.raises(MessageError) as caught:
        check(message)
    assert str(caught.value) == said


def test_five_megabytes_are_refused_at_once():
    """Refusing costs far less than reading: compared with one pass over the text."""
    message = "no fans " * 655_360
    start = time.process_time()
    message.upper()
    one_pass = time.process_time() - start
    start = time.process_time()
    with pytest.raises(MessageError):
        check(message)
    assert time.process_time() - start < one_pass + 0.05


@pytest.mark.parametrize(
    ("message", "kept"),
    [
        ("No beeps.\n> does it beep?\n> is there smoke?", "No beeps."),
        ("No beeps.\n\nOn Monday Bea wrote:\nis there smoke?", "No beeps."),
        ("On Monday Bea wrote:\n> is there smoke?\nNo beeps.", "No beeps."),
        ("> it beeps\n> and smokes", "it beeps and smokes"),
        ("No beeps.\n-- \nBea\nsmoke-free bakery", "No beeps."),
        ("No beeps -- none at all", "No beeps -- none at all"),
        ("5 > 4 beeps", "5 > 4 beeps"),
    ],
)
def test_only_the_writers_own_words_count(message, kept):
    """The older text of a thread and the signature go, unless there is nothing else (RFC 3676: "-- ")."""
    assert " ".join(own_words(message).split()) == kept
