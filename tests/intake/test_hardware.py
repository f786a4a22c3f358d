"""Hardware read by its shape: sentences of our own beside near ones that must read differently; all invented."""

from itertools import pairwise
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.hardware import hardware_in
from intake.shapes import expressions, sentences
from knowledge.load import shipped_base
from knowledge.shapes import FACTS, NUMBERS, Shape

BASE = shipped_base()


def _read(text: str) -> list[tuple[str, str, dict[str, object]]]:
    return [(named.part, named.text, named.facts) for named in hardware_in(text, BASE)]


@pytest.mark.parametrize(
    ("text", "part", "words", "facts"),
    [
        ("psu is 450w and old", "psu", "psu is 450w", {"watts": 450}),
        (
            "It is a 650 W gold modular, model QV-650G, I think",
            "psu",
            "650 W gold modular, model QV-650G",
            {"watts": 650, "efficiency": "gold", "modular": "yes", "model": "QV-650G"},
        ),
        ("550 W semi-modular unit", "psu", "550 W semi-modular", {"watts": 550, "modular": "semi"}),
        ("non modular supply from 2011", "psu", "non modular supply from 2011", {"modular": "no", "year": 2011}),
        ("a 1.2 kW supply", "psu", "1.2 kW supply", {"watts": 1200}),
        ("1 to 2 TB disk", "storage", "1 to 2 TB disk", {"capacity_gb": "1000-2000"}),
        ("an sfx 450w in there", "psu", "sfx 450w", {"form_factor": "sfx", "watts": 450}),
        ("Supply: 80 plus bronze", "psu", "Supply: 80 plus bronze", {"efficiency": "bronze"}),
        ("six core 3.6 GHz processor", "cpu", "six core 3.6 GHz processor", {"cores": 6, "ghz": 3.6}),
        ("quad-core machine", "cpu", "quad-core", {"cores": 4}),
        ("it has the i5-10400 inside", "cpu", "i5-10400", {"model": "i5-10400"}),
        ("5 3600X on a cheap cooler", "cpu", "5 3600X", {"model": "5 3600X"}),
        ("cpu: 65 W, socket Q4", "cpu", "cpu: 65 W, socket Q4", {"watts": 65, "socket": "Q4"}),
        ("2x8 gb ddr5", "memory", "2x8 gb ddr5", {"count": 2, "module_gb": 8, "generation": "ddr5"}),
        ("16 gig of ddr4", "memory", "16 gig of ddr4", {"capacity_gb": 16, "generation": "ddr4"}),
        ("8g ddr3", "memory", "8g ddr3", {"capacity_gb": 8, "generation": "ddr3"}),
        ("16gb ddr4 3200", "memory", "16gb ddr4 3200", {"capacity_gb": 16, "generation": "ddr4", "speed_mts": 3200}),
        ("16gb ddr4-3200", "memory", "16gb ddr4-3200", {"capacity_gb": 16, "generation": "ddr4", "speed_mts": 3200}),
        ("4 x 4 gb", "memory", "4 x 4 gb", {"count": 4, "module_gb": 4}),
        ("there is one stick of 8 gb", "memory", "one stick of 8 gb", {"count": 1, "module_gb": 8}),
        ("it has one stick", "memory", "one stick", {"count": 1}),
        ("got 2gb it says", "memory", "2gb", {"capacity_gb": 2}),
        ("the 1 TB disk", "storage", "1 TB disk", {"capacity_gb": 1000}),
        ("256GB ssd", "storage", "256GB ssd", {"capacity_gb": 256, "kind": "ssd"}),
        ("it has an nvme", "storage", "nvme", {"kind": "nvme"}),
        ("an 8 GB graphics card", "graphics", "8 GB graphics card", {"capacity_gb": 8}),
        ("a new card that pulls 320 W", "graphics", "card that pulls 320 W", {"watts": 320}),
        ("graphics: onboard", "graphics", "graphics: onboard", {"kind": "onboard"}),
        ("the socket Q5 board", "board", "socket Q5 board", {"socket": "Q5"}),
        ("b450 board", "board", "b450 board", {"family": "b450"}),
        ("a micro-ATX board", "board", "micro-ATX board", {"form_factor": "micro-atx"}),
        ("240 mm liquid cooler", "cooling", "240 mm liquid cooler", {"mm": 240, "kind": "liquid"}),
        ("120 mm single tower cooler", "cooling", "120 mm single tower cooler", {"mm": 120, "kind": "tower"}),
        ("on a 24 inch monitor", "display", "24 inch monitor", {"inches": 24}),
        ("the machine is about six years old", "system", "machine is about six years old", {"age_years": 6}),
        ("pc bought last year", "system", "pc bought last year", {"age_years": "0-2"}),
    ],
)
def test_a_part_and_its_facts(text, part, words, facts):
    """The shortest span that holds the part's word and its facts, and the facts themselves."""
    [(found_part, found_words, found_facts)] = _read(text)
    assert (found_part, found_words) == (part, words)
    assert {key: value for key, value in found_facts.items() if key != "approximately"} == facts


