"""Codes read by their shape, in sentences of our own."""

from itertools import pairwise
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.codes import codes_in
from knowledge.load import shipped_base
from knowledge.shapes import CodeShape

BASE = shipped_base()


def _read(text: str) -> list[tuple[str, str]]:
    return [(code.finding, code.detail) for code in codes_in(text, BASE)]


@pytest.mark.parametrize(
    ("text", "detail"),
    [
        ("it goes one long two short", "1 long 2 short"),
        ("1 long, 3 short beeps, over and over", "1 long 3 short"),
        ("one long beep and two short ones", "1 long 2 short"),
        ("it plays one looong note and then three short stabs", "1 long 3 short"),
        ("a long beep followed by two short ones", "1 long 2 short"),
        ("long beep, short beep, short beep", "1 long 2 short"),
        ("5 short beeps", "5 short"),
        ("I hear two beeps", "2 beeps"),
        ("3 beeps", "3 beeps"),
        ("beeps three times then pauses", "3 beeps"),
        ("3 beeps pause 3 beeps", "3 beeps"),
        ("beeped at me twice", "2 beeps"),
        ("3 or 4 beeps", "3-4 beeps"),
        ("beep beep beep", "3 beeps"),
        ("BEEP BEEP BEEP... BEEP BEEP BEEP", "3 beeps"),
        ("beeeeeeep beep beep", "1 long 2 short"),
        ("beep code 1-2-2-3", "1-2-2-3"),
        ("1-3-4-1 on the speaker, beeping", "1-3-4-1"),
        ("1 beep, pause, 2 beeps, pause, 2 beeps, pause, 3 beeps", "1-2-2-3"),
        ("beep code 5", "5 beeps"),
        ("one short beep every few seconds", "1 short"),
        ("continuous beeping", "continuous"),
        ("it just beeps non stop", "continuous"),
        ("one long continuous beep", "continuous"),
        ("it won't stop beeping", "continuous"),
    ],
)
def test_a_beep_pattern_is_told_in_figures(text, detail):
    """Whatever the words, the pattern comes out in one form."""
    assert _read(text) == [("beep-code", detail)]


@pytest.mark.parametrize(
    "text",
    [
        "two fans and no beeps",
        "one beep and then it starts",
        "it beeps once, as always",
        "i have 3 kids",
        "open 24/7",
        "two short cables and one long one",
        "a long story, in short",
        "it took a long time",
        "a short circuit and a long day",
        "1-2 weeks, or 3-4 at most",
        "the oven beeps 3 times a day",
        "three lights, two sticks",
        "1-2-2020",
    ],
)
def test_no_beep_pattern(text):
    """Counts of other things, a single beep, long and short things, dates."""
    assert _read(text) == []


@pytest.mark.parametrize(
    ("text", "details"),
    [
        ("code 55", ["55"]),
        ("shows d6", ["D6"]),
        ("q-code 00", ["00"]),
        ("debug display parks on 00", ["00"]),
        ("Two-digit display: 55.", ["55"]),
        ("the display on the board just sits there at a2", ["A2"]),
        ("displays the figures 4F in the small window on the board", ["4F"]),
        ("post code AA", ["AA"]),
        ("stuck at A2", ["A2"]),
        ("code is 15, then 55 and finally 00", ["15", "55", "00"]),
    ],
)
def test_a_checkpoint_is_two_digits_in_capitals(text, details):
    """Two hexadecimal digits where a code, a display or the board's digits are spoken of."""
    assert _read(text) == [("post-code", detail) for detail in details]


@pytest.mark.parametrize(
    "text",
    [
        "error code 55",
        "error 404",
        "exit code 43",
        "discount code 20",
        "my postcode is 55",
        "stuck at 99%",
        "stuck at 30 for ages",
        "the screen says F1 to continue",
        "shows b4 i start it",
        "the display shows 60 fps",
        "code 10 in device manager",
        "it is to be, code or no code",
        "the clock shows 12:55",
    ],
)
def test_no_checkpoint(text):
    """Other codes, keys, shares, rates and words that only look hexadecimal."""
    assert _read(text) == []


@pytest.mark.parametrize(
    ("text", "details"),
    [
        ("blue screen 0x124", ["0x124"]),
        ("it reads 0x0000007b (0xFFFF, 0x0, 0x1)", ["0x7B"]),
        ("WHEA_UNCORRECTABLE_ERROR", ["WHEA_UNCORRECTABLE_ERROR"]),
        ("whea uncorrectable error (0x124)", ["WHEA_UNCORRECTABLE_ERROR"]),
        ("first 0x1a, now 0x50", ["0x1A", "0x50"]),
        ("critical process died", ["CRITICAL_PROCESS_DIED"]),
        ("stop code memory management", ["MEMORY_MANAGEMENT"]),
        ("stop code 7b", ["0x7B"]),
        ("blue screen, HAL_INITIALIZATION_FAILED it says", ["HAL_INITIALIZATION_FAILED"]),
        ("bsod 0xc000021a", ["0xC000021A"]),
    ],
)
def test_a_stop_code_stays_as_it_is_told(text, details):
    """Number or name, not turned into each other, without leading zeros; parameters and repeats are left out."""
    assert _read(text) == [("stop-error", detail) for detail in details]


