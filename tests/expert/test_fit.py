"""What fits what, and what goes together.

Keying of memory: module outlines after JEDEC, as service manuals report them (read-2); DDR3L at 1.5 V: 8 Gb DDR3L
datasheet, table 20 (read). Rails of 12-V-only supplies: ATX12VO guide rev 2.1, table 4-3 (read); that they cannot
replace each other follows from it. Board and supply shapes: common practice, no source. All parts are invented.
"""

import pytest

from expert.build import Part
from expert.fit import carry_over, matches, refused, together
from knowledge import shipped_base

BASE = shipped_base()

# Rows: what a board takes, columns: modules (read-2, DDR3L read, DDR5 from memory).
MEMORY = {
    "ddr3": {"ddr3", "ddr3l"},
    "ddr3l": {"ddr3l"},
    "ddr4": {"ddr4"},
    "ddr5": {"ddr5"},
}
# Common practice, no source: the smaller standard boards sit in the larger cases.
BOARDS = ["mini-itx", "micro-atx", "atx", "e-atx"]
# From the rails: 3.3 V, 5 V and 5 V standby on the one, 12 V and 12 V standby on the other.
MAINS = {
    "main-24": {"main-24", "main-20-4"},
    "main-20": {"main-20", "main-20-4"},
    "main-10": {"main-10"},
    "main-own": set(),
}


def fits(one, other, fit):
    """Give the verdict of one fit on two parts."""
    (match,) = [match for match in matches(BASE, [one, other]) if match.fit.id == fit]
    return match.fits


@pytest.mark.parametrize("board", MEMORY)
@pytest.mark.parametrize("module", MEMORY)
def test_memory_of_another_generation_does_not_fit(board, module):
    """The notch sits elsewhere; low-voltage DDR3L runs at 1.5 V too, DDR3 not at 1.35 V."""
    verdict = fits(Part("memory", 2, {"generation": module.upper()}), Part("board", 1, {"memory_generation": board}),
                   "memory-generation")  # fmt: skip
    assert verdict is (module in MEMORY[board])


@pytest.mark.parametrize("case", BOARDS)
@pytest.mark.parametrize("board", BOARDS)
def test_a_board_fits_a_case_of_its_size_or_larger(board, case):
    """Common practice, no source."""
    verdict = fits(Part("board", 1, {"form_factor": board}), Part("case", 1, {"form_factor": case}), "board-in-case")
    assert verdict is (BOARDS.index(board) <= BOARDS.index(case))


@pytest.mark.parametrize("socket", MAINS)
@pytest.mark.parametrize("plug", ["main-24", "main-20-4", "main-20", "main-10", "main-own"])
def test_supplies_serve_boards_of_their_own_standard_only(socket, plug):
    """ATX12VO, table 4-3: no 5 V and 3.3 V there, no 12 V standby here; a maker's own plug fits nothing."""
    assert fits(Part("psu", 1, {"main": plug}), Part("board", 1, {"main": socket}), "supply-on-board") is (
        plug in MAINS[socket]
    )


def test_sockets_are_compared_and_not_their_spelling():
    """A blank and a hyphen do not matter, a plus sign does."""
    board = Part("board", 1, {"socket": "LGA 1200"})
    assert fits(Part("cpu", 1, {"socket": "lga-1200"}), board, "processor-socket") is True
    assert fits(Part("cpu", 1, {"socket": "LGA1200"}), board, "processor-socket") is True
    assert fits(Part("cpu", 1, {"socket": "LGA1151"}), board, "processor-socket") is False
    plus = Part("board", 1, {"socket": "AM3+"})
    assert fits(Part("cpu", 1, {"socket": "AM3"}), plus, "processor-socket") is False


@pytest.mark.parametrize(("length", "verdict"), [(299, True), (300, True), (301, False)])
def test_lengths_are_compared_as_numbers(length, verdict):
    """300 mm of room take 300 mm."""
    card, case = Part("graphics", 1, {"length_mm": length}), Part("case", 1, {"card_mm": 300})
    assert fits(card, case, "card-length") is verdict


def test_what_is_not_known_is_neither_right_nor_wrong():
    """The match says which question is open."""
    (match,) = [
        m for m in matches(BASE, [Part("cpu"), Part("board", 1, {"socket": "AM4"})]) if m.fit.id == "processor-socket"
    ]
    assert match.fits is None
    assert match.text == match.fit.ask_part


