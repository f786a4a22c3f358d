"""What codes mean: stop codes, beep patterns and checkpoints of the base against published tables."""

from itertools import pairwise

import pytest

from intake.codes import codes_in
from knowledge.load import shipped_base
from knowledge.references import PRACTICE

BASE = shipped_base()


def _read(text: str) -> list[tuple[str, str]]:
    return [(code.finding, code.detail) for code in codes_in(text, BASE)]


# Microsoft, "Bug check code reference", Windows driver documentation, November 2025: code and name of each page.
_BUG_CHECKS = """
0x0A IRQL_NOT_LESS_OR_EQUAL, 0x1A MEMORY_MANAGEMENT, 0x1E KMODE_EXCEPTION_NOT_HANDLED, 0x24 NTFS_FILE_SYSTEM,
0x2E DATA_BUS_ERROR, 0x3B SYSTEM_SERVICE_EXCEPTION, 0x4E PFN_LIST_CORRUPT, 0x50 PAGE_FAULT_IN_NONPAGED_AREA,
0x77 KERNEL_STACK_INPAGE_ERROR, 0x7A KERNEL_DATA_INPAGE_ERROR, 0x7B INACCESSIBLE_BOOT_DEVICE,
0x7E SYSTEM_THREAD_EXCEPTION_NOT_HANDLED, 0x7F UNEXPECTED_KERNEL_MODE_TRAP, 0x80 NMI_HARDWARE_FAILURE,
0x9C MACHINE_CHECK_EXCEPTION, 0x9F DRIVER_POWER_STATE_FAILURE, 0xC2 BAD_POOL_CALLER, 0xC5 DRIVER_CORRUPTED_EXPOOL,
0xD1 DRIVER_IRQL_NOT_LESS_OR_EQUAL, 0xED UNMOUNTABLE_BOOT_VOLUME, 0xEF CRITICAL_PROCESS_DIED,
0xF4 CRITICAL_OBJECT_TERMINATION, 0xFE BUGCODE_USB_DRIVER, 0x101 CLOCK_WATCHDOG_TIMEOUT,
0x109 CRITICAL_STRUCTURE_CORRUPTION, 0x116 VIDEO_TDR_FAILURE, 0x117 VIDEO_TDR_TIMEOUT_DETECTED,
0x119 VIDEO_SCHEDULER_INTERNAL_ERROR, 0x124 WHEA_UNCORRECTABLE_ERROR, 0x12B FAULTY_HARDWARE_CORRUPTED_PAGE,
0x133 DPC_WATCHDOG_VIOLATION, 0x139 KERNEL_SECURITY_CHECK_FAILURE, 0x154 UNEXPECTED_STORE_EXCEPTION,
0x1C7 STORE_DATA_STRUCTURE_CORRUPTION
"""
# The same pages: what they name as hardware that may have failed, as ids of ours.
_NAMED_HARDWARE = {
    "0x124": {"cpu", "memory"},  # defective hardware, memory, processor, heat
    "0x12B": {"memory"},  # single-bit error
    "0x2E": {"memory"},  # parity: main memory, cache, video memory
    "0x7B": {"storage"},
    "0x7F": {"memory"},
    "0x116": {"graphics", "psu", "cooling"},  # defective parts, insufficient power, cooling
    "0xFE": {"peripherals"},
    "0x9C": {"cpu"},
}


def test_the_codes_and_names_are_those_of_the_reference():
    """Every page that the table knows, and no other with a small number."""
    published = dict(entry.split() for entry in _BUG_CHECKS.replace("\n", " ").split(",") if entry.strip())
    assert {stop.code: stop.name for stop in BASE.stop_codes if len(stop.code) < 8} == published


@pytest.mark.parametrize("code", _NAMED_HARDWARE)
def test_the_parts_that_the_reference_names(code):
    """What the page names is among the parts that the table points at."""
    [stop] = [stop for stop in BASE.stop_codes if stop.code == code]
    assert set(stop.points_at) >= _NAMED_HARDWARE[code]
    assert stop.source == f"bug-check {code}"


def test_only_hardware_pages_convict_hardware():
    """These five pages name hardware itself; that of a driver (0xC5, 0xD1) does not."""
    assert {stop.code for stop in BASE.stop_codes if stop.direct} == {"0x2E", "0x80", "0x9C", "0x124", "0x12B"}


