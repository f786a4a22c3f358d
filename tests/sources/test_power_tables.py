"""What parts draw and what plugs, slots and supplies carry, against published tables, and how far each was read.

read: a passage of the document itself was seen; read-2: another document reports it; memory: not looked up again.
- Table 2-1: ATX Version 3.0 Multi Rail Desktop Platform Power Supply Design Guide (336521), processor power (read).
- Table 3-5, 5-7, 5-8, section 2.2.1, 5.2.2.4.3: the same guide, plugs and wires (read).
- Table 3-3: ATX12VO Design Guide (613768), short excursions of the load, the same as in the guide above (read).
- PCI Express Card Electromechanical Specification: slot power and usual totals of cards (read-2).
- DB35.4 Series SATA Product Manual, table 2; 5K320 SATA OEM Specification, table 14 (read).
- 80 PLUS programme tables, 115 V internal and 230 V EU internal (read-2).
- 4-Wire PWM Controlled Fans Specification, section 2.1.2 (read).
- Desktop board DH67BL, technical product specification, tables 33 and 34 (read).
- Universal Serial Bus Specification 2.0, section 7.2.1, and 3.0: unit loads (read-2).
"""

import pytest

from expert.build import Part
from expert.power import budget_of, card_ceiling
from expert.supply import bears, cpu_plugs, excursion_for, rating_for, wall_draw
from knowledge import shipped_base
from knowledge.references import MEMORY, PRACTICE

BASE = shipped_base()
LOADS = {load.id: load for load in BASE.loads}
PLUGS = {plug.id: plug for plug in BASE.connectors}
SLOTS = {slot.id: slot for slot in BASE.slots}
GRADES = {(e.grade, e.volts): e for e in BASE.efficiencies}
SEEN = {source.id: source.seen for source in BASE.sources}

# Table 2-1 (read): class in watts, amperes on 12V2 sustained and at the peak.
PROCESSORS = [("cpu-35w", 35, 11, 19), ("cpu-65w", 65, 23, 34), ("cpu-125w", 125, 26, 39), ("cpu-165w", 165, 37.5, 40)]
# Table 3-5 (read): watts sustained for a second, greatest RMS current.
GRAPHICS_PLUGS = [("gpu-6", 75, 6.75), ("gpu-8", 150, 13.5), ("gpu-16", 600, 55)]
# CEM, usual totals (read-2): the plugs, and the watts of slot and plugs together.
CARDS = [((), 75), (("gpu-6",), 150), (("gpu-6", "gpu-6"), 225), (("gpu-8",), 225), (("gpu-8", "gpu-6"), 300)]
CARDS += [(("gpu-8", "gpu-8"), 375)]
# Programme tables (read-2): percent at 10, 20, 50 and 100 % load, at 115 V and at 230 V.
PROGRAMME = {
    "plain": ((None, 80, 80, 80), (None, 82, 85, 82)),
    "bronze": ((None, 82, 85, 82), (None, 85, 88, 85)),
    "silver": ((None, 85, 88, 85), (None, 87, 90, 87)),
    "gold": ((None, 87, 90, 87), (None, 90, 92, 89)),
    "platinum": ((None, 90, 92, 89), (None, 92, 94, 90)),
    "titanium": ((90, 92, 94, 90), (90, 94, 96, 94)),
}
# Table 3-3 (read): milliseconds, percent; above 450 W with a 16-pin plug, and all others.
EXCURSIONS = {
    "large-with-16-pin": [(0.1, 200), (1, 180), (10, 160), (100, 120)],
    "others": [(0.1, 150), (1, 145), (10, 135), (100, 110)],
}
# Watts, sustained and highest, of the classes for which no page was looked up: judgement of the trade, or memory.
UNPUBLISHED = {
    "board": (50, 50, PRACTICE),  # 25 to 50 W
    "memory-module": (5, 5, MEMORY),  # 2 to 5 W
    "solid-state-drive": (4, 4, MEMORY),  # 2 to 4 W
    "solid-state-module": (10, 10, MEMORY),  # 5 to 10 W
    "fan": (3, 3, PRACTICE),  # 1 to 3 W
    "fan-of-stock-cooler": (3, 3, PRACTICE),
    "fan-of-tower-cooler": (3, 3, PRACTICE),
    "onboard-graphics": (0, 0, PRACTICE),
}
PUBLISHED = {"disk-3-5", "disk-2-5", "port-usb2", "port-usb3", "card-x1", "card-x4", "card-x8", "card-x16"}


