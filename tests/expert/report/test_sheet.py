"""The bench sheet: cautions on top, boxes for every outcome, lines with limits for every reading."""

from expert.case import OutcomeEntry
from expert.report.sheet import BOX, LINES, PLANNED, WIDTH, sheet_of, write_sheet
from tests.expert.report.cases import bench, danger, message, report


def test_cautions_stand_above_the_checks():
    """Every precaution of a planned check, once."""
    text = write_sheet(sheet_of(bench()))
    planned = [check for check in bench().checks if check.locked_by is None][:PLANNED]
    wanted = {text for check in planned for text in check.precautions}
    shown = sheet_of(bench()).cautions
    assert len(wanted) == len(shown) > 3
    assert all(any(caution.startswith(text) for caution in shown) for text in wanted)
    assert text.index("Before mains goes on") < text.index("Checks, in this order")


def test_every_outcome_has_a_box():
    """And every caution: they are ticked before mains goes on."""
    sheet = sheet_of(bench())
    boxes = sum(len(check.outcomes) for check in sheet.checks) + len(sheet.cautions)
    assert write_sheet(sheet).count(BOX) == boxes > PLANNED


def test_a_reading_has_a_line_and_its_limits():
    """+5 V standby is 4.75 to 5.25 V (ATX12V guide 2.0, table 2); whichever check comes first in the ranking."""
    standby = [check for check in bench().checks if check.id == "standby-rail-by-meter"]
    [planned] = sheet_of(bench().model_copy(update={"checks": standby})).checks
    assert any("+5 V standby" in reading and "4.75 to 5.25 V" in reading for reading in planned.readings)


def test_what_a_hazard_locks_is_not_planned():
    """Nothing that energises the machine is on the sheet, and the locked checks say by what."""
    sheet = sheet_of(danger())
    energising = {check.title for check in danger().checks if check.locked_by}
    assert energising
    assert not energising & {check.title for check in sheet.checks}
    assert all(any(title in line for line in sheet.locked) for title in energising)
    assert sheet.dangers[0].startswith("STOP")


def test_no_line_is_wider_than_the_paper():
    """Ninety-two columns."""
    assert max(len(line) for line in write_sheet(sheet_of(bench())).splitlines()) <= WIDTH


def test_as_many_checks_are_planned_as_a_page_holds():
    """Long cautions leave room for fewer; the order is kept, and one is always planned."""
    for case in (bench(), danger()):
        sheet = sheet_of(case)
        free = [check.title for check in case.checks if check.locked_by is None]
        assert [check.title for check in sheet.checks] == free[: len(sheet.checks)]
        assert len(write_sheet(sheet).splitlines()) <= LINES
    assert 1 <= len(sheet_of(danger()).checks) < len(sheet_of(bench()).checks)


def test_a_sheet_without_checks_still_says_to_look_before_mains():
    """A machine that was cured is switched on again for the last checks; no danger told is none ruled out."""
    cured = report(message(), OutcomeEntry(check="press-power-leads-home", outcome="main-lead"))
    text = write_sheet(sheet_of(cured))
    assert text.index("Look, and sniff, before mains") < text.index("Leads, screws and panels")
