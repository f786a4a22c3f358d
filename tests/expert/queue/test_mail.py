"""E-mail into complaints, on the messages that the standards print and on mailboxes written by the standard library."""

import io
import mailbox
from email.message import EmailMessage

import pytest

from expert.queue.mail import read_mail, read_mailbox, split_mailbox, text_of_html
from knowledge.errors import CallError

# RFC 5322, appendix A.1.1: "A message from one person to another with simple addressing".
SIMPLE = b"""From: John Doe <jdoe@machine.example>
To: Mary Smith <mary@example.net>
Subject: Saying Hello
Date: Fri, 21 Nov 1997 09:55:06 -0600
Message-ID: <1234@local.machine.example>

This is a message just to say hello.
So, "Hello".
"""

# RFC 2046, section 5.1.1: the simple multipart message, without its prologue.
MULTIPART = b"""From: Nathaniel Borenstein <nsb@bellcore.com>
To: Ned Freed <ned@innosoft.com>
Subject: Sample message
MIME-Version: 1.0
Content-type: multipart/mixed; boundary="simple boundary"

This is the preamble.  It is to be ignored.

--simple boundary

This is implicitly typed plain US-ASCII text.
It does NOT end with a linebreak.
--simple boundary
Content-type: text/plain; charset=us-ascii

This is explicitly typed plain US-ASCII text.
It DOES end with a linebreak.

--simple boundary--

This is the epilogue.  It is also to be ignored.
"""


def test_a_simple_message():
    """RFC 5322 A.1.1: id, owner, and the subject before the body."""
    complaint = read_mail(SIMPLE, "a.eml")
    assert complaint.id == "<1234@local.machine.example>"
    assert complaint.owner == "jdoe@machine.example"
    assert complaint.text == 'Saying Hello\n\nThis is a message just to say hello.\nSo, "Hello".\n'
    assert complaint.fault == ""


def test_of_many_parts_the_first_text_is_read():
    """RFC 2046 5.1.1: preamble and epilogue are ignored; without a Message-ID the name stands in."""
    complaint = read_mail(MULTIPART, "b.eml")
    assert complaint.id == "b.eml"
    assert complaint.text.startswith("Sample message\n\nThis is implicitly typed plain US-ASCII text.")
    assert "preamble" not in complaint.text
    assert "epilogue" not in complaint.text


@pytest.mark.parametrize(
    ("encoded", "shown"),
    [
        ("=?ISO-8859-1?Q?a?=", "a"),
        ("=?ISO-8859-1?Q?a?= b", "a b"),
        ("=?ISO-8859-1?Q?a?= =?ISO-8859-1?Q?b?=", "ab"),
        ("=?ISO-8859-1?Q?a_b?=", "a b"),
        ("=?ISO-8859-1?Q?a?= =?ISO-8859-2?Q?_b?=", "a b"),
    ],
)
def test_encoded_words_of_a_subject(encoded, shown):
    """RFC 2047, section 8: the table of how encoded words are to be displayed."""
    assert read_mail(f"Subject: {encoded}\n\nx\n".encode(), "n").text == f"{shown}\n\nx\n"


def _mail(plain: str | None, markup: str | None = None) -> EmailMessage:
    message = EmailMessage()
    message["From"] = "Ottoline Quill <Quill@Post.example>"
    if plain is not None:
        message.set_content(plain)
    if markup is not None:
        message.add_alternative(markup, subtype="html")
    return message


def test_plain_text_is_preferred_and_html_is_reduced_to_words():
    """Only where there is no plain text, or a blank one, is the HTML part read."""
    markup = "<style>p{}</style><p>No fans &amp; no <b>lights</b>.</p><p>Dead<br>since today</p>"
    assert read_mail(_mail("no fans", markup).as_bytes(), "n").text == "no fans\n"
    for plain in (None, " \n"):
        assert read_mail(_mail(plain, markup).as_bytes(), "n").text == "No fans & no lights.\n\nDead\nsince today"