@pytest.mark.parametrize(
    "text",
    [
        "two fans spin and the graphics card is warm",
        "no fans, no ram light, dead board",
        "I have 3 kids and the shop is open 24/7",
        "error 404, and 500 times at that",
        "a 2000 W heater was on the same strip",
        "there are 500 GB of photos on it",
        "downloaded 50 gb of updates",
        "the ssd clicks",
        "tried one stick, then the other stick",
        "I took out both memory modules",
        "the silver case with gold trim",
        "fell from the wall socket 3 times",
        "my son is 15 years old",
        "the processor sits at 0.8 of its speed",
        "a box of 12 screws from 2016",
        "at 5 2000 people came",
    ],
)
def test_no_part_worth_keeping(text):
    """Bare names, other things with a rating, counts of anything else."""
    assert _read(text) == []


@pytest.mark.parametrize(
    ("others", "own"),
    [
        ("my brother's 750 W supply works", "my 750 W supply works"),
        ("my friend's pc has 32gb ram", "my pc has 32gb ram"),
        ("my laptop has 16gb", "my tower has 16gb"),
        ("threw in a spare 500w psu", "threw in a 500w psu"),
        ("should I get a 750 W supply", "I got a 750 W supply"),
        ("is it worth going to 32 gb of ram", "it went to 32 gb of ram"),
    ],
)
def test_what_is_not_in_this_machine_is_left_out(others, own):
    """Somebody else's, another machine's, borrowed for a trial, only wished for; beside it, the machine's own."""
    assert _read(others) == []
    assert len(_read(own)) == 1


def test_mine_takes_an_owner_back():
    """The owner's word reaches no further than to "mine"."""
    assert [words for _, words, _ in _read("my brother's supply works, mine is 650 W")] == ["650 W"]


def test_a_list_is_parted_where_a_fact_comes_twice_or_the_part_changes():
    """One line, five parts, whatever stands first: the part or its rating."""
    assert [(part, words) for part, words, _ in _read("8 core, 16gb ram and a 500 GB hdd, psu 450w gpu 300w")] == [
        ("cpu", "8 core"),
        ("memory", "16gb ram"),
        ("storage", "500 GB hdd"),
        ("psu", "psu 450w"),
        ("graphics", "gpu 300w"),
    ]


def test_a_rating_belongs_to_the_part_it_leads_to():
    """The watts before "bronze supply" are not those of a card with so much memory."""
    assert [(part, words) for part, words, _ in _read("6 years old, 16gb, a 550w bronze supply")] == [
        ("memory", "6 years old, 16gb"),
        ("psu", "550w bronze supply"),
    ]


@pytest.mark.parametrize("text", ["about 450 W supply", "~450w psu", "450ish watt psu", "450 W or so for the supply"])
def test_about_is_kept(text):
    """An estimate says that it is one."""
    [(_, _, facts)] = _read(text)
    assert facts["watts"] == 450
    assert facts["approximately"] is True


@pytest.mark.parametrize("text", ["500-600 W supply", "500 to 600 watts supply", "a 500 or 600 W power supply"])
def test_ranges_are_kept(text):
    """A range is a text from its low to its high end, and no single number is made of it."""
    assert [facts["watts"] for _, _, facts in _read(text)] == ["500-600"]


