"""What a hostile world hands in, made by chance: case files, packs and queues; it is read or refused, no more."""

import json
import tempfile
from contextlib import suppress
from io import BytesIO, StringIO, TextIOWrapper
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from expert.case import NoteEntry
from expert.first_pass import expert_of, message_entry
from expert.portable import read_case_file, write_case
from expert.queue import output, sources, table  # noqa: F401  # before a test gives up the right to read them
from expert.queue.records import Keys, read_csv, read_json_lines
from expert.report.gather import report_of
from expert.report.letter import letter_of, write_letter
from expert.report.markdown import write_markdown
from expert.report.page import write_page
from expert.store import Stamped
from knowledge import shipped_base
from knowledge.errors import CallError, CaseError, KnowledgeError
from knowledge.load import SECTIONS, load

DEMO = Path(__file__).parent.parent / "corpus" / "demo" / "dusted-out.txt"
AT = "2026-03-01T09:00:00Z"
TEXTS = ["", "psu", "psu-failed", "fire", "dead", "no-such-thing", "\x1b[31m\u202e<b>", "x" * 3000, "12 V", "undo"]
NUMBERS = [0, -1, 10**18, 10**30, 1e308, -0.0, 0.5, True, None]
POOL = st.sampled_from([*TEXTS, *NUMBERS, [], ["a"], {}, {"a": 1}])
LOG = [
    Stamped(AT, message_entry(DEMO.read_text("utf-8"), shipped_base())),
    Stamped(AT, NoteEntry(words="unplugged", hazard="fire")),
]


def _places(value, at=()):
    """Give the way to every value within a JSON value."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, each in inner:
        yield (*at, key)
        yield from _places(each, (*at, key))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 10**6), POOL), min_size=1, max_size=3))
def test_a_case_file_with_other_values_in_it_is_reported_or_refused(changes):
    """A report, a page and a letter; or a `CaseError`."""
    case = json.loads(write_case(LOG, "green tower", 1))
    for number, value in changes:
        places = list(_places(case))
        *way, last = places[number % len(places)]
        inner = case
        for key in way:
            inner = inner[key]
        inner[last] = json.loads(json.dumps(value))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "a.case.json")
        path.write_text(json.dumps(case))
        try:
            stamped = read_case_file(path).stamped
        except CaseError:
            return
    report = report_of(shipped_base(), stamped, expert_of(shipped_base()))
    assert "\x1b" not in write_markdown(report) + write_page(report) + write_letter(letter_of(report, "first"))


SCALARS = ['"x"', '""', "1", "-1", "nan", "inf", "true", "2026-01-01", '"dead"', '"common practice"', '"(a+)+$"']
NESTED = ["[]", "{}", "[[]]", '["a", 1]', '["{nope}"]', '[{ finding = "dead" }]', '[{ exclude = "psu-failed" }]']
ITEMS = st.sampled_from(SCALARS + NESTED)
KEYS = st.sampled_from(sorted({name for _, record in SECTIONS.values() for name in record.model_fields} | {"replaces"}))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(sorted(SECTIONS)), st.dictionaries(KEYS, ITEMS, max_size=6)), max_size=4))
def test_a_pack_of_wrong_types_is_loaded_or_refused(records):
    """Every kind of record, with any key of any other kind and a value of any type."""
    text = "".join(
        f"[[{section}]]\n" + "".join(f"{key} = {value}\n" for key, value in fields.items())
        for section, fields in records
    )
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "a.toml").write_text(text)
        with suppress(KnowledgeError):
            assert load([Path(folder)])


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.dictionaries(st.sampled_from(["id", "text", "owner", "x"]), VALUES, max_size=4) | VALUES, max_size=5)
)
def test_every_record_of_a_queue_is_a_complaint_or_says_what_is_wrong(records):
    """One for each line, in order; what is read is text that can be written again."""
    lines = "".join(json.dumps(record) + "\n" for record in records)
    complaints = list(read_json_lines(StringIO(lines), Keys(owner="owner")))
    assert len(complaints) == len(records)
    for complaint in complaints:
        assert complaint.fault or complaint.text.encode("utf-8") == complaint.text.encode("utf-8", "surrogatepass")
        assert len(complaint.fault.splitlines()) <= 1


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200), st.sampled_from([b"id,text\n", b"text;id\n", b"id\ttext\n", b""]))
def test_any_bytes_below_a_heading_are_rows_or_refused(content, heading):
    """A table of anything."""
    stream = TextIOWrapper(BytesIO(heading + content), "utf-8-sig", "surrogateescape", newline="")
    try:
        complaints = list(read_csv(stream, Keys(), "a.csv"))
    except CallError:
        return
    assert [c for c in complaints if not c.fault and c.text.encode("utf-8", "replace").decode("utf-8") != c.text] == []