def watts(load):
    """Give what a class draws from all rails, sustained and at its highest."""
    return tuple(
        sure + minor + either
        for sure, minor, either in zip(load.watts_12v, load.watts_minor, load.watts_either, strict=True)
    )


def test_every_load_of_the_base_is_held_against_a_row_here():
    """No class of load stands in the base without a row that says where its figure was read."""
    assert set(LOADS) == {row[0] for row in PROCESSORS} | set(UNPUBLISHED) | PUBLISHED


@pytest.mark.parametrize(("load", "power_class", "continuous", "peak"), PROCESSORS)
def test_processor_current_by_power_class(load, power_class, continuous, peak):
    """Design guide 336521, table 2-1 (read); the peak lasts 10 ms at most."""
    record = LOADS[load]
    assert (record.up_to_watts, record.amps_12v, record.lasts) == (power_class, (continuous, peak), "ms")
    assert record.source == "atx-3-0 table 2-1"


@pytest.mark.parametrize(("told", "amps", "about"), [(125, 26, 291), (65, 23, 258)])
def test_processor_power_at_the_voltage_of_the_guide(told, amps, about):
    """26 A and 23 A at 11.2 V, the low end of the guide's own budget: about 291 W and 258 W."""
    line = next(line for line in budget_of(BASE, [Part("cpu", 1, {"watts": told})]).lines if line.part == "cpu")
    assert line.amps_12v[0] == amps
    assert line.watts[0] == pytest.approx(about, abs=0.5)


@pytest.mark.parametrize(("told", "load"), [(35, 0), (36, 1), (65, 1), (95, 2), (126, 3), (165, 3)])
def test_between_two_classes_the_higher_one_counts(told, load):
    """Table 2-1 gives classes only; a part between two may draw more than the lower one."""
    lines = budget_of(BASE, [Part("cpu", 1, {"watts": told})]).lines
    assert [line.amps_12v for line in lines if line.part == "cpu"] == [PROCESSORS[load][2:]]


@pytest.mark.parametrize(("plug", "power", "amps"), GRAPHICS_PLUGS)
def test_sustained_limits_of_graphics_plugs(plug, power, amps):
    """Design guide 336521, table 3-5 (read)."""
    assert (PLUGS[plug].watts, PLUGS[plug].amps) == (power, amps)


def test_sixteen_pin_plug():
    """9.2 A on each of six contacts, section 5.2.2.4.3 (read); classes 600, 450, 300, 150 W, rev 2.1a (read)."""
    plug = PLUGS["gpu-16"]
    assert (plug.contacts, plug.contact_amps, set(plug.classes)) == (6, 9.2, {600, 450, 300, 150})
    assert plug.contacts * plug.contact_amps == pytest.approx(plug.amps, abs=0.5), "9.2 A x 6 is the 55 A of table 3-5"


def test_slot_power():
    """CEM (read-2): x16 75 W, 5.5 A (66 W) at 12 V and 3 A (9.9 W) at 3.3 V; x1, x4, x8 25 W; a card 600 W (read)."""
    slot = SLOTS["x16"]
    assert (slot.watts, slot.amps_12v, slot.amps_3v3, slot.card_watts) == (75, 5.5, 3.0, 600)
    assert slot.amps_12v * 12 == pytest.approx(66)
    assert slot.amps_3v3 * 3.3 == pytest.approx(9.9)
    assert slot.excursion == 3.0, "336521 rev 2.1a, table 4-3 (read): 100 to 300 % steps"
    assert {SLOTS[name].watts for name in ("x1", "x4", "x8")} == {25}
    assert {watts(LOADS[f"card-{name}"]) for name in ("x1", "x4", "x8", "x16")} == {(25, 25)}


@pytest.mark.parametrize(("plugs", "total"), CARDS)
def test_usual_totals_of_cards(plugs, total):
    """CEM and the 225 W / 300 W specification (read-2): 75 W from the slot and what the plugs carry."""
    assert card_ceiling(BASE, plugs) == total