@pytest.mark.parametrize(
    "text",
    [
        "memory management is my job",
        "the update failed with 0x80070002",
        "at address 0xFFFFF80012345678",
        "PS_ON pulls low, VRM_HOT is quiet",
        "it did not stop 24 hours",
    ],
)
def test_no_stop_code(text):
    """Plain words, update errors, addresses, signal names."""
    assert _read(text) == []


@pytest.mark.parametrize(
    ("text", "details"),
    [
        ("the dram light is orange", ["memory"]),
        ("vga led on", ["graphics"]),
        ("cpu led solid red", ["cpu"]),
        ("a red light next to cpu", ["cpu"]),
        ("the little lamp marked VGA stays lit", ["graphics"]),
        ("one red small light by the word CPU", ["cpu"]),
        ("the boot light is white", ["boot"]),
        ("cpu and dram leds are lit", ["cpu", "memory"]),
    ],
)
def test_a_status_light_is_named_by_what_it_stands_for(text, details):
    """Which light it is, not its colour."""
    assert _read(text) == [("status-led", detail) for detail in details]


@pytest.mark.parametrize(
    "text",
    [
        "the cpu led is off",
        "cpu fan light",
        "my gpu lights up",
        "a light on the front",
        "the hard disk light",
        "no vga led",
    ],
)
def test_no_status_light(text):
    """Lights that are out, or that stand for something else."""
    assert _read(text) == []


@pytest.mark.parametrize(
    ("text", "detail"),
    [
        ("cpu at 97 degrees", "97 °C"),
        ("idle temperature is now 98 °C", "98 °C"),
        ("100 C in setup, then it shuts down", "100 °C"),
        ("hotspot 104", "104 °C"),
        ("cpu idles at 90c", "90 °C"),
    ],
)
def test_a_temperature_from_90_on_is_overheating(text, detail):
    """The value is kept with its unit."""
    assert _read(text) == [("overheats", detail)]


@pytest.mark.parametrize(
    "text",
    [
        "gpu temp 68",
        "cpu at 89 degrees",
        "cpu usage at 97%",
        "turned the board 90 degrees",
        "the kettle reaches 100 °C",
        "the limit is 95 °C",
        "95 fps in the game, and the cpu is cool",
        "temps are 194 F",
    ],
)
def test_no_overheating(text):
    """Below 90, other units, other things, limits."""
    assert _read(text) == []


def test_what_is_said_not_to_be_the_code_is_none():
    """A corrected code neither counts nor denies the right one."""
    assert _read("one long and three short beeps, NOT two short") == [("beep-code", "1 long 3 short")]
    assert _read("it was not 0x124 but 0x50") == [("stop-error", "0x50")]


_PIECES = [
    "one",
    "two",
    "3",
    "long",
    "short",
    "beep",
    "beeps",
    "beeeeep",
    "pause",
    "code",
    "55",
    "d6",
    "0x124",
    "(",
    ")",
    "WHEA_UNCORRECTABLE_ERROR",
    "memory management",
    "dram",
    "cpu",
    "light",
    "led",
    "next to",
    "97",
    "°C",
    "degrees",
    "temp",
    "not",
    ",",
    ".",
    "\n",
    "-",
    "1-2-2-3",
    "display",
    "board",
    "continuous",
    "İ",
    "é",
    "²",
    "٣",
    "shows",
    "blue",
]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(_PIECES) | st.text(max_size=4), max_size=20), st.sampled_from(["", " ", "  "]))
def test_spans_lie_in_the_text(pieces, between):
    """Whatever is written: spans hold words, and those of one finding do not overlap."""
    text = between.join(pieces)
    found = codes_in(text, BASE)
    for code in found:
        assert 0 <= code.start < code.end <= len(text)
        assert text[code.start : code.end].strip()
        assert code.detail
    for finding in {code.finding for code in found}:
        spans = [(code.start, code.end) for code in found if code.finding == finding]
        assert all(before[1] <= after[0] for before, after in pairwise(spans))


@pytest.mark.parametrize(
    "piece", ["beep ", "one long ", "0x124 ", "0x124 (", "code 55 ", "cpu ", "1-", "_A", " ", "97 "]
)
def test_the_work_grows_with_the_length_only(piece):
    """Four times the text takes less than ten times the work (sixteen times where it grew with the square)."""

    def work(text: str) -> float:
        start = process_time()
        codes_in(text, BASE)
        return process_time() - start

    short, long = piece * 800, piece * 3200
    assert min(work(long) for _ in range(3)) < 10 * min(work(short) for _ in range(3))


@pytest.mark.parametrize(
    ("record", "words"),
    [
        ({"finding": "beep-code", "reads": "step", "pattern": "(?P<volts>5)"}, "no group 'volts'"),
        ({"finding": "beep-code", "reads": "fixed", "pattern": "x"}, "detail belongs"),
        ({"finding": "beep-code", "reads": "step", "pattern": "x", "near": "a*"}, "upper bound"),
    ],
)
def test_a_faulty_shape_is_refused(record, words):
    """A group that nobody reads, a missing detail, an unbounded quantifier."""
    with pytest.raises(ValueError, match=words):
        CodeShape.model_validate(record)