def test_attachments_are_left_alone():
    """Neither a text file nor anything else that is attached is part of the message."""
    message = _mail("it is dead")
    message.add_attachment("log of a boot\nno fans", filename="boot.txt")
    message.add_attachment(b"\x00\x01", maintype="image", subtype="png", filename="a.png")
    assert read_mail(message.as_bytes(), "n").text == "it is dead\n"


@pytest.mark.parametrize("charset", ["utf-8", "iso-8859-1", "no-such-charset", "us-ascii"])
def test_wrong_charsets_are_tolerated(charset):
    """A mail that says its charset wrongly is still read: "90 °C" in Latin-1 under any name."""
    head = f"Content-Type: text/plain; charset={charset}\nContent-Transfer-Encoding: 8bit\n\n"
    assert read_mail(head.encode() + "it gets to 90 °C".encode("latin-1"), "n").text == "it gets to 90 °C"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00\xff\xfe" * 50,
        b"Content-Type: multipart/mixed; boundary=\n\n--\n--x",
        b"Content-Type: text/plain; charset*0*=\xff''%zz\nFrom: <<>>@\nMessage-ID: <[\n\n",
        b"Content-Type: multipart/alternative; boundary=a\n\n--a\nContent-Type: multipart/mixed; boundary=a\n\n--a",
        b"Content-Type: image/png\nContent-Transfer-Encoding: base64\n\n!!!!",
    ],
)
def test_malformed_mail_is_a_complaint_at_fault_or_odd_words_but_no_error(content):
    """Whatever arrives, one complaint comes of it."""
    complaint = read_mail(content, "odd.eml")
    assert bool(complaint.text) != bool(complaint.fault)
    assert complaint.id


@pytest.mark.parametrize("line_end", [b"\n", b"\r\n"])
def test_a_mailbox_of_the_standard_library_is_cut_where_it_was_joined(line_end, tmp_path):
    """The reference is `mailbox.mbox`: what it wrote comes back, with "From " at the start of a line in the bodies."""
    bodies = ["it is dead\n", "From the start it was loud.\n\nFrom time to time it stops.\n", "\n\nbeeps\n\n"]
    box = mailbox.mbox(tmp_path / "box.mbox")
    for number, body in enumerate(bodies):
        message = _mail(body)
        message["Message-ID"] = f"<{number}@post.example>"
        box.add(message)
    box.close()
    content = (tmp_path / "box.mbox").read_bytes().replace(b"\n", line_end)
    found = list(read_mailbox(io.BytesIO(content), "box"))
    assert [c.id for c in found] == ["<0@post.example>", "<1@post.example>", "<2@post.example>"]
    assert [c.text.strip() for c in found] == [body.strip() for body in bodies]
    assert {c.owner for c in found} == {"quill@post.example"}


def test_a_from_in_the_middle_of_a_paragraph_is_no_separator():
    """RFC 4155: the separator stands at the start or after a blank line."""
    content = (
        b"From a@b Mon Nov 2 10:00:00 2026\n\none\nFrom here on it is dead\n\nFrom c@d Mon Nov 2 10:00:00 2026\n\ntwo\n"
    )
    assert list(split_mailbox(io.BytesIO(content), "box")) == [b"\none\nFrom here on it is dead\n", b"\ntwo\n"]


def test_what_is_no_mailbox_is_refused():
    """One clear line, before anything is read from it."""
    with pytest.raises(CallError, match="not a mailbox"):
        list(read_mailbox(io.BytesIO(b"Dear all,\n\nit is dead\n"), "letter.mbox"))


def test_html_without_end_and_with_scripts():
    """Unclosed and unseen elements; entities are decoded."""
    assert text_of_html("<p>fans &lt;spin&gt;<script>x = '<p>'</script> fast<p>loud") == "fans <spin> fast\nloud"
