"""No message crashes the shipped reading: a reading or a `MessageError`, and quotes that stand where it says."""

from hypothesis import given, settings
from hypothesis import strategies as st
from wordfreq import top_n_list

from intake import read_complaint
from intake.read import reader
from knowledge import shipped_base
from knowledge.errors import MessageError
from tests.intake.test_structure import TABLES

PIECES = [word for rows in TABLES.values() for message, _ in rows for word in message.split()]
CONTROLS = st.characters(categories=["Cc", "Cf", "Co", "Zl", "Zp", "Mn", "So"])
words = st.lists(st.one_of(st.sampled_from(PIECES), st.sampled_from(list("?:,;.-–\n/()=&'\"")), CONTROLS), max_size=30)
anything = st.one_of(st.text(max_size=200), words.map(" ".join), words.map("".join))


@given(anything)
@settings(max_examples=300, deadline=None, derandomize=True)
def test_any_text_is_read_or_refused(message):
    """Control characters, marks without words, words in any order."""
    try:
        reading = read_complaint(message, shipped_base())
    except MessageError:
        return
    assert reading.message == message
    spans = [(found.start, found.end, found.quote) for found in reading.findings]
    assert all(0 <= start < end and message[start:end] == quote for start, end, quote in spans)
    assert all(0 <= edge.start < edge.end <= len(message) for edge in reading.edges)


def test_no_common_word_is_taken_for_a_slip():
    """The 10,000 commonest words of wordfreq (open data, from the web and books) against the shipped vocabulary."""
    lexicon = reader(shipped_base()).tokenizer.lexicon
    common = [word for word in top_n_list("en", 10_000) if word.isalpha() and word.isascii()]
    assert len(common) > 8_000
    assert [word for word in common if "".join(lexicon.mended(word)) != word] == []