def test_no_card_takes_more_than_600_watts():
    """Design guide 336521, section 3 (read): 600 W from all sources, the slot's 75 W included."""
    assert card_ceiling(BASE, ["gpu-16"], 600) == 600
    assert card_ceiling(BASE, ["gpu-16"], 450) == 525
    assert card_ceiling(BASE, ["gpu-16"]) is None, "what the plug announces is not known"


def test_three_and_a_half_inch_disk():
    """DB35.4, table 2 (read): 2.0 A at 12 V to spin up; working 0.397 A at 12 V and 0.641 A at 5 V, 7.97 W."""
    disk = LOADS["disk-3-5"]
    assert disk.amps_12v == (0.397, 2.0)
    assert disk.watts_minor[0] == pytest.approx(0.641 * 5)
    assert watts(disk)[0] == pytest.approx(7.97, abs=0.005)
    assert disk.lasts == "s", "ready after 13 to 20 s (section 2.7)"


def test_two_and_a_half_inch_disk():
    """5K320, table 14 (read): 5 V only; seek 2.2 W, start-up at most 5.0 W."""
    assert (LOADS["disk-2-5"].watts_12v, LOADS["disk-2-5"].watts_minor) == ((0, 0), (2.2, 5.0))


def test_ports():
    """USB 2.0, section 7.2.1 (read-2): five unit loads of 100 mA; USB 3.0 (read-2): six of 150 mA; at 5 V."""
    assert watts(LOADS["port-usb2"])[0] == pytest.approx(5 * 0.100 * 5)
    assert watts(LOADS["port-usb3"])[0] == pytest.approx(6 * 0.150 * 5)


@pytest.mark.parametrize("load", UNPUBLISHED)
def test_figures_without_a_published_page_say_so(load):
    """Judgement of the trade, no source, or from memory: the upper end of the usual range."""
    *pair, source = UNPUBLISHED[load]
    assert watts(LOADS[load]) == pytest.approx(tuple(pair))
    assert LOADS[load].source == source


def test_a_fan_stays_below_what_its_header_gives():
    """Fan specification, section 2.1.2 (read): 1.5 A running at most."""
    fans = [load for load in BASE.loads if load.part == "cooling"]
    assert len(fans) == 3
    assert [load.id for load in fans if load.amps_12v[0] > 1.5] == []


def test_wires_and_processor_plugs():
    """18 AWG, 6 to 8 A a contact: section 2.2.1 (read); 4-pin plug with two 12 V contacts: table 5-8 (read)."""
    assert (PLUGS["cpu-4"].contacts, PLUGS["cpu-8"].contacts) == (2, 4)
    assert {PLUGS[plug].contact_amps for plug in ("cpu-4", "cpu-8", "cpu-4-4", "main-10")} == {8}


@pytest.mark.parametrize(
    ("amps", "plugs"), [(11, ["cpu-4"]), (23, ["cpu-8"]), (26, ["cpu-8"]), (37.5, ["cpu-4", "cpu-8"])]
)
def test_processor_plugs_by_class(amps, plugs):
    """The currents of table 2-1 over contacts of 8 A: 16 A a plug of 4, 32 A a plug of 8."""
    assert sorted(cpu_plugs(BASE, amps)) == plugs


def test_twelve_volt_only_main_plug():
    """ATX12VO, as a technical site reports it (read-2): 288 W on three contacts at 8 A, 192 W on two."""
    plug = PLUGS["main-10"]
    assert plug.watts == plug.contacts * plug.contact_amps * 12 == 288
    assert "192 W" in plug.note
    assert (plug.contacts - 1) * plug.contact_amps * 12 == 192


def test_flat_drive_plug():
    """SATA (read-2): 1.5 A a contact, three of them for 12 V; enough for the 2.0 A of a disk that spins up."""
    plug = PLUGS["sata"]
    assert (plug.contacts, plug.contact_amps) == (3, 1.5)
    assert plug.contacts * plug.contact_amps > LOADS["disk-3-5"].amps_12v[1]


@pytest.mark.parametrize(("grade", "volts"), [(grade, volts) for grade in PROGRAMME for volts in (115, 230)])
def test_efficiency_classes(grade, volts):
    """80 PLUS programme (read-2), each printed cell, and nothing that is not printed."""
    printed = zip((10, 20, 50, 100), PROGRAMME[grade][volts == 230], strict=True)
    assert GRADES[grade, volts].points == tuple((load, percent) for load, percent in printed if percent is not None)


