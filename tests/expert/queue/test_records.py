"""JSON Lines and CSV into complaints; the examples of RFC 4180, and the standard library as the writer."""

import csv
import io
import json

import pytest

from expert.queue.complaint import Complaint
from expert.queue.records import LONGEST_LINE, Keys, read_csv, read_json_lines
from knowledge.errors import CallError


def _json(content: str, **names: str) -> list[Complaint]:
    return list(read_json_lines(io.StringIO(content), Keys(**names)))


def _csv(content: str, **names: str) -> list[Complaint]:
    return list(read_csv(io.StringIO(content, newline=""), Keys(**names), "queue.csv"))


def test_json_lines_keep_their_order_and_ignore_other_keys_and_blank_lines():
    """An id may be a number; two alike are two complaints."""
    lines = ['{"id": "b", "text": "dead", "colour": [1]}', "", '{"text": "beeps", "id": 7}', '{"id":"b","text":"ü"}']
    assert _json("\n".join(lines)) == [Complaint("b", "dead"), Complaint("7", "beeps"), Complaint("b", "ü")]


@pytest.mark.parametrize(
    ("line", "number", "words"),
    [
        ("dead", "line 1", "not JSON"),
        ('["a"]', "line 1", "not a JSON object"),
        ('{"id": "a"}', "a", "no text"),
        ('{"id": "a", "text": null}', "a", "no text"),
        ('{"id": "a", "text": 3}', "a", "no text"),
        ('{"id": ["a"], "text": "dead"}', "line 1", "give it as a string"),
        ('{"id": true, "text": "dead"}', "line 1", "give it as a string"),
        ('{"id": "a", "text": "\\ud800 dead"}', "a", "not text at character 0"),
        ("[" * 100_000, "line 1", "not JSON"),
        ('{"id": "a", "text": "' + "x" * LONGEST_LINE + '"}', "line 1", "longer than"),
    ],
    ids=range(10),
)
def test_a_bad_line_is_a_complaint_at_fault_and_the_next_one_is_read(line, number, words):
    """One line for one line, whatever is in it."""
    bad, good = _json(f'{line}\n{{"id": "z", "text": "dead"}}\n')
    assert (bad.id, bad.text) == (number, "")
    assert words in bad.fault
    assert good == Complaint("z", "dead")


def test_without_an_id_a_line_is_called_by_its_number():
    """Blank lines count, so that the line can be found."""
    assert _json('\n{"text": "dead"}\n{"id": "", "text": "x"}') == [
        Complaint("line 2", "dead"),
        Complaint("line 3", "x"),
    ]


def test_keys_may_have_other_names_and_owners_are_compared_without_case():
    """The owner is taken only where a key is named for it."""
    line = '{"ticket": "a", "message": "dead", "who": " Ottoline@Post.example ", "id": "x"}'
    assert _json(line, id="ticket", text="message", owner="who") == [Complaint("a", "dead", "ottoline@post.example")]
    assert _json(line, id="ticket", text="message")[0].owner == ""


# RFC 4180, section 2, rules 1, 5, 6 and 7, with a header for the two columns that are asked for.
RFC_4180 = [
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb"], ["zzz", "yyy"]]),
    ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb"], ["zzz", "yyy"]]),
    ('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "b\r\nbb"], ["zzz", "yyy"]]),
    ('"aaa","b""bb","ccc"', [["aaa", 'b"bb']]),
]


@pytest.mark.parametrize(("rows", "fields"), RFC_4180)
def test_the_examples_of_the_csv_standard(rows, fields):
    """RFC 4180: quotes, line ends and doubled quotes in a field."""
    assert _csv(f"id,text,more\r\n{rows}") == [Complaint(*row) for row in fields]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_what_the_standard_library_writes_is_read_back(delimiter):
    """Each of the usual delimiters, columns in another order and in capitals."""
    texts = ["no fans, no lights; dead", 'it says "no signal"\nand\tbeeps', "ü" * 300, "-"]
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet, delimiter=delimiter)
    writer.writerow(["Text", "day", " ID "])
    writer.writerows([text, "mon", str(number)] for number, text in enumerate(texts))
    assert _csv(sheet.getvalue()) == [Complaint(str(number), text) for number, text in enumerate(texts)]


def test_a_short_row_is_at_fault_and_a_row_without_id_is_called_by_its_number():
    """Rows are counted from the first one below the names; blank rows are none."""
    assert [c.id for c in _csv("text\ndead\nbeeps\n")] == ["row 1", "row 2"]
    bad, good = _csv("id,text\na\n\nb,dead\n")
    assert (bad.id, good) == ("a", Complaint("b", "dead"))
    assert "no text" in bad.fault


def test_a_quote_that_is_never_closed_is_at_fault_and_does_not_fill_the_memory():
    """It would swallow the rest of a file of any length."""
    found = _csv('id,text\na,dead\nb,"beeps\n' + f"c,{'x' * 1_000_000}\n" * 5)
    assert found[0] == Complaint("a", "dead")
    assert any("not a row" in complaint.fault for complaint in found[1:])


@pytest.mark.parametrize(
    ("head", "names"), [("a,b", {}), ("", {}), ("id,text", {"owner": "who"}), ("id,text", {"id": "ticket"})]
)
def test_a_column_that_is_not_there_is_named(head, names):
    """The call is wrong then, not the rows."""
    with pytest.raises(CallError, match=r"no column '(text|who|ticket)'"):
        _csv(f"{head}\n1,2\n", **names)


def test_many_lines_are_not_held():
    """The reader gives the first complaint before the second line is there."""

    class Endless(io.StringIO):
        def readline(self, size: int = -1) -> str:
            return json.dumps({"id": "a", "text": "dead"}) + "\n"

    assert next(read_json_lines(Endless(), Keys())) == Complaint("a", "dead")