@pytest.mark.parametrize("stop", BASE.stop_codes, ids=lambda stop: stop.code)
def test_each_name_is_read_in_any_spelling(stop):
    """Underscores, blanks, small letters: the detail is the name in capitals."""
    for told in (stop.name, stop.name.lower(), stop.name.replace("_", " ").lower()):
        assert _read(f"the blue screen says {told}") == [("stop-error", stop.name)]


# PhoenixBIOS 4.0 POST list (number of each from memory, pattern as in a service guide). The list gives the rule: the
# checkpoint's byte in four pairs of bits, each plus one, is the beep code.
_PHOENIX = {
    0x16: "checksum of the firmware",
    0x20: "refresh of the memory",
    0x22: "keyboard controller",
    0x2C: "address line",
    0x2E: "low byte",
    0x30: "high byte",
    0x46: "copyright",
    0x58: "unexpected interrupt",
}


@pytest.mark.parametrize("checkpoint", _PHOENIX)
def test_a_four_part_beep_code_spells_its_checkpoint(checkpoint):
    """16h is 00 01 01 10, so 1-2-2-3: checksum of the firmware."""
    pattern = "-".join(str((checkpoint >> shift & 3) + 1) for shift in (6, 4, 2, 0))
    [meaning] = [m for m in BASE.beep_meanings if m.family == "phoenix-4-0" and m.pattern == pattern]
    assert _PHOENIX[checkpoint] in meaning.meaning


# American Megatrends, POST beep codes of the classic firmware: count, and a word of the published meaning.
_CLASSIC = {
    1: "refresh",
    2: "parity",
    3: "64 KB",
    4: "timer",
    5: "processor",
    6: "A20",
    7: "exception",
    8: "display",
} | {
    9: "checksum",
    10: "shutdown",
    11: "cache",
}


@pytest.mark.parametrize("count", _CLASSIC)
def test_the_classic_beep_counts(count):
    """One to eleven beeps; one to three are the memory's, eight the display adapter's."""
    pattern = f"{count} beep" + "s" * (count > 1)
    [meaning] = [m for m in BASE.beep_meanings if m.family == "classic" and m.pattern == pattern]
    assert _CLASSIC[count] in meaning.meaning
    assert ("memory" in meaning.points_at) == (count <= 4)


# AMI Aptio 4.x checkpoint ranges, as printed in board manuals: first, last, whether it is a range of errors.
_RANGES = [
    ("01", "0B", False),
    ("0C", "0F", True),
    ("10", "2F", False),
    ("30", "4F", False),
    ("50", "5F", True),
    ("60", "8F", False),
    ("90", "CF", False),
    ("D0", "DF", True),
    ("E0", "E8", False),
    ("E9", "EF", True),
    ("F0", "F8", False),
    ("F9", "FF", True),
]


def test_the_checkpoint_ranges_are_those_of_the_manuals():
    """The twelve printed ranges; together they cover 01 to FF without a gap."""
    printed = [c for c in BASE.checkpoints if c.source.startswith("checkpoints-aptio")]
    assert [(c.first, c.last, c.fault) for c in printed] == _RANGES
    assert [int(after.first, 16) - int(before.last, 16) for before, after in pairwise(printed)] == [1] * 11


def test_one_pattern_means_different_things():
    """Why the board's manual decides: one beep is memory in two families and no fault or a password in others."""
    meanings = {m.family: m.points_at for m in BASE.beep_meanings if m.pattern in ("1 beep", "1 short")}
    assert "memory" in meanings["classic"]
    assert "memory" in meanings["aptio-pei"]
    assert "memory" not in meanings["aptio-dxe"]
    assert meanings["award"] == ()


def test_every_meaning_has_a_source_and_known_parts():
    """Sources are ids of the base, or said to be from memory; parts are those that causes sit in."""
    sources = {source.id for source in BASE.sources} | {"from memory", PRACTICE}
    parts = {cause.part for cause in BASE.causes}
    for record in (*BASE.stop_codes, *BASE.beep_meanings, *BASE.checkpoints):
        assert record.source in sources or record.source.split()[0] in sources
        assert set(record.points_at) <= parts