def test_all_efficiency_classes_are_here():
    """Six classes at two voltages."""
    assert set(GRADES) == {(grade, volts) for grade in PROGRAMME for volts in (115, 230)}


def test_wall_draw_worked_example():
    """400 W at 80 % are 500 W from the wall: plain class, 115 V, a supply of 800 W at the printed point of 50 %."""
    wall = wall_draw(GRADES["plain", 115], 800, 400)
    assert (wall.efficiency_percent, wall.watts) == (80, pytest.approx(500))
    assert "published value at 50 % load" in wall.how


@pytest.mark.parametrize("kind", EXCURSIONS)
def test_excursions(kind):
    """ATX12VO guide, table 3-3 (read), each cell."""
    (record,) = [record for record in BASE.excursions if record.id == kind]
    assert list(record.points) == EXCURSIONS[kind]
    assert [bears(record, ms) for ms, _ in EXCURSIONS[kind]] == [percent / 100 for _, percent in EXCURSIONS[kind]]
    assert bears(record, 101) == 1.0, "for longer, 100 %"


@pytest.mark.parametrize(
    ("rating", "plugs", "kind"),
    [
        (451, ["gpu-16"], "large-with-16-pin"),
        (450, ["gpu-16"], "others"),
        (850, ["gpu-8"], "others"),
        (850, [], "others"),
    ],
)
def test_which_excursions_a_supply_must_bear(rating, plugs, kind):
    """Table 3-3, heads of the columns (read): above 450 W with the 16-pin plug; up to 450 W, or without it."""
    assert excursion_for(BASE, rating, plugs).id == kind


def _old_build(power_class, card):
    graphics = {"plugs": ["gpu-8", "gpu-6"]} if card else {"kind": "onboard"}
    drives = [Part("storage", 1, {"kind": "hdd"})]
    others = [Part("memory", 4), Part("cooling", 2, {"kind": "fan"}), Part("ports", 14, {"kind": "usb2"})]
    return [Part("cpu", 1, {"watts": power_class}), *drives, *others, Part("graphics", 1, graphics)]


@pytest.mark.parametrize(("power_class", "card", "least"), [(95, True, 460), (45, False, 320)])
def test_a_whole_system_gets_no_less_than_the_board_maker_asks_for(power_class, card, least):
    """DH67BL, tables 33 and 34 (read): 95 W and one high-end card 460 W, 45 W without a card 320 W.

    The maker's figures are of 2011; the guide of 2022 grants processors a higher turbo power, so ours may be above.
    """
    rating = rating_for(BASE, budget_of(BASE, _old_build(power_class, card)))
    assert rating.watts >= least
    assert rating.watts <= 2.5 * least, "and is still of that order"


# Contacts of module edges: JEDEC outlines in module data (read), short DDR4 and DDR5 and long DDR5 from memory.
CONTACTS = {"ddr3": (240, 204), "ddr3l": (240, 204), "ddr4": (288, 260), "ddr5": (288, 262), "ddr2": (240, 200)}


@pytest.mark.parametrize("kind", CONTACTS)
def test_contacts_of_memory_modules(kind):
    """Long and short modules; what is from memory says so in the base."""
    (record,) = [record for record in BASE.module_kinds if record.id == kind]
    assert (record.dimm_pins, record.sodimm_pins) == CONTACTS[kind]
    assert (record.sodimm_source == MEMORY) is (kind in ("ddr2", "ddr4", "ddr5"))
    assert (record.dimm_source == MEMORY) is (kind in ("ddr2", "ddr5"))


def test_sources_that_this_file_calls_read_are_not_called_better_in_the_base():
    """The base claims to have read no more of a document than was read."""
    read = {"atx-3-0", "atx-3-1", "atx12vo-2-0", "disk-manual-db35", "disk-specification-5k320"}
    reported = {"pcie-cem", "efficiency-programme", "atx12vo-retold", "usb-2-0", "usb-3-0", "sata", "ddr4-keying"}
    assert {name: SEEN[name] for name in read} == dict.fromkeys(read, "read")
    assert {name: SEEN[name] for name in reported} == dict.fromkeys(reported, "read-2")