def test_no_question_arises_where_there_is_no_card_and_no_cooler():
    """A picture from the board has no length, a case fan no socket."""
    parts = [Part("graphics", 1, {"kind": "onboard"}), Part("cooling", 1, {"kind": "fan"})]
    assert matches(BASE, [*parts, Part("case")]) == ()
    assert matches(BASE, [*parts, Part("board")]) == ()
    assert carry_over(BASE, parts, {"case", "board"}).asks == ()


def test_a_kept_part_says_what_the_new_one_must_be():
    """DDR3L goes into boards for either; a mini-itx board into every standard case; an atx case takes three sizes."""
    carried = carry_over(BASE, [Part("memory", 2, {"generation": "ddr3l", "module": "dimm"})], {"board"})
    (generation, module) = carried.requirements
    assert (generation.part, generation.kept) == ("board", "memory")
    assert "ddr3 or ddr3l" in generation.text
    assert "dimm modules" in module.text
    board = carry_over(BASE, [Part("board", 1, {"form_factor": "mini-itx"})], {"case"})
    assert "e-atx or atx or micro-atx or mini-itx" in board.requirements[0].text
    case = carry_over(BASE, [Part("case", 1, {"form_factor": "atx", "psu_form": "sfx"})], {"board", "psu"})
    assert [r.text for r in case.requirements if r.fit == "board-in-case"] == [
        "a board of size atx or micro-atx or mini-itx"
    ]
    assert any("a supply of shape sfx (" in r.text for r in case.requirements)


def test_what_must_be_known_of_a_kept_part_is_asked():
    """A value that the table does not know is asked about as well."""
    for facts in ({}, {"generation": "ddr9"}):
        carried = carry_over(BASE, [Part("memory", 1, facts | {"module": "dimm"})], {"board"})
        assert [ask.part for ask in carried.asks] == ["memory"]
        assert "generation" in carried.asks[0].text


def test_a_part_of_the_makers_own_fits_nothing_on_sale():
    """A board with a socket of its own cannot be kept if the supply goes, and the other way round."""
    board = carry_over(BASE, [Part("board", 1, {"main": "main-own"})], {"psu"})
    assert board.requirements == ()
    assert "board" in board.stuck[0]
    assert carry_over(BASE, [Part("psu", 1, {"main": "main-own", "form_factor": "atx"})], {"board"}).stuck


@pytest.mark.parametrize("replaced", ["psu", "board"])
@pytest.mark.parametrize("finding", ["nonstandard-supply", "nonstandard-board"])
def test_supply_board_and_case_of_the_makers_own_go_together(replaced, finding):
    """Common practice, no source; with the right spare supply at hand they need not."""
    (coupling,) = together(BASE, {replaced}, {finding})
    assert coupling.parts == ("psu", "board", "case")
    assert together(BASE, {replaced}, {finding}, have=["compatible-supply"]) == ()


def test_what_is_standard_is_replaced_alone():
    """No finding of the kind: supply, board, memory each by itself."""
    for part in ("psu", "board", "memory", "case"):
        assert together(BASE, {part}, {"dead", "prebuilt"}) == ()
    assert together(BASE, {"memory"}, {"nonstandard-board"}) == ()


def test_one_coupling_brings_the_next():
    """A board of the maker's own takes its supply along, and a modular supply its leads."""
    found = together(BASE, {"board"}, {"nonstandard-board", "modular-supply"})
    assert [coupling.parts for coupling in found] == [("psu", "board", "case"), ("psu", "leads")]


def test_leads_stay_with_their_supply():
    """Modular leads fit and are wired differently (common practice, no source)."""
    assert [c.parts for c in together(BASE, {"psu"}, {"modular-supply"})] == [("psu", "leads")]
    assert [r.id for r in refused(BASE, {"modular-supply"}, {"leads"})] == ["leads-of-another-supply"]


def test_trials_that_would_tell_nothing_or_destroy_something_are_refused():
    """And none is refused on a standard machine that only lost its settings."""
    both = refused(BASE, {"nonstandard-supply"}, {"psu"})
    assert [r.id for r in both] == ["standard-supply-on-own-board", "own-supply-on-good-bench"]
    assert refused(BASE, {"clock-resets"}, {"psu", "board"}) == ()
