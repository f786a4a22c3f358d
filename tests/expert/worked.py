"""The long worked case, invented: a ready-built machine whose maker's own supply and board show no sign of life.

The coin cell is weak and is not it; the movable parts run on a bench known to be good; no supply of that make is on
hand. Watts and plugs are those of the maker's sheets in the story; the prices are the shop's own.
"""

from expert.build import Part
from expert.case import AnswerEntry, Case, HandEntry, MessageEntry, Named, OutcomeEntry, PartEntry, Told, fold
from knowledge.fit_models import Price

WORKED_FINDINGS = {
    "dead": None,
    "clock-resets": None,
    "prebuilt": None,
    "nonstandard-supply": None,
    "nonstandard-board": None,
    "outlet-good": None,
    "other-outlet-tried": "no-change",
    "lead-swapped": "no-change",
    "button-bypassed": "no-change",
    "coin-cell-replaced": "no-change",
}
WORKED_CHECKS = {
    "rear-switch-and-selector": "right",
    "press-power-leads-home": "no-change",
    "coin-cell-by-meter": "flat",
    "power-drain": "no-change",
    "their-memory-in-bench-machine": "runs",
    "their-card-in-bench-machine": "runs",
    "their-processor-in-bench-machine": "runs",
    "their-drive-in-bench-machine": "runs",
}
# 65 W class; the card's maker says 120 W; one plug of 6.
WORKED_PARTS = (
    Part("cpu", 1, {"watts": 65, "socket": "LGA 1200"}),
    Part("board", 1, {"main": "main-own", "form_factor": "own"}),
    Part("psu", 1, {"main": "main-own", "form_factor": "own", "watts": 290}),
    Part("case", 1, {"form_factor": "own", "psu_form": "own"}),
    Part("memory", 2, {"generation": "ddr4", "module": "dimm"}),
    Part("storage", 1, {"kind": "ssd"}),
    Part("storage", 1, {"kind": "hdd", "form_factor": "3.5"}),
    Part("graphics", 1, {"watts": 120, "plugs": ["gpu-6"], "length_mm": 240}),
    Part("cooling", 1, {"kind": "stock", "sockets": ["LGA 1200"], "height_mm": 60}),
    Part("cooling", 1, {"kind": "fan"}),
    Part("ports", 6, {"kind": "usb2"}),
    Part("ports", 2, {"kind": "usb3"}),
)


WORKED_ABSENT = ("fans-spin", "standby-power", "lead-from-elsewhere")


def worked_case(have: tuple[str, ...], checks: int | None = None) -> Case:
    """Give the worked case with these tools and spares at hand, after so many of the checks, or all of them."""
    told = [Told(id=f, state="present", quote=f, detail=d) for f, d in WORKED_FINDINGS.items()]
    absent = [AnswerEntry(finding=f, state="absent", words="no") for f in WORKED_ABSENT]
    message = MessageEntry(text="It is dead.", sentences=1, redactions=0, findings=tuple(told))
    parts = [Named(part=p.part, text=p.part, facts={**p.facts, "count": p.count}) for p in WORKED_PARTS]
    outcomes = [OutcomeEntry(check=check, outcome=outcome) for check, outcome in WORKED_CHECKS.items()]
    named = [PartEntry(named=part) for part in parts]
    return fold([message, HandEntry(have=have), *absent, *named, *outcomes[:checks]])


# The shop's list: rebuild 90 + 45 + 70, 125 minutes at 48 an hour = 305; the maker's supply 140, 30 minutes = 164.
PRICES = (
    Price(id="hour", part="labour", title="one hour", money=48),
    Price(id="board-new", part="board", title="board", money=90, minutes=60),
    Price(id="case-plain", part="case", title="case", money=45, minutes=45),
    Price(id="supply-450", part="psu", title="450 W", money=50, minutes=20, watts=450),
    Price(id="supply-600", part="psu", title="600 W", money=70, minutes=20, watts=600),
    Price(id="supply-850", part="psu", title="850 W", money=120, minutes=20, watts=850),
    Price(id="supply-own", part="psu", title="the maker's own", money=140, minutes=30, hunted=True, back=20),
)