_PIECES = [
    "650 W",
    "450w",
    "psu",
    "supply",
    "2x8",
    "gb",
    "16gb",
    "ddr4-3200",
    "six core",
    "3.6 GHz",
    "socket",
    "Q4",
    "board",
    "1 TB",
    "ssd",
    "of",
    "with",
    "model",
    "QV-650G",
    "about",
    "~",
    "the",
    "my",
    "brother's",
    "mine",
    ",",
    ".",
    "\n",
    "(",
    ")",
    "-",
    "–",
    "ish",
    "24 inch",
    "years old",
    "8",
    "é",
    "İ",
    "🔌",
    "²",
    "0x",
    "½",
    "١٢",
    "_",
    "bronze",
    "modular",
    "card",
    "\t",
]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(_PIECES) | st.text(max_size=4), max_size=20), st.sampled_from(["", " ", "  "]))
def test_every_span_quotes_the_text(pieces, between):
    """Whatever is written: the words are those of the span, spans do not overlap, facts are known ones."""
    text = between.join(pieces)
    found = hardware_in(text, BASE)
    for named in found:
        assert named.text == text[named.start : named.end]
        assert named.text.strip()
        assert named.facts.keys() <= FACTS
    assert all(before.end <= after.start for before, after in pairwise(found))


@pytest.mark.parametrize("piece", ["8 gb ", "500 w ", "ram ", "2 x 8 ", " ", "1 ", "socket ", "about "])
def test_the_work_grows_with_the_length_only(piece):
    """Four times the text takes less than ten times the work (sixteen times where it grew with the square)."""

    def work(text: str) -> float:
        start = process_time()
        hardware_in(text, BASE)
        return process_time() - start

    short, long = piece * 800, piece * 3200
    assert min(work(long) for _ in range(3)) < 10 * min(work(short) for _ in range(3))


def test_sentences_cover_the_text_and_leave_numbers_whole():
    """A point inside a number ends nothing; the spans join without a gap."""
    text = "3.6 GHz, approx. 1.5 years... Dead! Why?\n- psu: 650 W\n- board"
    spans = sentences(text)
    assert "".join(text[start:end] for start, end in spans) == text
    assert text[slice(*spans[0])].startswith("3.6 GHz, ")
    assert "- board" in [text[slice(*span)].strip() for span in spans]


def test_every_shape_compiles():
    """Each piece that an expression names is there."""
    known = expressions(BASE)
    assert len([known.make(shape.pattern).pattern for shape in BASE.shapes]) > 50


@pytest.mark.parametrize(
    ("record", "words"),
    [
        ({"parts": ["psu"], "pattern": "a+b", "worth": "part"}, "upper bound"),
        ({"parts": ["psu"], "pattern": "a{2,}", "worth": "part"}, "upper bound"),
        ({"parts": ["psu"], "pattern": "(a", "worth": "part"}, "not a regular expression"),
        ({"parts": ["psu"], "pattern": "(?P<volts>5)", "worth": "alone"}, "no fact 'volts'"),
        ({"parts": ["psu"], "pattern": "psu", "worth": "alone"}, "nothing is read"),
    ],
)
def test_a_faulty_shape_is_refused(record, words):
    """An unbounded quantifier, a broken expression, a fact that nobody knows, nothing to read."""
    with pytest.raises(ValueError, match=words):
        Shape.model_validate(record)


def test_escaped_and_bracketed_quantifiers_are_only_characters():
    """ "80\\+" and "[+*]" hold no quantifier."""
    assert Shape(parts=("psu",), pattern=r"80\+ [+*]", worth="part").pattern


def test_numbers_are_numbers():
    """What is counted or measured is a number or a range of two; the rest is text."""
    for _, _, facts in _read("a 650 W gold supply, 8 core cpu at 3.6 GHz, 2x8 GB ddr4-3200, 500-600 gb ssd"):
        for key, value in facts.items():
            assert isinstance(value, int | float) == (key in NUMBERS) or value == "500-600"
